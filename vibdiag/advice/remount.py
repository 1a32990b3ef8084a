"""Does a balance reading follow the wheel when it is mounted again? Judged from the intervals, for each plane.

What differs by more than 5 g in either plane does not repeat (common practice; 14 g on heavy assemblies, which the
form does not tell). Mounted again at one angle of the shaft, a clamp that is always off in one way repeats its error:
then a difference shows, but sameness proves nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from vibdiag.advice.measured import are_apart
from vibdiag.case.model import BalanceReading, Case
from vibdiag.case.vocabulary import Wheel
from vibdiag.measure import NORMAL_95, Limit, UncertainVector, WheelOrMounting, judge, weight, wheel_or_mounting
from vibdiag.rotation import Polar
from vibdiag.units import to_grams

__all__ = ["Remount", "display_step_g", "remount_word", "remounts", "shown_in"]

Plane = Literal["inner", "outer"]
RemountWord = Literal["repeats", "differs"]

_CHANGE: Final = Limit(5.0, 5.0, "g", "common practice")
_USUAL_STEP: Final = {"g": 5.0, "oz": 0.25}


@dataclass(frozen=True, slots=True)
class Remount:
    """One wheel in one plane. found: wheel and mounting apart, None where the turns on the shaft were not noted.

    word: None where the readings cannot tell.
    """

    wheel: Wheel
    plane: Plane
    found: WheelOrMounting | None
    word: RemountWord | None


def display_step_g(case: Case, reading: BalanceReading) -> float:
    """Smallest step of the display in g: of the reading, else of the case, else 5 g or 1/4 oz (common practice)."""
    if reading.display_step is None and case.history.balance.display_step_g is not None:
        return case.history.balance.display_step_g
    return to_grams(reading.display_step or _USUAL_STEP[reading.unit], reading.unit)


def shown_in(reading: BalanceReading, plane: Plane) -> Polar | None:
    """The weight shown in a plane, g; None where none was noted."""
    amount = reading.inner_amount if plane == "inner" else reading.outer_amount
    angle = reading.inner_deg if plane == "inner" else reading.outer_deg
    return None if amount is None else weight(amount, angle or 0.0, unit=reading.unit)


def remounts(case: Case, *, after: bool = False) -> tuple[Remount, ...]:
    """Every wheel and plane with two readings or more."""
    by_wheel: dict[Wheel, list[BalanceReading]] = {}
    for reading in case.balance_readings:
        if (reading.taken == "after") == after:
            by_wheel.setdefault(reading.wheel, []).append(reading)
    found = []
    planes: tuple[Plane, ...] = ("inner", "outer")
    for (wheel, readings), plane in itertools.product(by_wheel.items(), planes):
        shown = [(each, vector) for each in readings if (vector := shown_in(each, plane)) is not None]
        if len(shown) > 1:
            step = max(display_step_g(case, each) for each, _ in shown)
            found.append(_judged(wheel, plane, [(each.shaft_deg, vector) for each, vector in shown], step))
    return tuple(found)


def remount_word(found: Sequence[Remount]) -> RemountWord | None:
    """differs where any plane differs, repeats where all repeat."""
    words = {each.word for each in found}
    if "differs" in words:
        return "differs"
    return "repeats" if words == {"repeats"} else None


def _judged(wheel: Wheel, plane: Plane, shown: Sequence[tuple[float | None, Polar]], step_g: float) -> Remount:
    error = step_g / math.sqrt(12.0)
    vectors = [UncertainVector.even(vector, error) for _, vector in shown]
    differs = any(
        judge((one - other).amount, _CHANGE).sign == "over" for one, other in itertools.combinations(vectors, 2)
    )
    turned = [(angle, vector) for angle, vector in shown if angle is not None]
    if len(turned) < len(shown) or not are_apart(angle for angle, _ in turned):
        return Remount(wheel, plane, None, "differs" if differs else None)
    # Two mountings with standard deviation s differ by less than 1.96 * sqrt(2) * s in 95 % of cases.
    scatter = _CHANGE.strict / (NORMAL_95 * math.sqrt(2.0))
    found = wheel_or_mounting(turned, display_step=step_g, repeats_within=scatter)
    change = judge(found.mounting.amount.scale(2.0), _CHANGE)  # what half a turn on the shaft makes of it
    if differs or "over" in (change.sign, found.repeats.sign):
        return Remount(wheel, plane, found, "differs")
    return Remount(wheel, plane, found, "repeats" if change.sign == "within" else None)
