"""The lines of the road sheet, and what stands beside the one in hand. Text only; the sheet moves and saves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from vibdiag.advice.next_step import StepAdvice
from vibdiag.advice.road_plan import RoadPlan
from vibdiag.case.model import GONE, Attachment, Case
from vibdiag.case.strengths import STRONGEST, Held
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.causes_panel import meter, percent
from vibdiag.screen.units_view import UnitChoice
from vibdiag.work.road_sheet import Side, note_of, result_of, strengths_of

__all__ = ["GONE_DIGIT", "Line", "detail", "headline", "lines_of"]

# After the repair this digit answers any observation with: nothing is felt any more.
GONE_DIGIT = 9


@dataclass(frozen=True)
class Line:
    """One line of the sheet: a heading, a speed to hold, a step to answer, or a recording."""

    id: str
    heading: str = ""
    held: Held | None = None
    step: StepText | None = None
    advice: StepAdvice | None = None
    attachment: Attachment | None = None


@dataclass(frozen=True)
class Sight:
    """What the sheet looks at: the case on one side of the repair, in the chosen units."""

    case: Case
    taken: Side
    units: UnitChoice
    is_there: Callable[[str], bool]
    short: dict[str, str] = field(default_factory=dict)


def lines_of(plan: RoadPlan, case: Case, *, taken: Side) -> list[Line]:
    """Every line in order. Checks come before the car moves; what pays first is on top of the observations."""
    lines: list[Line] = []
    if plan.checks:
        lines.append(Line("checks", "BEFORE THE CAR MOVES"))
        lines += [Line(f"step {step.id}", step=step) for step in plan.checks]
    noted = [held for held in strengths_of(case, taken=taken) if held not in plan.hold]
    held_speeds = sorted({*plan.hold, *noted}, key=lambda held: held.kmh)
    lines.append(Line("speeds", "HOLD, as far as the law allows; note the strength"))
    lines += [Line(f"held {held}", held=held) for held in held_speeds]
    lines.append(Line("observe", "OBSERVE AGAIN" if taken == "after" else "OBSERVE, what tells most per minute first"))
    lines += [Line(f"step {item.step.id}", step=item.step, advice=item.advice) for item in plan.observations]
    if case.attachments:
        lines.append(Line("files", "RECORDINGS"))
        lines += [Line(f"file {one.path}", attachment=one) for one in case.attachments]
    return lines


def headline(line: Line, sight: Sight) -> str:
    """The one line in the list."""
    if line.held is not None:
        return _speed_line(line.held, sight)
    if line.step is not None:
        return f"{_mark(line.step, sight)} {line.step.title}{_answer(line.step, sight)}"
    if line.attachment is not None:
        one = line.attachment
        gone = "" if sight.is_there(one.path) else "! not there any more: "
        return f"  {gone}{one.path}   {one.sensor_place.replace('-', ' ')}, {one.taken} the repair"
    return line.heading


def _speed_line(held: Held, sight: Sight) -> str:
    shown = sight.units.show_speed(held.speed, held.unit)
    strength = strengths_of(sight.case, taken=sight.taken).get(held)
    felt = "" if strength is None else f"{strength:2} of {STRONGEST}  {meter(strength / STRONGEST, 10)}"
    before = strengths_of(sight.case, taken="before").get(held) if sight.taken == "after" else None
    was = "" if before is None else f"  was {before}"
    return f"{'[ ]' if strength is None else '[x]'} {shown:10} {felt:18}{was}".rstrip()


def _mark(step: StepText, sight: Sight) -> str:
    result = result_of(sight.case, step.id, taken=sight.taken)
    if result is None:
        return "[ ]"
    return "[?]" if result.outcome == "unknown" else "[x]"


def _says(step: StepText, outcome: str) -> str:
    if outcome in step.outcomes:
        return step.outcomes[outcome].says
    return "Nothing is felt any more" if outcome == GONE else "could not tell"


def _answer(step: StepText, sight: Sight) -> str:
    result = result_of(sight.case, step.id, taken=sight.taken)
    if result is not None:
        if result.outcome == "unknown" and result.words:
            return ": noted, not answered yet"
        return f": {_says(step, result.outcome)}"
    before = result_of(sight.case, step.id, taken="before") if sight.taken == "after" else None
    if before is not None and before.outcome != "unknown":
        return f"   was: {_says(step, before.outcome)}"
    return f"   {step.minutes:g} min"


def detail(line: Line, sight: Sight, holding: StepText | None) -> Iterator[str]:
    """What stands beside the line in hand: the answers, the caution, why, and how."""
    if line.held is not None:
        yield f"HOLD {sight.units.show_speed(line.held.speed, line.held.unit)} for 20 seconds"
        yield ""
        yield f" 0-9  strength felt, 0 is not at all; 1 and then 0 is {STRONGEST}"
        yield " n    a note, word for word"
        if holding is not None:
            yield from _note(holding, sight)
            yield from _how(holding)
    elif line.step is not None:
        yield f"{line.step.title.upper()}   {line.step.minutes:g} min"
        yield ""
        yield from _outcomes(line.step, line.advice, sight)
        yield from _note(line.step, sight)
        yield from _how(line.step)
    elif line.attachment is not None:
        yield f"Recording: {line.attachment.path}"
        yield ""
        if not sight.is_there(line.attachment.path):
            yield "! There is no file at this path any more. Copy it back, or take it out (Delete) and attach it anew."
            yield ""
        yield "Delete takes it out of the case; the file itself stays."


def _outcomes(step: StepText, advice: StepAdvice | None, sight: Sight) -> Iterator[str]:
    result = result_of(sight.case, step.id, taken=sight.taken)
    chosen = result.outcome if result else None
    former = result_of(sight.case, step.id, taken="before") if sight.taken == "after" else None
    leaves = {outcome.word: outcome.leaves for outcome in advice.outcomes} if advice and chosen is None else {}
    for number, (word, text) in enumerate(step.outcomes.items(), 1):
        mark = " <- answered so" if chosen == word else ""
        mark += " <- was so before" if former is not None and former.outcome == word else ""
        lead = leaves.get(word)
        leads = f"   -> {sight.short[lead[0][0]]} {percent(lead[0][1])}" if lead else ""
        yield f" [{number}] {text.says}{mark}{leads}"
    if sight.taken == "after" and step.kind == "road":
        yield f" [{GONE_DIGIT}] Nothing is felt any more{' <- answered so' if chosen == GONE else ''}"
    yield f" [0] Could not tell{' <- answered so' if chosen == 'unknown' else ''}"


def _note(step: StepText, sight: Sight) -> Iterator[str]:
    note = note_of(sight.case, step.id, taken=sight.taken)
    if note:
        yield ""
        yield f"Note: “{note}”"


def _how(step: StepText) -> Iterator[str]:
    yield ""
    yield f"! CAUTION: {step.caution}"
    yield ""
    yield f"Why: {step.why}"
    yield ""
    yield from (f"{number}. {text}" for number, text in enumerate(step.steps, 1))
