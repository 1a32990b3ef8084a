"""What the proof sheet says at each stage. Text only; the sheet chooses, records and saves."""

from __future__ import annotations

from collections.abc import Iterator

from vibdiag.advice.assess import Assessment
from vibdiag.advice.next_step import RepairAdvice
from vibdiag.case.model import Case, Repair
from vibdiag.case.vocabulary import RepairEffect
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.causes_panel import cause_line, percent
from vibdiag.screen.units_view import UnitChoice
from vibdiag.work.before_after import Verdict, compare, compare_answers, compare_strengths
from vibdiag.work.phrases import EFFECT_WORDS
from vibdiag.work.proof import repair_kind
from vibdiag.work.shelf import DUE_NAMES

__all__ = ["EFFECTS", "closed_lines", "moved_lines", "proof_lines", "repair_headline", "repair_lines"]

EFFECTS: tuple[RepairEffect, ...] = ("cured", "partly", "none", "worse")
_POINT = 0.01
_SIGN: dict[Verdict, str] = {"same": "= ", "better": "▼ ", "worse": "▲ ", "gone": "0 "}


def repair_headline(advice: RepairAdvice, base: RuleBase, *, first: bool) -> str:
    """One repair in one line."""
    leads = "   the likeliest" if first else ""
    return f"{base.causes[advice.cause].short:28} {percent(advice.probability):>5} {advice.minutes:5g} min{leads}"


def repair_lines(advice: RepairAdvice, base: RuleBase) -> Iterator[str]:
    """What a repair is, what must change by it, and its caution."""
    yield f"{base.causes[advice.cause].name}   {percent(advice.probability)}, about {advice.minutes:g} min"
    yield ""
    yield f"DO  {advice.does}"
    yield ""
    yield f"! CAUTION: {advice.caution}"
    yield ""
    yield f"MUST CHANGE  {advice.proof}"


def _done(repair: Repair) -> str:
    when = f", {repair.at:%d %b}" if repair.at else ""
    who = f" by {repair.by}" if repair.by else ""
    note = f": {repair.note}" if repair.note else ""
    return f"{repair.what.replace('-', ' ')}{who}{when}{note}"


def proof_lines(case: Case, assessment: Assessment, base: RuleBase, units: UnitChoice) -> Iterator[str]:
    """The repair, what must change by it, and both sides of it beside each other."""
    if not case.history.repairs:
        yield "No repair is recorded. Key a: choose one."
        return
    last = case.history.repairs[-1]
    yield f"DONE  {_done(last)}"
    yield f"EFFECT  {EFFECT_WORDS[last.effect]}"
    yield "        1 cured  2 partly  3 none  4 worse   first: r, the same road again"
    if last.effect == "cured" and not _repeated(case, base):
        yield "! Nothing was driven or measured again: without the same road test 'cured' is an opinion."
    yield ""
    cause = next((one.id for one in assessment.causes if repair_kind(one.id) == last.what), None)
    if cause is not None:
        yield f"MUST CHANGE  {base.causes[cause].repair.proof}"
        yield f"! CAUTION: {base.causes[cause].repair.caution}"
        yield ""
    yield f"{'BEFORE AND AFTER':36} {'before':>10} {'after':>10}"
    rows = list(_rows(case, base, units))
    yield from rows or ["  Nothing was noted before. Key r still opens the road sheet for the complaint's own speeds."]


def _repeated(case: Case, base: RuleBase) -> bool:
    """Whether anything was got after the repair."""
    felt = any(one.after is not None for one in compare_strengths(case))
    measured = any(one.after is not None for one in compare(case))
    return felt or measured or any(one.after is not None for one in compare_answers(case, base))


def _rows(case: Case, base: RuleBase, units: UnitChoice) -> Iterator[str]:
    for felt in compare_strengths(case):
        name = f"felt at {units.show_speed(felt.held.speed, felt.held.unit)}, of 10"
        yield _row(name, _number(felt.before), _number(felt.after), felt.verdict)
    for reading in compare(case):
        wheel = "" if reading.wheel == "unknown" else f", {reading.wheel.replace('-', ' ')}"
        before, after = (
            "-" if value is None else units.show(value, reading.unit) for value in (reading.before, reading.after)
        )
        yield _row(f"{reading.quantity.replace('-', ' ')}{wheel}", before, after, reading.verdict)
    for answer in compare_answers(case, base):
        yield f"  {answer.title:56.56}   {_SIGN.get(answer.verdict, '  ')}{answer.verdict}"
        if answer.before is not None:
            yield f"      before: {answer.before}"
        if answer.after is not None:
            yield f"      after:  {answer.after}"


def _number(value: int | None) -> str:
    return "-" if value is None else str(value)


def _row(name: str, before: str, after: str, verdict: Verdict) -> str:
    return f"  {name:34} {before:>10} {after:>10}   {_SIGN.get(verdict, '  ')}{verdict}"


def moved_lines(now: Assessment, before: Assessment) -> Iterator[str]:
    """What the last thing recorded did to the ranking."""
    yield "WHAT THIS DID TO THE RANKING"
    was = {cause.id: cause.probability for cause in before.causes}
    if now.findings.evidence == before.findings.evidence:
        yield "  = Nothing: it was known already, or the rule base weighs no such work."
    elif all(abs(cause.probability - was.get(cause.id, 0.0)) < _POINT for cause in now.causes):
        yield "  = Less than a point: it is weighed, and everything else known outweighs it."
    for place, cause in enumerate(now.causes[:4], 1):
        yield f"  {cause_line(place, cause, was.get(cause.id), cells=10)}"


def closed_lines(case: Case, base: RuleBase) -> Iterator[str]:
    """How the case ended and what is still due."""
    outcome = case.outcome
    if outcome is None:
        return
    where = ", ".join(
        part.replace("-", " ") for part in (outcome.axle, outcome.wheel) if part not in ("unknown", "none")
    )
    yield f"CLOSED  {base.causes[outcome.confirmed_cause].name}{f'   {where}' if where else ''}"
    if outcome.place:
        yield f"Where: {outcome.place}"
    by = f" by {outcome.by}" if outcome.by else ""
    if outcome.at:
        yield f"On {outcome.at:%d %b %Y}{by}"
    yield ""
    yield f"PROOF  {outcome.proof or '! none was written down'}"
    if case.history.repairs:
        yield ""
        yield f"DONE  {_done(case.history.repairs[-1])}"
    if case.follow_ups:
        yield ""
        yield "AFTERWARDS"
    for item in case.follow_ups:
        state = "done" if item.done else f"due {item.due:%d %b %Y}"
        yield f"  {DUE_NAMES[item.what]}: {state}{f'   {item.note}' if item.note else ''}"
    yield ""
    yield "It came back, or was something else? Key o reopens the case with what was learned."
