"""What turns in the car of a case, and which turning part a measured frequency fits.

The arithmetic itself is checked against outside values in tests/rotation; here it is the way from the case to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from vibdiag.advice.turning import driveline_of, follows, layout_facts, turning_table
from vibdiag.case.model import Case, Vehicle
from vibdiag.files.errors import InputError

CaseOf = Callable[..., Case]
Parts = dict[str, Any]

REAR_DRIVEN: Parts = {
    "driven": "rear",
    "engine_placement": "longitudinal",
    "power": "combustion",
    "axle_ratio": 5.5,
    "engine_rpm": 2000,
    "cylinders": 4,
    "tyres": {"front": "205/55R16"},
}
# A radial tyre rolls about 3.05 times its free diameter a turn (ETRTO, at 60 km/h); the diameter is in the marking.
CIRCUMFERENCE_M = 3.05 * (16 * 25.4 + 2 * 205 * 0.55) / 1000.0
WHEEL_HZ = 100 / 3.6 / CIRCUMFERENCE_M


def with_frequency(case_of: CaseOf, *hz: float, vehicle: Parts | None = None, **speed: Any) -> Case:
    return case_of(
        vehicle=REAR_DRIVEN if vehicle is None else vehicle,
        complaint={"speed": {"worst": 100, "read_from": "gps", **speed}},
        measurements=[{"quantity": "frequency", "value": value, "unit": "Hz"} for value in hz],
    )


@pytest.mark.parametrize(
    ("hz", "part"),
    [
        (WHEEL_HZ, "wheel-1x"),
        (2 * WHEEL_HZ, "wheel-2x-or-more"),
        (3.0 * WHEEL_HZ, None),  # the halfshaft's joint turns alike, and a rear-driven car may have one
        (5.5 * WHEEL_HZ, "propshaft-1x"),
        (11 * WHEEL_HZ, "propshaft-2x"),
        (2000 / 60, "engine"),
        (1.5 * WHEEL_HZ, None),  # no part of this car turns so
    ],
)
def test_a_frequency_names_the_part_it_fits_alone(case_of: CaseOf, hz: float, part: str | None) -> None:
    assert follows(with_frequency(case_of, hz)) == part


def test_a_frequency_per_minute_and_a_speed_in_miles_are_converted(case_of: CaseOf) -> None:
    case = case_of(
        vehicle=REAR_DRIVEN,
        complaint={"speed": {"worst": 100 / 1.609344, "unit": "mph", "read_from": "gps"}},
        measurements=[{"quantity": "frequency", "value": 60 * WHEEL_HZ, "unit": "1/min"}],
    )
    assert follows(case) == "wheel-1x"


def test_the_measurements_own_speed_comes_before_the_complaints(case_of: CaseOf) -> None:
    case = case_of(
        vehicle=REAR_DRIVEN,
        complaint={"speed": {"worst": 50, "read_from": "gps"}},
        measurements=[{"quantity": "frequency", "value": WHEEL_HZ, "unit": "Hz", "speed": 100}],
    )
    assert follows(case) == "wheel-1x"


def test_a_wide_speed_leaves_it_open(case_of: CaseOf) -> None:
    """A dashboard may show 10 % and 4 km/h too much (UN R39), and then 4x wheel and the propshaft at 3.7 overlap."""
    sharp = with_frequency(case_of, 4.0 * WHEEL_HZ, vehicle={**REAR_DRIVEN, "axle_ratio": 3.7})
    wide = with_frequency(case_of, 3.8 * WHEEL_HZ, vehicle={**REAR_DRIVEN, "axle_ratio": 3.7}, read_from="dashboard")
    assert follows(sharp) == "wheel-2x-or-more"
    assert follows(wide) is None


def test_nothing_is_told_without_tyre_speed_or_frequency(case_of: CaseOf) -> None:
    assert follows(case_of()) is None
    assert follows(with_frequency(case_of)) is None
    assert follows(with_frequency(case_of, WHEEL_HZ, vehicle={"driven": "rear"})) is None
    no_speed = case_of(vehicle=REAR_DRIVEN, measurements=[{"quantity": "frequency", "value": WHEEL_HZ, "unit": "Hz"}])
    assert follows(no_speed) is None
    assert turning_table(no_speed) is None


def test_a_frequency_after_the_repair_says_nothing(case_of: CaseOf) -> None:
    case = with_frequency(case_of, WHEEL_HZ)
    after = case.measurements[0].model_copy(update={"taken": "after"})
    assert follows(case.model_copy(update={"measurements": [after]})) is None


def test_one_frequency_that_cannot_be_placed_does_not_silence_the_next(case_of: CaseOf) -> None:
    """The complaint names no speed; only the second measurement says at which speed it was taken."""
    first = {"quantity": "frequency", "value": WHEEL_HZ, "unit": "Hz"}
    second = {**first, "speed": 100.0}
    for order in ([first, second], [second, first]):
        case = case_of(vehicle=REAR_DRIVEN, complaint={"speed": {"read_from": "gps"}}, measurements=order)
        assert follows(case) == "wheel-1x"


def test_two_frequencies_of_different_parts_leave_it_open_in_either_order(case_of: CaseOf) -> None:
    both = (WHEEL_HZ, 5.5 * WHEEL_HZ)
    assert follows(with_frequency(case_of, *both)) is follows(with_frequency(case_of, *both[::-1])) is None
    assert follows(with_frequency(case_of, WHEEL_HZ, 1.01 * WHEEL_HZ)) == "wheel-1x"
    assert follows(with_frequency(case_of, 1.5 * WHEEL_HZ, WHEEL_HZ)) == "wheel-1x"


def test_a_front_driven_car_has_no_propshaft_to_follow(case_of: CaseOf) -> None:
    front = {**REAR_DRIVEN, "driven": "front", "engine_placement": "transverse"}
    assert follows(with_frequency(case_of, 5.5 * WHEEL_HZ, vehicle=front)) is None
    table = turning_table(with_frequency(case_of, vehicle=front))
    assert table is not None
    assert not [rate for rate in table.rates if rate.part == "propshaft"]


@pytest.mark.parametrize(
    ("vehicle", "facts"),
    [
        ({}, {}),
        ({"driven": "front"}, {"propshaft-in-car": "no"}),
        (
            {"driven": "rear", "engine_placement": "longitudinal", "power": "combustion"},
            {"propshaft-in-car": "yes", "engine-in-car": "yes", "clutch-or-converter-in-car": "yes"},
        ),
        (
            {"driven": "all", "power": "electric"},
            {"propshaft-in-car": "no", "engine-in-car": "no", "clutch-or-converter-in-car": "no"},
        ),
        ({"driven": "all"}, {}),  # it may have one, or a motor at each axle
    ],
)
def test_what_the_layout_says_for_certain(vehicle: Parts, facts: dict[str, str]) -> None:
    assert layout_facts(Vehicle.model_validate(vehicle)) == facts


def test_the_table_carries_tyre_and_speed(case_of: CaseOf) -> None:
    table = turning_table(with_frequency(case_of))
    assert table is not None
    assert table.speed_kmh.low <= 100 <= table.speed_kmh.high
    assert table.front_circumference_m == table.rear_circumference_m
    assert table.front_circumference_m.low < CIRCUMFERENCE_M < table.front_circumference_m.high
    (wheel,) = [rate for rate in table.rates if rate.label == "1x wheel"]
    assert math.isclose(wheel.frequency_hz.best, WHEEL_HZ, rel_tol=0.02)
    slower = turning_table(with_frequency(case_of), speed=50)
    assert slower is not None
    assert slower.rates[0].frequency_hz.best == pytest.approx(table.rates[0].frequency_hz.best / 2, rel=0.02)


def test_different_tyres_front_and_rear_turn_differently(case_of: CaseOf) -> None:
    staggered = {**REAR_DRIVEN, "tyres": {"front": "205/55R16", "rear": "255/55R18"}}
    table = turning_table(with_frequency(case_of, vehicle=staggered))
    assert table is not None
    best = {rate.label: rate.frequency_hz.best for rate in table.rates}
    assert best["1x front wheel"] > best["1x rear wheel"]
    assert follows(with_frequency(case_of, WHEEL_HZ, vehicle=staggered)) == "wheel-1x"


@pytest.mark.parametrize("axle", ["front", "rear"])
def test_an_impossible_tyre_is_refused_where_it_stands(case_of: CaseOf, axle: str) -> None:
    tyres = {"front": "205/55R16", axle: "five oh five"}
    with pytest.raises(InputError) as caught:
        turning_table(with_frequency(case_of, vehicle={**REAR_DRIVEN, "tyres": tyres}))
    assert caught.value.field == f"vehicle.tyres.{axle}"


def test_an_impossible_ratio_is_refused_where_it_stands() -> None:
    with pytest.raises(InputError, match="axle_ratio") as caught:
        driveline_of(Vehicle.model_validate({"axle_ratio": 0.7}))
    assert caught.value.field == "vehicle"
