"""`vibdiag figures`: what the cases of a folder add up to, as text, JSON, CSV or Parquet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from vibdiag.advice.assess import Adviser
from vibdiag.advice.evidence import refuse_unknown_steps
from vibdiag.case.model import Case
from vibdiag.commands.output import fail, input_errors, paragraph, print_json, say
from vibdiag.commands.where import faults_of_case, opened_shelf
from vibdiag.files.errors import InputError
from vibdiag.files.table import Cell, write_csv, write_parquet
from vibdiag.knowledge.base import RuleBase
from vibdiag.work.checks_that_paid import CheckPaid, Weighed, checks_that_paid, weigh
from vibdiag.work.figures import Figures, cause_of, figures_by, figures_of, month_of

__all__ = ["PERIODS", "FiguresRequest", "show_figures"]

PERIODS = ("month", "all")


@dataclass(frozen=True)
class FiguresRequest:
    """What was typed: a folder, or the store when left out; and the files to write."""

    folder: Path | None
    period: str
    csv: Path | None
    parquet: Path | None
    checks: Path | None
    rules: Path | None


def show_figures(request: FiguresRequest, *, as_json: bool) -> None:
    """Print the figures; the tables hold a row for each cause and period, to be added up as wanted."""
    with input_errors():
        if request.period not in PERIODS:
            raise InputError(f"'{request.period}' is no period; --period takes {' or '.join(PERIODS)}")
        with opened_shelf(request.folder, None) as shelf:
            pairs, where = list(shelf.each()), shelf.place
        adviser = Adviser.shipped(request.rules)
        for name, case in pairs:
            with faults_of_case(name):
                refuse_unknown_steps(case, adviser.base)
        cases = weigh([case for _, case in pairs], adviser)
        _write(cases, where, request, adviser.base)
    base = adviser.base
    told = [one.case for one in cases]
    by_month = request.period == "month"
    everything = figures_of(told, base)
    invented = sum(case.invented for case in told)
    if as_json:
        print_json(
            {
                "folder": where,
                "cases": len(cases),
                "invented": invented,
                "all": _data(everything),
                "by_cause": _groups("cause", cause_of, cases, base),
                "by_period": _groups("period", month_of, cases, base) if by_month else [],
                "checks": [asdict(check) for check in checks_that_paid(cases, base)],
            }
        )
        return
    _say_all(everything, invented)
    if by_month:
        _say_groups("month", figures_by(told, month_of, base))
    _say_groups("confirmed cause", figures_by(told, cause_of, base))
    _say_checks(checks_that_paid(cases, base))


def _groups(name: str, key: Callable[[Case], str], cases: Sequence[Weighed], base: RuleBase) -> list[dict[str, object]]:
    """The figures of each group and the checks that paid in it."""
    return [
        {name: group}
        | _data(figures_of([one.case for one in some], base))
        | {"checks": [asdict(check) for check in checks_that_paid(some, base)]}
        for group, some in _parted(cases, key).items()
    ]


def _parted(cases: Sequence[Weighed], key: Callable[[Case], str]) -> dict[str, list[Weighed]]:
    return {
        group: [one for one in cases if key(one.case) == group] for group in sorted({key(one.case) for one in cases})
    }


def _write(cases: Sequence[Weighed], where: str, request: FiguresRequest, base: RuleBase) -> None:
    """The tables that were asked for: figures, and checks that paid, a row for each cause and period."""
    if not cases and (request.csv or request.parquet or request.checks):
        raise InputError("there is no case yet, so there is no table to write", file=where)
    periods = _parted(cases, month_of) if request.period == "month" else {"all": list(cases)}
    groups = [
        (period, cause, some) for period, group in periods.items() for cause, some in _parted(group, cause_of).items()
    ]
    figures: list[dict[str, Cell]] = [
        {"period": period, "cause": cause} | _data(figures_of([one.case for one in some], base))
        for period, cause, some in groups
    ]
    checks: list[dict[str, Cell]] = [
        {"period": period, "cause": cause} | asdict(check)
        for period, cause, some in groups
        for check in checks_that_paid(some, base)
    ]
    tables = [(request.csv, write_csv, figures), (request.parquet, write_parquet, figures)]
    if request.checks is not None:
        if request.checks.suffix not in (".csv", ".parquet"):
            raise InputError("--checks takes a file that ends in .csv or .parquet", file=request.checks)
        if not checks:
            raise InputError("no step was done in any case yet, so there is no table of checks", file=where)
        tables.append((request.checks, write_csv if request.checks.suffix == ".csv" else write_parquet, checks))
    for target, write, rows in tables:
        if target is None:
            continue
        try:
            write(target, rows)
        except OSError as error:
            fail(f"{target} cannot be written: {error.strerror or error}")


def _data(figures: Figures) -> dict[str, Any]:
    return asdict(figures) | {
        "comeback_rate": figures.comeback_rate,
        "minutes_a_closed_case": figures.minutes_a_closed_case,
        "wrong_repairs_a_closed_case": figures.wrong_repairs_a_closed_case,
    }


def _share(value: float | None) -> str:
    return "-" if value is None else f"{value:.0%}"


def _number(value: float | None, digits: int = 1) -> str:
    return "-" if value is None else f"{value:.{digits}f}"


def _say_all(figures: Figures, invented: int) -> None:
    some = f", {invented} of them invented" if invented else ""
    plural = "s" if figures.cases != 1 else ""
    say(f"{figures.cases} case{plural}{some}; {figures.closed} closed, {figures.proven} proven")
    came = f"{figures.came_back} of {figures.mended} that were mended"
    say(f"{'came back':28}{_share(figures.comeback_rate):>8}   {came}")
    say(f"{'minutes a closed case':28}{_number(figures.minutes_a_closed_case, 0):>8}   {figures.minutes:.0f} in all")
    wrong = f"{figures.wrong_repairs} in all, in {figures.with_wrong_repairs} cases"
    say(f"{'wrong repairs before right':28}{_number(figures.wrong_repairs_a_closed_case):>8}   {wrong}")


def _say_groups(heading: str, groups: dict[str, Figures]) -> None:
    say()
    say(f"{heading:28}{'cases':>6}{'closed':>8}{'came back':>11}{'minutes':>9}{'wrong':>7}")
    for name, one in groups.items():
        say(
            f"{name:28}{one.cases:6}{one.closed:8}{_share(one.comeback_rate):>11}"
            f"{_number(one.minutes_a_closed_case, 0):>9}{_number(one.wrong_repairs_a_closed_case):>7}"
        )
    say("minutes and wrong repairs: for each closed case")


def _say_checks(checks: tuple[CheckPaid, ...]) -> None:
    if not checks:
        return
    say()
    say(f"{'questions and checks that paid':32}{'done':>6}{'weighed':>9}{'moved up':>10}{'decibans':>10}{'min':>6}")
    for check in checks:
        mean = "-" if check.mean_decibans is None else f"{check.mean_decibans:+.1f}"
        say(f"{check.step[:31]:32}{check.done:6}{check.weighed:9}{check.moved_up:10}{mean:>10}{check.minutes:6g}")
    say(
        paragraph(
            "weighed: answered, in a closed case; moved up: towards the cause that was confirmed; decibans: mean gain "
            "when it was done; min: minutes of one time, by the rule base. Most decibans a minute first."
        )
    )
