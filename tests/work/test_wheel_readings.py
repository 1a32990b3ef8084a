"""One reading is in force for each quantity, wheel and side of the repair."""

from __future__ import annotations

import pytest

from vibdiag.case.model import Case, Measurement
from vibdiag.case.vocabulary import Wheel
from vibdiag.work.wheel_readings import (
    WHEELS,
    reading_of,
    readings_at,
    with_reading,
    with_wheel_values,
    without_reading,
)


def pressure(value: float, wheel: str = "front-left", **more: object) -> Measurement:
    given = {"quantity": "tyre-pressure", "value": value, "unit": "bar", "wheel": wheel, **more}
    return Measurement.model_validate(given)


def case(*readings: Measurement) -> Case:
    return Case(vibdiag_case=1, id="readings", measurements=list(readings))


def test_there_are_four_wheels() -> None:
    assert sorted(WHEELS) == ["front-left", "front-right", "rear-left", "rear-right"]


def test_a_new_reading_takes_the_place_of_the_former_one_of_its_wheel_and_of_no_other() -> None:
    before = case(pressure(2.0), pressure(2.1, "rear-left"))
    after = with_reading(before, pressure(2.4))
    assert reading_of(after, "tyre-pressure", "front-left") == pressure(2.4)
    assert reading_of(after, "tyre-pressure", "rear-left") == pressure(2.1, "rear-left")
    assert len(after.measurements) == 2


def test_a_reading_after_the_repair_leaves_the_one_before_it_alone() -> None:
    both = with_reading(case(pressure(2.0)), pressure(2.4, taken="after"))
    assert readings_at(both, "tyre-pressure")["front-left"] == (pressure(2.0), pressure(2.4, taken="after"))
    left = without_reading(both, "tyre-pressure", "front-left")
    assert left.measurements == [pressure(2.4, taken="after")]


def test_an_untouched_wheel_keeps_who_read_it() -> None:
    former = pressure(2.0, by="technician", note="cold")
    kept = with_wheel_values(case(former), "tyre-pressure", {"front-left": 2.0, "front-right": 2.2}, "bar", by="other")
    assert reading_of(kept, "tyre-pressure", "front-left") == former
    new = reading_of(kept, "tyre-pressure", "front-right")
    assert new is not None
    assert (new.value, new.by, new.at is not None) == (2.2, "other", True)


def test_another_unit_is_another_reading() -> None:
    kept = with_wheel_values(case(pressure(32)), "tyre-pressure", {"front-left": 32}, "psi", by=None)
    assert [(one.value, one.unit) for one in kept.measurements] == [(32, "psi")]


@pytest.mark.parametrize(("unit", "limit"), [("bar", 2.3), ("psi", None)])
def test_the_makers_limit_stays_while_the_unit_stays(unit: str, limit: float | None) -> None:
    former = pressure(2.0, limit=2.3)
    kept = with_wheel_values(
        case(former), "tyre-pressure", {"front-left": 2.5}, "bar" if unit == "bar" else "psi", by=None
    )
    assert kept.measurements[0].limit == limit


def test_an_empty_value_takes_the_reading_out() -> None:
    values: dict[Wheel, float | None] = {"front-left": None, "rear-left": None}
    kept = with_wheel_values(case(pressure(2.0), pressure(2.1, "front-right")), "tyre-pressure", values, "bar", by=None)
    assert kept.measurements == [pressure(2.1, "front-right")]
