"""Vectors with errors: propagation against numpy, and what follows from them."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.measure import UncertainVector, weighted_sum
from vibdiag.rotation import Polar

VECTORS = st.builds(
    UncertainVector,
    st.builds(Polar, st.floats(0.0, 10.0), st.floats(0.0, 360.0)),
    st.floats(0.01, 1.0),
    st.floats(0.01, 1.0),
    st.floats(-0.005, 0.005),
)


def _covariance(vector: UncertainVector) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.array([[vector.var_x, vector.cov_xy], [vector.cov_xy, vector.var_y]])


@settings(deadline=None)
@given(VECTORS, VECTORS, st.complex_numbers(max_magnitude=3.0), st.complex_numbers(max_magnitude=3.0))
def test_covariance_of_a_weighted_sum_is_that_of_the_matrices(
    one: UncertainVector, other: UncertainVector, p: complex, q: complex
) -> None:
    expected = sum(
        (m := np.array([[f.real, -f.imag], [f.imag, f.real]])) @ _covariance(v) @ m.T for f, v in ((p, one), (q, other))
    )
    found = weighted_sum([(p, one), (q, other)])
    assert _covariance(found) == pytest.approx(expected, abs=1e-9)
    assert cmath.isclose(
        found.value.to_complex(), p * one.value.to_complex() + q * other.value.to_complex(), abs_tol=1e-9
    )


@settings(deadline=None)
@given(VECTORS, st.floats(-720.0, 720.0))
def test_turning_turns_the_angle_and_nothing_else(vector: UncertainVector, by: float) -> None:
    turned = vector.turned(by)
    assert turned.amount.low == pytest.approx(vector.amount.low, abs=1e-6)
    assert turned.amount.high == pytest.approx(vector.amount.high, abs=1e-6)
    assert turned.smallest_detectable == pytest.approx(vector.smallest_detectable, rel=1e-6)
    assert (turned.value - Polar(vector.value.amount, vector.value.angle_deg + by)).amount < 1e-6


@settings(deadline=None)
@given(VECTORS)
def test_the_interval_holds_the_best_value_and_never_falls_below_zero(vector: UncertainVector) -> None:
    for interval in (vector.amount, vector.amount_to_expect):
        assert 0.0 <= interval.low <= interval.best == vector.value.amount <= interval.high


def test_nothing_is_detected_below_the_smallest_detectable_amount() -> None:
    s = 0.004
    just = math.sqrt(2.0 * math.log(20.0)) * s
    assert UncertainVector.even(Polar(0.0, 0.0), s).smallest_detectable == pytest.approx(just)
    assert not UncertainVector.even(Polar(0.999 * just, 77.0), s).is_detected
    assert UncertainVector.even(Polar(1.001 * just, 77.0), s).is_detected


def test_few_degrees_of_freedom_widen_everything() -> None:
    known, guessed = (UncertainVector.even(Polar(1.0, 0.0), 0.05, dof=dof) for dof in (math.inf, 3.0))
    assert guessed.amount.width > 1.5 * known.amount.width
    assert (guessed.angle_plus_minus_deg or 0.0) > (known.angle_plus_minus_deg or 0.0)
    assert guessed.smallest_detectable > known.smallest_detectable


def test_a_vector_within_its_error_points_nowhere() -> None:
    assert UncertainVector.even(Polar(0.01, 0.0), 0.01).angle_plus_minus_deg is None
    assert UncertainVector.even(Polar(0.0, 0.0), 0.01).angle_plus_minus_deg is None


@pytest.mark.parametrize(("var", "dof"), [(-1.0, math.inf), (math.nan, math.inf), (1.0, 0.5)])
def test_impossible_errors_are_refused(var: float, dof: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        UncertainVector(Polar(1.0, 0.0), var, 1.0, 0.0, dof)
