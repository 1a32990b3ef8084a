"""`vibdiag rank`."""

from __future__ import annotations

from pathlib import Path

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.next_step import Shop
from vibdiag.commands.assessment_json import assessment_data
from vibdiag.commands.assessment_text import assessment_lines
from vibdiag.commands.output import input_errors, print_json, say
from vibdiag.commands.where import case_at, faults_of_case
from vibdiag.files.errors import InputError

__all__ = ["rank_cases"]

_PEOPLE = ("desk", "road", "bay")


def _shop(adviser: Adviser, who: list[str] | None, without: list[str] | None) -> Shop:
    for person in who or ():
        if person not in _PEOPLE:
            raise InputError(f"'{person}' is nobody here; --who takes desk, road or bay")
    every = {tool for step in adviser.base.steps.values() for tool in step.tools}
    for tool in without or ():
        if tool not in every:
            raise InputError(f"no step uses '{tool}'; --without takes one of: {', '.join(sorted(every))}")
    return Shop(frozenset(who) if who else None, frozenset(every - set(without)) if without else None)


def _assess(adviser: Adviser, path: Path, shop: Shop, steps: int) -> Assessment:
    case, _ = case_at(path)
    with faults_of_case(path):
        return adviser.assess(case, shop=shop, steps=steps)


def rank_cases(
    paths: list[Path],
    *,
    who: list[str] | None,
    without: list[str] | None,
    steps: int,
    reasons: int,
    rules: Path | None,
    as_json: bool,
) -> None:
    """Print the assessment of each case; one JSON object for one case, a list for several."""
    with input_errors():
        adviser = Adviser.shipped(rules)
        shop = _shop(adviser, who, without)
        assessments = [_assess(adviser, path, shop, steps) for path in paths]
    if as_json:
        data = [assessment_data(assessment) for assessment in assessments]
        print_json(data[0] if len(data) == 1 else data)
        return
    for place, assessment in enumerate(assessments):
        if place:
            say()
            say("-" * 40)
            say()
        for line in assessment_lines(assessment, reasons=reasons):
            say(line)
