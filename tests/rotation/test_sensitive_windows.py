"""Windows in which a car answers, and the speeds at which orders come to lie there."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import (
    WINDOWS,
    Driveline,
    Interval,
    orders_from_speeds,
    parse_tyre,
    rolling_circumference,
    rotation_rates,
    speed_at_frequency,
    windows_hit,
)

TYRE = rolling_circumference(parse_tyre("225/45R17"))
NOMINAL = Interval.exact(TYRE.best)
WINDOW = {window.id: window for window in WINDOWS}


def test_the_windows_lead_to_the_speeds_people_complain_of() -> None:
    """Tyre out of balance is complained of at 80 to 110 km/h: a trade page (atwill.ca)."""
    unsprung = WINDOW["unsprung"]
    low = speed_at_frequency(unsprung.low_hz, NOMINAL).best
    high = speed_at_frequency(unsprung.high_hz, NOMINAL).best
    assert low < 80 < high
    steering = speed_at_frequency(WINDOW["steering"].high_hz, NOMINAL).best
    assert steering > 110


def test_body_bounce_of_cars_begins_the_body_window() -> None:
    """1 to 1.5 Hz for cars: Gillespie, Fundamentals of Vehicle Dynamics, ch. 5 (from memory)."""
    assert WINDOW["body"].low_hz == 1.0
    assert WINDOW["body"].share(Interval(1.0, 1.2, 1.5)) == 1.0


def test_a_wheel_at_motorway_speed_is_in_the_unsprung_and_steering_windows() -> None:
    rates = rotation_rates(NOMINAL, Interval.exact(95), Driveline(driven="front"))
    hits = {(hit.rate.label, hit.window.id): hit.share for hit in windows_hit(rates)}
    assert hits[("1x wheel", "unsprung")] == 1.0
    assert hits[("1x wheel", "steering")] == 1.0
    assert ("2x wheel", "unsprung") not in hits


def test_share_of_an_interval_that_lies_half_inside() -> None:
    assert WINDOW["unsprung"].share(Interval(5, 10, 15)) == pytest.approx(0.5)
    assert WINDOW["unsprung"].share(Interval(1, 2, 3)) == 0.0
    assert WINDOW["unsprung"].share(Interval.exact(15.0)) == 1.0


@given(st.floats(5.0, 30.0), st.sampled_from([1.0, 2.0, 3.0]))
def test_speed_and_frequency_are_each_others_inverse(hz: float, order: float) -> None:
    speed = speed_at_frequency(hz, NOMINAL, order)
    rates = rotation_rates(NOMINAL, speed, Driveline(driven="front"))
    assert next(rate for rate in rates if rate.label == f"{order:g}x wheel").frequency_hz.best == pytest.approx(hz)


def test_second_and_third_order_peak_at_half_and_a_third_of_the_speed() -> None:
    first = speed_at_frequency(12.0, NOMINAL).best
    assert speed_at_frequency(12.0, NOMINAL, 2.0).best == pytest.approx(first / 2)
    assert speed_at_frequency(12.0, NOMINAL, 3.0).best == pytest.approx(first / 3)


def test_orders_from_the_speeds_of_a_complaint() -> None:
    found = orders_from_speeds(
        Interval(90, 95, 100), TYRE, starts_kmh=Interval(78, 80, 82), fades_kmh=Interval(115, 120, 125)
    )
    best = found[0]
    assert best.label == "1x wheel"
    assert best.share == pytest.approx(1.0)
    assert best.felt_hz is not None
    assert best.felt_hz.low == pytest.approx(78 / 3.6 / TYRE.high)
    assert best.felt_hz.high == pytest.approx(125 / 3.6 / TYRE.low)
    assert all(0.0 < each.share <= 1.0 for each in found)


def test_without_start_and_fade_nothing_is_said_of_the_range() -> None:
    assert all(each.felt_hz is None for each in orders_from_speeds(Interval.exact(95), TYRE))


def test_a_propshaft_can_be_asked_about_too() -> None:
    found = orders_from_speeds(Interval.exact(25), NOMINAL, per_wheel_turn={"1x propshaft": Interval(2.5, 3.5, 4.5)})
    assert {each.label for each in found} == {"1x propshaft"}
    assert any(each.window.id == "unsprung" for each in found)


def test_every_window_has_a_source_and_makes_sense() -> None:
    assert len({window.id for window in WINDOWS}) == len(WINDOWS)
    for window in WINDOWS:
        assert 0 < window.low_hz < window.high_hz
        assert "common practice" in window.source
