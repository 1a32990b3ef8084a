"""A shake that comes and goes, and the two circumferences behind it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import Interval, beat_period, circumference_difference


def test_the_envelope_of_two_wheels_swells_with_the_predicted_period() -> None:
    """Sum of two simulated wheels, 1.930 and 1.943 m, at 100 km/h: count the swells of its envelope."""
    smaller, larger, speed = 1.930, 1.943, 100 / 3.6
    seconds = np.arange(0.0, 200.0, 1.0 / 200.0)
    sum_of_both = np.exp(2j * np.pi * speed / smaller * seconds) + np.exp(2j * np.pi * speed / larger * seconds)
    strong = np.abs(sum_of_both) > 1.0
    swells = int(np.count_nonzero(strong[1:] & ~strong[:-1]))
    period = beat_period(1000 * (larger - smaller), Interval.exact(100), Interval.exact(smaller)).best
    assert 200.0 / period == pytest.approx(swells, abs=1.0)
    found = circumference_difference(period, Interval.exact(100), Interval.exact(smaller))
    assert found.circumference_mm.best == pytest.approx(13.0)
    assert found.fraction.best == pytest.approx(13.0 / 1943.0)
    assert found.diameter_mm.best == pytest.approx(13.0 / np.pi)


@given(st.floats(0.1, 50.0), st.floats(20.0, 200.0), st.floats(1.5, 3.0))
def test_difference_and_period_are_each_others_inverse(millimetres: float, speed: float, metres: float) -> None:
    period = beat_period(millimetres, Interval.exact(speed), Interval.exact(metres))
    back = circumference_difference(period, Interval.exact(speed), Interval.exact(metres))
    assert back.circumference_mm.best == pytest.approx(millimetres, rel=1e-6)


@given(st.floats(2.0, 60.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_limits_enclose_every_point_inside(period: float, a: float, b: float, c: float) -> None:
    seconds = Interval.around_fraction(period, 0.1)
    speed = Interval(90, 95, 100)
    metres = Interval(1.85, 1.93, 1.98)
    wide = circumference_difference(seconds, speed, metres)
    point = circumference_difference(
        seconds.low + a * seconds.width,
        Interval.exact(speed.low + b * speed.width),
        Interval.exact(metres.low + c * metres.width),
    )
    assert wide.fraction.low * (1 - 1e-9) <= point.fraction.best <= wide.fraction.high * (1 + 1e-9)
    millimetres = wide.circumference_mm
    assert millimetres.low * (1 - 1e-9) <= point.circumference_mm.best <= millimetres.high * (1 + 1e-9)


def test_a_beat_faster_than_the_wheel_is_refused() -> None:
    with pytest.raises(ValueError, match="slower than one turn"):
        circumference_difference(0.05, Interval.exact(100), Interval.exact(1.93))


def test_no_difference_and_no_speed_have_no_beat() -> None:
    with pytest.raises(ValueError, match="divide"):
        beat_period(0.0, Interval.exact(100), Interval.exact(1.93))
    with pytest.raises(ValueError, match="divide"):
        circumference_difference(10.0, Interval.exact(0), Interval.exact(1.93))
