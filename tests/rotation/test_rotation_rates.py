"""How fast each part turns."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import (
    Driveline,
    Interval,
    Rate,
    parse_tyre,
    rolling_circumference,
    rotation_rates,
    true_speed,
    wheel_hz,
)

TYRE = rolling_circumference(parse_tyre("225/45R17"))
EVERYTHING = Driveline(
    driven="all",
    engine_placement="longitudinal",
    power="hybrid",
    axle_ratio=3.7,
    gear_ratio=0.8,
    cylinders=6,
    reduction_ratio=9.0,
    accessory_ratios={"alternator": 2.7},
)


def by_label(rates: tuple[Rate, ...]) -> dict[str, Rate]:
    """Rates by label, which must be unique."""
    found = {rate.label: rate for rate in rates}
    assert len(found) == len(rates)
    return found


def test_a_common_car_at_100() -> None:
    """225/45R17 at 100 km/h: about 14.4 turns a second (arithmetic: 27.78 m/s over 3.05 * 634.3 mm)."""
    rates = by_label(rotation_rates(TYRE, Interval.exact(100), Driveline(driven="front", power="combustion")))
    assert rates["1x wheel"].frequency_hz.best == pytest.approx(14.36, abs=0.01)
    assert list(rates) == ["1x wheel", "2x wheel", "3x wheel", "4x wheel", "3x halfshaft"]


def test_the_manuals_worked_example_in_full() -> None:
    """Vehicle service manual, 2010 pickup: wheel 7 Hz, axle 3.08, propshaft 22 and 43 to 44 Hz."""
    car = Driveline(driven="rear", engine_placement="longitudinal", solid_axles="rear", axle_ratio=3.08)
    rates = by_label(rotation_rates(Interval.exact(2.4), Interval.exact(7 * 2.4 * 3.6), car))
    assert round(rates["1x propshaft"].frequency_hz.best) == 22
    assert rates["2x propshaft"].frequency_hz.best == pytest.approx(43.1, abs=0.05)
    assert "3x halfshaft" not in rates


def test_every_order_against_hand_arithmetic() -> None:
    """Ten wheel turns a second, each ratio multiplied by hand."""
    rates = by_label(rotation_rates(Interval.exact(2.0), Interval.exact(72.0), EVERYTHING))
    expected = {
        "1x wheel": 10.0,
        "4x wheel": 40.0,
        "3x halfshaft": 30.0,
        "1x propshaft": 37.0,
        "2x propshaft": 74.0,
        "1x motor": 90.0,
        "0.5x engine": 14.8,
        "1x engine": 29.6,
        "3x engine": 88.8,
        "1x alternator": 79.92,
    }
    for label, hz in expected.items():
        assert rates[label].frequency_hz.best == pytest.approx(hz), label
        turns = rates[label].per_wheel_turn
        assert turns is not None
        assert turns.best == pytest.approx(hz / 10.0)
    assert {rate.label for rate in rates.values() if rate.follows == "engine-speed"} == {
        "0.5x engine",
        "1x engine",
        "3x engine",
        "1x alternator",
    }


@given(st.floats(1.0, 100.0), st.floats(1.0, 4.0))
def test_rates_scale_with_speed(speed: float, factor: float) -> None:
    slow = rotation_rates(TYRE, Interval.around_fraction(speed, 0.02), EVERYTHING)
    fast = rotation_rates(TYRE, Interval.around_fraction(factor * speed, 0.02), EVERYTHING)
    for one, other in zip(slow, fast, strict=True):
        assert one.label == other.label
        assert other.frequency_hz.best == pytest.approx(factor * one.frequency_hz.best)
        assert other.frequency_hz.low == pytest.approx(factor * one.frequency_hz.low)
        assert other.frequency_hz.high == pytest.approx(factor * one.frequency_hz.high)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_limits_enclose_every_circumference_and_speed_inside(a: float, b: float) -> None:
    speed = true_speed(100, "km/h", "dashboard")
    wide = rotation_rates(TYRE, speed, EVERYTHING)
    point = rotation_rates(
        Interval.exact(TYRE.low + a * TYRE.width), Interval.exact(speed.low + b * speed.width), EVERYTHING
    )
    for one, other in zip(wide, point, strict=True):
        assert one.frequency_hz.low * (1 - 1e-12) <= other.frequency_hz.best <= one.frequency_hz.high * (1 + 1e-12)


@given(st.floats(1.5, 3.0), st.floats(1.0, 300.0))
def test_units_cancel(circumference: float, speed: float) -> None:
    hz = wheel_hz(Interval.exact(circumference), Interval.exact(speed))
    assert hz.best * circumference * 3.6 == pytest.approx(speed)


def test_front_drive_names_no_propshaft_and_electric_no_engine() -> None:
    labels = " ".join(by_label(rotation_rates(TYRE, Interval.exact(100), Driveline(driven="front", axle_ratio=4.0))))
    assert "propshaft" not in labels
    electric = Driveline(driven="rear", power="electric", reduction_ratio=9.0, engine_rpm=3000.0, cylinders=4)
    assert list(by_label(rotation_rates(TYRE, Interval.exact(100), electric))) == [
        "1x wheel",
        "2x wheel",
        "3x wheel",
        "4x wheel",
        "3x halfshaft",
        "1x motor",
    ]


def test_an_unknown_axle_ratio_is_a_range_and_says_so() -> None:
    car = Driveline(driven="rear", engine_placement="longitudinal", power="combustion")
    rate = by_label(rotation_rates(Interval.exact(2.0), Interval.exact(72.0), car))["1x propshaft"]
    assert rate.assumed
    assert rate.certain
    assert rate.frequency_hz == Interval(25.0, 35.0, 45.0)  # axle ratios of 2.5 to 4.5, common practice
    assert "assumed" in rate.how
    assert "unless it sits at the rear" in rate.how


def test_behind_a_transverse_engine_the_propshaft_turns_by_the_rear_gear() -> None:
    car = Driveline(driven="all", engine_placement="transverse", power="combustion", axle_ratio=4.0)
    guessed = by_label(rotation_rates(Interval.exact(2.0), Interval.exact(72.0), car))
    assert guessed["1x propshaft"].assumed
    known = replace(car, rear_axle_ratio=2.5)
    rates = by_label(rotation_rates(Interval.exact(2.0), Interval.exact(72.0), known))
    assert rates["1x propshaft"].frequency_hz.best == pytest.approx(25.0)
    assert not rates["1x propshaft"].assumed


def test_an_unknown_layout_names_what_it_may_have_as_uncertain() -> None:
    rates = by_label(rotation_rates(TYRE, Interval.exact(100), Driveline(engine_rpm=2000.0, cylinders=4)))
    assert not rates["1x propshaft"].certain
    assert not rates["3x halfshaft"].certain
    assert "not known" in rates["1x propshaft"].how
    assert rates["1x wheel"].certain
    assert rates["2x engine"].frequency_hz.best == pytest.approx(2000 / 60 * 2)


def test_staggered_wheels_turn_at_their_own_rates() -> None:
    car = Driveline(driven="rear", engine_placement="longitudinal", axle_ratio=3.0, solid_axles="none")
    front, rear = Interval.exact(2.0), Interval.exact(2.5)
    rates = by_label(rotation_rates(front, Interval.exact(90.0), car, rear_circumference_m=rear))
    assert rates["1x front wheel"].frequency_hz.best == pytest.approx(12.5)
    assert rates["1x rear wheel"].frequency_hz.best == pytest.approx(10.0)
    assert rates["1x propshaft"].frequency_hz.best == pytest.approx(30.0)
    assert rates["3x halfshaft"].frequency_hz.best == pytest.approx(30.0)
    assert rates["1x rear wheel"].key == "rear-wheel-1x"


def test_the_tachometer_outranks_the_gears_and_does_not_hang_on_the_wheel() -> None:
    car = Driveline(driven="front", power="combustion", engine_rpm=3000.0, axle_ratio=4.0, gear_ratio=1.0)
    rate = by_label(rotation_rates(TYRE, Interval.exact(50), car))["1x engine"]
    assert rate.frequency_hz.best == 50.0
    assert rate.per_wheel_turn is None
    assert rate.frequency_hz.relative_width == pytest.approx(0.04)


def test_a_two_cylinder_fires_once_a_turn_under_one_label() -> None:
    car = Driveline(driven="front", power="combustion", engine_rpm=3000.0, cylinders=2)
    rates = by_label(rotation_rates(TYRE, Interval.exact(50), car))
    assert "firing" in rates["1x engine"].how
    two_stroke = Driveline(driven="front", power="combustion", engine_rpm=3000.0, cylinders=3, strokes=2)
    labels = by_label(rotation_rates(TYRE, Interval.exact(50), two_stroke))
    assert "0.5x engine" not in labels
    assert "3x engine" in labels


def test_standing_still_turns_no_wheel_but_the_engine() -> None:
    car = Driveline(driven="front", power="combustion", engine_rpm=750.0, cylinders=4)
    rates = by_label(rotation_rates(TYRE, Interval.exact(0), car))
    assert rates["1x wheel"].frequency_hz == Interval.exact(0.0)
    assert rates["2x engine"].frequency_hz.best == 25.0


def test_the_tripods_third_order_is_named() -> None:
    """Sugiura et al., J. System Design and Dynamics 3(6), 2009: the third order is the dominant one."""
    rates = by_label(rotation_rates(Interval.exact(2.0), Interval.exact(72.0), Driveline(driven="front")))
    assert rates["3x halfshaft"].order == 3.0


def test_every_rate_says_how_in_one_sentence() -> None:
    for rate in rotation_rates(TYRE, true_speed(100, "km/h", "dashboard"), EVERYTHING):
        assert rate.how.endswith(".")
        assert "\n" not in rate.how
        assert not rate.how.endswith("..")
