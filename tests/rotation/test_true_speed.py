"""The truth behind a speed that was read: UN R39, 0 <= shown - true <= true / 10 + 4 km/h."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import ReadFrom, dashboard_reading_range, true_speed

SPEED = st.floats(0.0, 300.0)
HAIR = 1e-9


@given(SPEED, st.floats(0.0, 1.0), st.sampled_from(["dashboard", "held-by-cruise", "unknown"]))
def test_every_true_speed_the_regulation_allows_lies_inside(true: float, share: float, read_from: ReadFrom) -> None:
    lowest, highest = dashboard_reading_range(true)
    shown = lowest + share * (highest - lowest)
    found = true_speed(shown, "km/h", read_from)
    assert found.low - HAIR <= true <= found.high + HAIR


@given(st.floats(4.0, 300.0))
def test_the_limits_are_those_of_the_regulation_and_no_wider(shown: float) -> None:
    found = true_speed(shown, "km/h", "dashboard")
    assert found.low * 1.1 + 4.0 == pytest.approx(shown)
    assert found.high == shown


# A newspaper's worked table of UN R39 (taketonews.com), highest reading in whole km/h, cut off.
@pytest.mark.parametrize(("true", "highest"), [(50, 59), (70, 81), (90, 103), (110, 125), (130, 147)])
def test_a_published_table_of_readings(true: float, highest: float) -> None:
    low, high = dashboard_reading_range(true)
    assert low == true
    assert math.floor(high) == highest


def test_gps_and_obd_are_much_narrower_than_the_dashboard() -> None:
    sources: tuple[ReadFrom, ...] = ("gps", "obd", "dashboard", "unknown")
    width = {source: true_speed(100, "km/h", source).width for source in sources}
    assert width["gps"] < width["obd"] < width["dashboard"] < width["unknown"]


def test_the_cruise_control_holds_what_the_dashboard_shows() -> None:
    assert true_speed(70, "mph", "held-by-cruise") == true_speed(70, "mph", "dashboard")


@given(SPEED, st.sampled_from(["dashboard", "held-by-cruise", "gps", "obd", "unknown"]))
def test_a_higher_reading_is_a_higher_speed(shown: float, read_from: ReadFrom) -> None:
    slow = true_speed(shown, "km/h", read_from)
    fast = true_speed(shown + 10.0, "km/h", read_from)
    assert 0.0 <= slow.low <= slow.best <= slow.high
    assert slow.best < fast.best
    assert slow.low <= fast.low


def test_units_do_not_matter() -> None:
    assert true_speed(62.5, "mph", "dashboard").best == pytest.approx(true_speed(100.584, "km/h", "dashboard").best)


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, 401.0])
def test_absurd_speeds_are_refused(value: float) -> None:
    with pytest.raises(ValueError, match="speed"):
        true_speed(value, "km/h", "gps")


def test_unknown_words_are_refused() -> None:
    with pytest.raises(ValueError, match="dashboard, held-by-cruise, gps, obd, unknown"):
        true_speed(100, "km/h", "radar")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="km/h, mph, m/s"):
        true_speed(100, "knots", "gps")
    with pytest.raises(ValueError, match="zero or more"):
        dashboard_reading_range(-1)
