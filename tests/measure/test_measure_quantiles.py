"""Quantiles against scipy.stats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from vibdiag.measure.quantiles import (
    chi_square_quantile,
    largest_error_95,
    rice_cdf,
    rice_centre_limits,
    rice_length_limits,
    squared_length_quantile_95,
    student_t_95,
)


@pytest.mark.parametrize("dof", [1, 2, 3, 5, 8, 11, 14, 25, 45, 200, math.inf])
def test_student(dof: float) -> None:
    expected = stats.norm.ppf(0.975) if math.isinf(dof) else stats.t.ppf(0.975, dof)
    assert student_t_95(dof) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("dof", [2, 3, 5, 6, 8, 20, 51])
@pytest.mark.parametrize("probability", [0.025, 0.975, 0.99])
def test_chi_square(dof: int, probability: float) -> None:
    if dof % 2 and probability < 0.5:
        return  # odd degrees of freedom are only asked for at the upper end
    allowance = 1e-6 if dof % 2 == 0 else 0.01
    assert chi_square_quantile(probability, dof) == pytest.approx(stats.chi2.ppf(probability, dof), rel=allowance)


@pytest.mark.parametrize("dof", [3.0, 10.0, 200.0, math.inf])
def test_the_circle_that_noise_leaves_in_five_per_cent(dof: float) -> None:
    expected = stats.chi2.ppf(0.95, 2) if math.isinf(dof) else 2.0 * stats.f.ppf(0.95, 2, dof)
    assert squared_length_quantile_95(dof) == pytest.approx(expected, rel=1e-9)


def test_rice_distribution() -> None:
    lengths, centres = np.meshgrid(np.linspace(0.01, 9.0, 40), np.linspace(0.0, 9.0, 40))
    assert rice_cdf(lengths, centres) == pytest.approx(stats.rice.cdf(lengths, centres), abs=1e-9)


@pytest.mark.parametrize("length", [2.8, 3.5, 5.0, 5.99, 6.01, 8.0, 15.0, 60.0])
def test_limits_of_the_true_length_invert_rice(length: float) -> None:
    low, high = rice_centre_limits(length)
    assert stats.rice.cdf(length, low) == pytest.approx(0.975, abs=2e-3)
    assert stats.rice.cdf(length, high) == pytest.approx(0.025, abs=2e-3)


def test_a_length_that_noise_can_make_does_not_exclude_zero() -> None:
    assert rice_centre_limits(2.7)[0] == 0.0
    assert rice_centre_limits(2.75)[0] > 0.0
    assert rice_centre_limits(0.0) == pytest.approx((0.0, 1.96), abs=1e-3)


@pytest.mark.parametrize("centre", [0.0, 0.5, 2.0, 5.99, 6.01, 20.0])
def test_limits_of_the_length(centre: float) -> None:
    assert rice_length_limits(centre) == pytest.approx(
        (stats.rice.ppf(0.025, centre), stats.rice.ppf(0.975, centre)), abs=0.004
    )


def test_the_largest_of_many_errors() -> None:
    for count in (4, 12, 36):
        assert (2.0 * stats.norm.cdf(largest_error_95(count)) - 1.0) ** count == pytest.approx(0.95)
