"""Before and after the repair, side by side: readings, strengths at held speeds, and observations."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from vibdiag.case.model import GONE, Case, Measurement
from vibdiag.case.strengths import Held
from vibdiag.knowledge.base import RuleBase
from vibdiag.units import to_grams, to_mm, to_newton
from vibdiag.work.road_sheet import result_of, strengths_of

__all__ = [
    "Compared",
    "ComparedAnswer",
    "ComparedStrength",
    "Verdict",
    "compare",
    "compare_answers",
    "compare_strengths",
    "proof_sentences",
]

Verdict = Literal["gone", "better", "same", "worse", "changed", "not repeated", "not known before"]

# A seat level must fall by about a tenth before a person notices (Vibration 2020, 3(2), 116-131: 6.7 to 11 %); a fifth
# of what it was counts as gone (common practice).
_NOTICED, _GONE = 0.11, 0.2
# One passenger's word for a strength repeats within one of eleven steps (common practice).
_REPEATS = 1
# What sets a limit or a place rather than a shake: more or less of it is no improvement.
_NO_LEVEL = ("frequency", "tyre-pressure", "fastener-torque", "tread-depth")


@dataclass(frozen=True)
class Compared:
    """One quantity on one wheel, both in `unit`, before and after the repair; `verdict` in words."""

    quantity: str
    wheel: str
    unit: str
    before: float | None
    after: float | None
    verdict: Verdict


@dataclass(frozen=True)
class ComparedStrength:
    """Strength felt, 0 to 10, at one held speed."""

    held: Held
    before: int | None
    after: int | None
    verdict: Verdict


@dataclass(frozen=True)
class ComparedAnswer:
    """One observation or check; the answers in words."""

    step: str
    title: str
    before: str | None
    after: str | None
    verdict: Verdict


def compare(case: Case) -> tuple[Compared, ...]:
    """Every quantity that has a level, the last reading of it before the repair and the last after.

    The unit is that of the reading before; a reading in another one is converted.
    """
    pairs: dict[tuple[str, str, float | None], dict[str, Measurement]] = {}
    for reading in case.measurements:
        if reading.quantity not in _NO_LEVEL:
            side = "after" if reading.taken == "after" else "before"
            pairs.setdefault((reading.quantity, reading.wheel, reading.speed), {})[side] = reading
    found = []
    for (quantity, wheel, _), both in pairs.items():
        unit = (both.get("before") or both["after"]).unit
        before, after = (_value(both.get(side), unit) for side in ("before", "after"))
        found.append(Compared(quantity, wheel, unit, before, after, _verdict(before, after)))
    return tuple(found)


def _value(reading: Measurement | None, unit: str) -> float | None:
    """The reading in `unit`, another unit of the same quantity."""
    if reading is None or reading.unit == unit:
        return None if reading is None else reading.value
    return reading.value * _size(reading.unit) / _size(unit)


def _size(unit: str) -> float:
    if unit in ("mm", "in", "thou"):
        return to_mm(1.0, unit)
    if unit in ("N", "lbf"):
        return to_newton(1.0, unit)
    return to_grams(1.0, unit)


def _verdict(before: float | None, after: float | None) -> Verdict:
    if before is None:
        return "not known before"
    if after is None:
        return "not repeated"
    size_before, size_after = abs(before), abs(after)
    if size_before == size_after:
        return "same"
    if size_after <= _GONE * size_before:
        return "gone"
    if size_after < (1 - _NOTICED) * size_before:
        return "better"
    return "worse" if size_after > (1 + _NOTICED) * size_before else "same"


def compare_strengths(case: Case) -> tuple[ComparedStrength, ...]:
    """Every held speed at which a strength was noted, slowest first."""
    before, after = strengths_of(case, taken="before"), strengths_of(case, taken="after")
    speeds = sorted({*before, *after}, key=lambda held: held.kmh)
    return tuple(
        ComparedStrength(held, before.get(held), after.get(held), _felt_verdict(before.get(held), after.get(held)))
        for held in speeds
    )


def _felt_verdict(before: int | None, after: int | None) -> Verdict:
    if before is None:
        return "not known before"
    if after is None:
        return "not repeated"
    if after == 0 and before > 0:
        return "gone"
    if abs(after - before) <= _REPEATS:
        return "same"
    return "better" if after < before else "worse"


def compare_answers(case: Case, base: RuleBase) -> tuple[ComparedAnswer, ...]:
    """Every road observation made before, and whatever was observed or checked after, in the order it was made."""
    steps = dict.fromkeys(one.step for one in case.steps if one.taken == "after" or base.steps[one.step].kind == "road")
    found = []
    for step in steps:
        before, after = _answer(case, step, base, "before"), _answer(case, step, base, "after")
        if before is not None or after is not None:
            verdict = _answer_verdict(case, step, before, after)
            found.append(ComparedAnswer(step, base.steps[step].title, before, after, verdict))
    return tuple(found)


def _answer(case: Case, step: str, base: RuleBase, side: Literal["before", "after"]) -> str | None:
    result = result_of(case, step, taken=side)
    if result is None or result.outcome == "unknown":
        return None
    if side == "after" and result.outcome == GONE:
        return "Nothing is felt any more"
    return base.steps[step].outcomes[result.outcome].says


def _answer_verdict(case: Case, step: str, before: str | None, after: str | None) -> Verdict:
    if after is None:
        return "not repeated"
    result = result_of(case, step, taken="after")
    if result is not None and result.outcome == GONE:
        return "gone"
    if before is None:
        return "not known before"
    return "same" if before == after else "changed"


def proof_sentences(case: Case, base: RuleBase) -> Iterator[str]:
    """What was got on both sides of the repair, a sentence each, as a draft of the proof."""
    felt = [one for one in compare_strengths(case) if one.before is not None and one.after is not None]
    if felt:
        told = ", ".join(f"{one.before} before and {one.after} after at {one.held}" for one in felt)
        yield f"Strength felt, of 10: {told}."
    for reading in compare(case):
        if reading.before is not None and reading.after is not None:
            wheel = "" if reading.wheel == "unknown" else f" {reading.wheel}"
            name = reading.quantity.replace("-", " ").capitalize()
            unit = reading.unit
            yield f"{name}{wheel}: {reading.before:.3g} {unit} before, {reading.after:.3g} {unit} after."
    for answer in compare_answers(case, base):
        if answer.after is not None:
            yield f"{answer.title}: {_lower(answer.after)}, repeated after the repair."


def _lower(says: str) -> str:
    return says[:1].lower() + says[1:]
