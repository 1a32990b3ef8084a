"""Readings in a case: the one in force for a quantity and wheel, and putting another in its place.

One reading is in force for each quantity, wheel and side of the repair, so that a slip of the pen can be put right; the
former stays in the undo.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from vibdiag.case.model import Case, Measurement
from vibdiag.case.vocabulary import Quantity, Unit, Wheel
from vibdiag.work.desk import now

__all__ = ["WHEELS", "reading_of", "readings_at", "with_reading", "with_wheel_values", "without_reading"]

WHEELS: tuple[Wheel, ...] = tuple(wheel for wheel in get_args(Wheel) if wheel != "unknown")


def _stands_for(one: Measurement, quantity: Quantity, wheel: Wheel, *, after: bool) -> bool:
    return one.quantity == quantity and one.wheel == wheel and (one.taken == "after") == after


def reading_of(case: Case, quantity: Quantity, wheel: Wheel, *, after: bool = False) -> Measurement | None:
    """The last reading of a quantity at a wheel, before the repair or after it; None where there is none."""
    found = (one for one in reversed(case.measurements) if _stands_for(one, quantity, wheel, after=after))
    return next(found, None)


def readings_at(case: Case, quantity: Quantity) -> dict[Wheel, tuple[Measurement | None, Measurement | None]]:
    """For each wheel, and `unknown` for what has none: the reading before and the one after the repair."""
    return {
        wheel: (reading_of(case, quantity, wheel), reading_of(case, quantity, wheel, after=True))
        for wheel in (*WHEELS, "unknown")
    }


def without_reading(case: Case, quantity: Quantity, wheel: Wheel, *, after: bool = False) -> Case:
    """The case without any reading of that quantity, wheel and side of the repair."""
    kept = [one for one in case.measurements if not _stands_for(one, quantity, wheel, after=after)]
    return case.model_copy(update={"measurements": kept})


def with_reading(case: Case, reading: Measurement) -> Case:
    """The case with `reading` in place of any former one of its quantity, wheel and side of the repair."""
    others = without_reading(case, reading.quantity, reading.wheel, after=reading.taken == "after")
    return others.model_copy(update={"measurements": [*others.measurements, reading]})


def with_wheel_values(
    case: Case, quantity: Quantity, values: Mapping[Wheel, float | None], unit: Unit, *, by: str | None
) -> Case:
    """The case with these values (in `unit`) in force; None takes a wheel's reading out.

    A wheel whose value and unit stay as they were keeps its reading untouched, with who took it and when. A maker's
    limit stays with a changed value when the unit stays.
    """
    for wheel, value in values.items():
        former = reading_of(case, quantity, wheel)
        if value is None:
            case = without_reading(case, quantity, wheel)
        elif former is None or (former.value, former.unit) != (value, unit):
            limit = former.limit if former is not None and former.unit == unit else None
            case = with_reading(
                case,
                Measurement(quantity=quantity, value=value, unit=unit, wheel=wheel, limit=limit, by=by, at=now()),
            )
    return case
