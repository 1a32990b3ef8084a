"""What the reports say, gathered once: for the customer, for the technician, for the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.next_step import Shop, StepAdvice, next_steps
from vibdiag.advice.replay import stages
from vibdiag.case.model import GONE, Case, StepResult
from vibdiag.knowledge.forms import StepText
from vibdiag.report.order_pairs import OrderPair, order_pairs
from vibdiag.report.order_plots import order_bars, order_over_speed
from vibdiag.report.plots import Line, bars_before_after, lines_over_stages
from vibdiag.report.round_rows import RoundRow, round_row
from vibdiag.work.before_after import Compared, compare

__all__ = ["Answer", "CaseReport", "StageRow", "gather"]

_LINES_SHOWN = 4
_CHECKS_SHOWN = 8
_ORDERS_SHOWN = 6


@dataclass(frozen=True)
class Answer:
    """A step with its result, in words."""

    step: StepText
    result: StepResult
    says: str


@dataclass(frozen=True)
class StageRow:
    """One stage of the case: what it was and how probable the first causes were then, in the order of `names`."""

    heading: str
    chances: tuple[float, ...]


@dataclass(frozen=True)
class CaseReport:
    """Everything a report template needs; pictures are empty where there is nothing to draw."""

    case: Case
    assessment: Assessment
    felt: tuple[Answer, ...]
    found: tuple[Answer, ...]
    everything: tuple[Answer, ...]
    compared: tuple[Compared, ...]
    compared_svg: str
    orders: tuple[OrderPair, ...]
    orders_svg: str
    over_speed_svg: str
    names: tuple[str, ...]
    over_time: tuple[StageRow, ...]
    ranking_svg: str
    checks: tuple[StepAdvice, ...]
    cause_name: str | None
    cautions: tuple[str, ...]
    rounds: tuple[RoundRow, ...]


def _answers(case: Case, adviser: Adviser, kinds: Sequence[str]) -> tuple[Answer, ...]:
    found = []
    for result in case.steps:
        step = adviser.base.steps[result.step]
        if step.kind in kinds:
            found.append(Answer(step, result, _says(step, result.outcome)))
    return tuple(found)


def _says(step: StepText, outcome: str) -> str:
    if outcome in step.outcomes:
        return step.outcomes[outcome].says
    return "Gone" if outcome == GONE else "Could not be told"


def gather(case: Case, adviser: Adviser) -> CaseReport:
    """The content of every report of `case`; raises InputError when the case cannot be assessed."""
    assessment = adviser.assess(case, steps=_CHECKS_SHOWN)
    played = [(stage.heading, adviser.believe(stage.case)[1].by_cause()) for stage in stages(case, adviser.base)]
    leading = [cause.id for cause in assessment.causes[:_LINES_SHOWN]]
    names = tuple(adviser.base.causes[cause].short for cause in leading)
    lines = [
        Line(name, tuple(chances[cause] for _, chances in played)) for name, cause in zip(names, leading, strict=True)
    ]
    rows = tuple(StageRow(heading, tuple(chances[cause] for cause in leading)) for heading, chances in played)
    svg = lines_over_stages(lines, [row.heading for row in rows], title="Ranking over time") if len(rows) > 1 else ""
    compared = compare(case)
    pairs = [(_compared_name(one), one.before, one.after, one.unit) for one in compared]
    orders = order_pairs(case)[:_ORDERS_SHOWN]
    sized = [pair for pair in orders if not pair.unit_doubt]
    checks = next_steps(
        assessment.belief,
        assessment.findings,
        assessment.dangers,
        adviser.base,
        shop=Shop(who=frozenset({"bay"})),
        count=_CHECKS_SHOWN,
        still=assessment.stands_still,
    )
    outcome = case.outcome
    cautions = [danger.says for danger in assessment.dangers if danger.status == "open" and outcome is None]
    return CaseReport(
        case,
        assessment,
        tuple(answer for answer in _answers(case, adviser, ("question",)) if answer.result.outcome != "unknown"),
        tuple(answer for answer in _answers(case, adviser, ("road", "check")) if answer.result.outcome != "unknown"),
        _answers(case, adviser, ("question", "road", "check")),
        compared,
        bars_before_after(pairs, title="Before and after the repair") if pairs else "",
        orders,
        order_bars(sized, title="Orders before and after the repair") if sized else "",
        order_over_speed(orders[0], title=f"{orders[0].order} over speed")
        if orders and not orders[0].unit_doubt
        else "",
        names,
        rows,
        svg,
        tuple(advice for advice in checks if advice.step.kind == "check"),
        adviser.base.causes[outcome.confirmed_cause].name if outcome is not None else None,
        tuple(cautions),
        tuple(round_row(one) for one in case.readings),
    )


def _compared_name(one: Compared) -> str:
    wheel = "" if one.wheel == "unknown" else f", {one.wheel.replace('-', ' ')}"
    return f"{one.quantity.replace('-', ' ')}{wheel}"
