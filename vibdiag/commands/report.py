"""`vibdiag report`: the case on paper, for the customer, the technician or the file."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from markupsafe import Markup

from vibdiag.advice.assess import Adviser
from vibdiag.commands.output import fail, input_errors, print_json, say
from vibdiag.commands.where import case_at
from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError
from vibdiag.knowledge.check import count
from vibdiag.report.content import CaseReport, gather
from vibdiag.report.pages import render

__all__ = ["KINDS", "report_html", "write_report"]

KINDS = ("customer", "technician", "file")
_TITLES = {"customer": "Your car's shake", "technician": "Worksheet", "file": "Case record"}


def report_html(content: CaseReport, kind: str, adviser: Adviser) -> str:
    """The report as one self-contained HTML page."""
    numbers = asdict(count(adviser.base))
    counts = ", ".join(f"{number} {what.replace('_', ' ')}" for what, number in numbers.items())
    title = f"{_TITLES[kind]}: {content.case.title or content.case.id}"
    # The pictures are made by our own code from escaped text; everything else is escaped by the template.
    return render(
        kind,
        title=title,
        r=content,
        counts=counts,
        ranking_svg=Markup(content.ranking_svg),  # noqa: S704
        compared_svg=Markup(content.compared_svg),  # noqa: S704
        orders_svg=Markup(content.orders_svg),  # noqa: S704
        over_speed_svg=Markup(content.over_speed_svg),  # noqa: S704
    )


def write_report(path: Path, *, kind: str, html: Path | None, rules: Path | None, as_json: bool) -> None:
    """Write the report, beside the case when no file is named."""
    with input_errors():
        if kind not in KINDS:
            raise InputError(f"'{kind}' is no report; --for takes {', '.join(KINDS)}")
        adviser = Adviser.shipped(rules)
        case, beside = case_at(path)
        content = gather(case, adviser)
        page = report_html(content, kind, adviser)
    stem = beside.stem if beside.suffix in (".yaml", ".yml") else beside.name
    target = html or beside.with_name(f"{stem}-{kind}.html")
    try:
        write_atomically(target, page)
    except OSError as error:
        fail(f"{target} cannot be written: {error.strerror}")
    if as_json:
        print_json({"written": str(target), "kind": kind, "case": content.case.id})
    else:
        say(f"written: {target}")
