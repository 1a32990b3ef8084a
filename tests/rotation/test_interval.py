"""Intervals: their order is kept, and their arithmetic encloses arithmetic on points."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import Interval, as_interval

POSITIVE = st.floats(1e-3, 1e6)


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    """An interval of positive values."""
    low, best, high = sorted(draw(st.tuples(POSITIVE, POSITIVE, POSITIVE)))
    return Interval(low, best, high)


@st.composite
def interval_with_point(draw: st.DrawFn) -> tuple[Interval, float]:
    """An interval of positive values and a value inside."""
    interval = draw(intervals())
    return interval, draw(st.floats(interval.low, interval.high))


@given(interval_with_point(), interval_with_point())
def test_product_and_quotient_enclose_those_of_points(a: tuple[Interval, float], b: tuple[Interval, float]) -> None:
    (left, x), (right, y) = a, b
    assert left.multiply(right).contains(x * y)
    assert left.divide(right).contains(x / y)


@given(interval_with_point(), POSITIVE)
def test_scaling_and_monotone_functions_enclose_those_of_points(a: tuple[Interval, float], factor: float) -> None:
    interval, x = a
    assert interval.scale(factor).contains(x * factor)
    assert interval.increasing(math.sqrt).contains(math.sqrt(x))
    assert interval.decreasing(lambda value: 1.0 / value).contains(1.0 / x)


@given(intervals(), intervals())
def test_overlap_is_mutual_and_the_hull_holds_both(a: Interval, b: Interval) -> None:
    assert a.overlaps(b) == b.overlaps(a)
    assert a.overlap_width(b) == b.overlap_width(a) <= min(a.width, b.width)
    assert a.hull(b).encloses(a)
    assert a.hull(b).encloses(b)
    if a.overlap_width(b) > 0.0:
        assert a.overlaps(b)


@given(intervals(), intervals())
def test_units_cancel(a: Interval, b: Interval) -> None:
    assert a.multiply(b).best / b.best == pytest.approx(a.best)
    # Not knowing that both b are the same, the interval can only grow.
    there_and_back = a.multiply(b).divide(b)
    assert there_and_back.low <= a.low * (1 + 1e-12)
    assert there_and_back.high >= a.high * (1 - 1e-12)


def test_within_closes_a_gap() -> None:
    assert not Interval(1, 1, 2).overlaps(Interval(2.5, 3, 3))
    assert Interval(1, 1, 2).overlaps(Interval(2.5, 3, 3), within=0.5)


def test_relative_width() -> None:
    assert Interval(9, 10, 12).relative_width == pytest.approx(0.3)
    assert Interval.exact(0.0).relative_width == 0.0
    assert Interval(0, 0, 1).relative_width == math.inf


def test_between_has_its_best_in_the_middle() -> None:
    assert Interval.between(90, 110) == Interval(90, 100, 110)


@pytest.mark.parametrize("bad", [(2, 1, 3), (1, 4, 3), (3, 2, 1), (math.nan, 1, 2), (0, 1, math.inf)])
def test_disorder_is_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="interval needs"):
        Interval(*bad)


def test_arithmetic_refuses_what_it_is_not_for() -> None:
    with pytest.raises(ValueError, match="negative"):
        Interval(-1, 0, 1).multiply(Interval.exact(1))
    with pytest.raises(ValueError, match="negative"):
        Interval.exact(1).scale(-1)
    with pytest.raises(ValueError, match="divide"):
        Interval.exact(1).divide(Interval(0, 1, 2))


def test_a_number_is_an_exact_interval() -> None:
    assert as_interval(3.0) == Interval(3.0, 3.0, 3.0)
    assert as_interval(Interval(1, 2, 3)) == Interval(1, 2, 3)
    assert f"{as_interval(3.0):.1f}" == "3.0"
