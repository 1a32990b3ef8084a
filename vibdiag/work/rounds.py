"""Rounds of readings in a case: what each says, what moving the wheel on its studs tells, and putting one in place.

One round is in force for each place, wheel, position on the studs and side of the repair; the former stays in the undo.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from vibdiag.advice.measured import HalfTurn, half_turns, judge_set, sign_of
from vibdiag.advice.remount import remount_word, remounts
from vibdiag.case.model import BalanceReading, Case, ReadingSet
from vibdiag.case.vocabulary import ReadOn, Wheel
from vibdiag.measure import HarmonicFit, Runout, Sign, ThicknessVariation, UncertainVector, clock_text
from vibdiag.rotation import Interval

__all__ = [
    "RoundSeen",
    "balance_words",
    "high_words",
    "name_of",
    "round_at",
    "see_round",
    "stands_at",
    "turned_on_studs",
    "with_round",
    "without_round",
]

Turning = Literal["clockwise", "counter-clockwise"]


@dataclass(frozen=True)
class RoundSeen:
    """What one round says. unit: of `total`, `at_least`, `first` and the fit. total: maximum less minimum, 95 %; None
    from readings that only give a lower bound. first: amount (half its own total reading) and place of the first
    harmonic, None where nothing may rest on it; first_is: what it means here. because: sentences, the verdict's first.
    turning: how the part turns for whoever looks at it from outside the car.
    """

    one: ReadingSet
    unit: Literal["mm", "N"]
    fit: HarmonicFit
    total: Interval | None
    at_least: float
    first: UncertainVector | None
    first_is: str
    sign: Sign
    because: tuple[str, ...]
    turning: Turning


def see_round(one: ReadingSet) -> RoundSeen:
    """Fit and judge a round as the ranking does; raises ValueError for readings that cannot be fitted."""
    return _seen(one.model_dump_json())


@lru_cache(maxsize=256)  # a fit takes about a millisecond, and a trail of many rounds is drawn after every answer
def _seen(round_json: str) -> RoundSeen:
    one = ReadingSet.model_validate_json(round_json)
    judged = judge_set(one)
    fit = judged.fit
    first_is = judged.first_is if isinstance(judged, Runout) else "1x wheel"
    if isinstance(judged, Runout):
        # What it says of the first harmonic by name is told from `first`, in the unit of whoever reads it.
        because = tuple(says for says in judged.says if not (fit.trusted and says.startswith(f"{first_is} ")))
    elif isinstance(judged, ThicknessVariation):
        because = (judged.judgement.because, f"Thinnest reading {judged.thinnest_mm:.3f} mm.")
    else:
        because = (judged.total.because, judged.first.because)
    left = one.wheel in ("front-left", "rear-left")
    return RoundSeen(
        one,
        "N" if one.unit == "N" else "mm",
        fit,
        judged.reading.total,
        judged.reading.at_least,
        fit.first.vector if fit.first is not None and fit.trusted else None,
        first_is,
        sign_of(judged),
        tuple(dict.fromkeys(because)),
        "counter-clockwise" if left else "clockwise",
    )


def high_words(vector: UncertainVector, turning: Turning) -> str:
    """Where a first harmonic is highest: the clock with the stem (or mark) at twelve, and degrees as it turns."""
    error = vector.angle_plus_minus_deg
    if error is None:
        return "too small to say where its high point is"
    angle = round(vector.value.angle_deg) % 360
    return f"high point near {clock_text(angle, turning=turning)} ({angle} degrees, give or take {error:.0f})"


def name_of(one: ReadingSet) -> str:
    """What was read, at which wheel, and how far it was moved on its studs."""
    words = one.what.replace("-", " ")
    if one.wheel != "unknown":
        words += f" {one.wheel.replace('-', ' ')}"
    return words + (f", moved by {one.moved_deg:g} degrees" if one.moved_deg % 360.0 else "")


def stands_at(one: ReadingSet, what: ReadOn, wheel: Wheel, moved_deg: float, *, after: bool) -> bool:
    """Whether a round is that of a place, wheel, position on the studs (a full turn is none) and side of repair."""
    turn = (one.moved_deg - moved_deg + 180.0) % 360.0 - 180.0
    return one.what == what and one.wheel == wheel and abs(turn) < 0.001 and (one.taken == "after") == after


def round_at(case: Case, what: ReadOn, wheel: Wheel, moved_deg: float, *, after: bool = False) -> ReadingSet | None:
    """The round in force there; None where there is none."""
    found = (one for one in reversed(case.readings) if stands_at(one, what, wheel, moved_deg, after=after))
    return next(found, None)


def without_round(case: Case, what: ReadOn, wheel: Wheel, moved_deg: float, *, after: bool = False) -> Case:
    """The case without any round of that place, wheel, position and side of the repair."""
    kept = [one for one in case.readings if not stands_at(one, what, wheel, moved_deg, after=after)]
    return case.model_copy(update={"readings": kept})


def with_round(case: Case, one: ReadingSet) -> Case:
    """The case with `one` in place of any former round of its place, wheel, position and side of the repair."""
    others = without_round(case, one.what, one.wheel, one.moved_deg, after=one.taken == "after")
    return others.model_copy(update={"readings": [*others.readings, one]})


def turned_on_studs(case: Case, one: ReadingSet) -> HalfTurn | None:
    """Hub or wheel from `one` and the rounds of the same place and wheel that `case` has at other positions.

    None where there is no other position far enough off, or readings that nothing may rest on.
    """
    same = [each for each in case.readings if (each.what, each.wheel) == (one.what, one.wheel)]
    found = half_turns(with_round(case.model_copy(update={"readings": same}), one), after=one.taken == "after")
    return found[0] if found else None


def balance_words(case: Case, reading: BalanceReading) -> str:
    """What a balance reading asked for in each plane, and whether it followed the wheel when mounted again."""
    planes = (("inner", reading.inner_amount, reading.inner_deg), ("outer", reading.outer_amount, reading.outer_deg))
    asked = [
        f"{plane} {amount:g} {reading.unit}" + (f" at {angle:g}" if amount and angle is not None else "")
        for plane, amount, angle in planes
        if amount is not None
    ]
    return f"{', '.join(asked)}: {_mounted_again(case, reading)}"


def _mounted_again(case: Case, reading: BalanceReading) -> str:
    found = [each for each in remounts(case, after=reading.taken == "after") if each.wheel == reading.wheel]
    if not found:
        return "mounted once"
    word = remount_word(found)
    return f"{word} when mounted again" if word else "cannot tell whether it repeats"
