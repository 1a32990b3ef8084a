"""A vector in the plane with what is known of its error: eccentricity, unbalance, a harmonic of force.

The estimate is taken as normal about the truth. Amount and angle then have exact 95 % intervals: the amount
by inverting Rice's distribution, the angle because the part of the error across the true direction is normal.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from vibdiag.measure.quantiles import (
    NORMAL_95,
    rice_centre_limits,
    rice_length_limits,
    squared_length_quantile_95,
    student_t_95,
)
from vibdiag.rotation import Interval, Polar

__all__ = ["UncertainVector", "weighted_sum"]


@dataclass(frozen=True, slots=True)
class UncertainVector:
    """value with its error variances along 0 degrees (var_x) and 90 degrees (var_y) and their covariance.

    Any unit; variances in its square. dof: degrees of freedom behind the variances; infinite when the noise
    is known. Raises ValueError for a negative variance or fewer than one degree of freedom.
    """

    value: Polar
    var_x: float
    var_y: float
    cov_xy: float = 0.0
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (self.var_x >= 0.0 and self.var_y >= 0.0 and math.isfinite(self.var_x + self.var_y + self.cov_xy)):
            raise ValueError(f"Variances must be finite and zero or more, not {self.var_x} and {self.var_y}.")
        if not self.dof >= 1.0:
            raise ValueError(f"Degrees of freedom must be one or more, not {self.dof}.")

    @classmethod
    def even(cls, value: Polar, standard_error: float, *, dof: float = math.inf) -> UncertainVector:
        """A vector whose error is alike in all directions: standard_error in each of the two parts."""
        return cls(value, standard_error**2, standard_error**2, 0.0, dof)

    @property
    def standard_error_amount(self) -> float:
        """Standard deviation of the amount, along the vector's own direction."""
        return math.sqrt(self._variance_along(self.value.angle_deg))

    @property
    def standard_error_angle_deg(self) -> float:
        """Standard deviation of the angle, degrees: across the vector over its length; 180 at most."""
        across = math.sqrt(self._variance_along(self.value.angle_deg + 90.0))
        return min(180.0, math.degrees(across / self.value.amount)) if self.value.amount > 0.0 else 180.0

    @property
    def amount(self) -> Interval:
        """The amount with its 95 % confidence interval (never below zero)."""
        error = self._scaled_error()
        if error == 0.0:
            return Interval.exact(self.value.amount)
        best, lengthened = self.value.amount, self._lengthened()
        low, high = rice_centre_limits(best / error)
        return Interval(max(0.0, min(best, low * error - lengthened)), best, max(best, high * error - lengthened))

    @property
    def amount_to_expect(self) -> Interval:
        """Where the amount will lie, 95 %, when this vector is a prediction chosen for being short.

        A choice that makes the predicted amount smallest (turning a tyre on its rim) has used up the error in
        one direction; the truth is spread about the prediction, and is more often longer than shorter. Where
        next to nothing is predicted, nothing at all stays possible, and cover is above 95 %.
        """
        error = self._scaled_error()
        if error == 0.0:
            return Interval.exact(self.value.amount)
        best = self.value.amount
        low, high = rice_length_limits(best / error)
        low = min(low, rice_centre_limits(best / error)[0])
        lengthened = self._lengthened()
        return Interval(max(0.0, min(best, low * error + lengthened)), best, max(best, high * error + lengthened))

    @property
    def angle_plus_minus_deg(self) -> float | None:
        """Half-width of the 95 % interval of the angle, degrees; None when it may point anywhere."""
        if self.value.amount == 0.0:
            return None
        across = math.sqrt(self._variance_along(self.value.angle_deg + 90.0))
        ratio = student_t_95(self.dof) * across / self.value.amount
        return None if ratio >= 1.0 else math.degrees(math.asin(ratio))

    @property
    def smallest_detectable(self) -> float:
        """The amount that noise alone exceeds in 5 % of cases, in the direction where it is largest.

        For even errors s it is s * sqrt(2 ln 20) = 2.45 s.
        """
        half_sum, half_difference = (self.var_x + self.var_y) / 2.0, (self.var_x - self.var_y) / 2.0
        largest = half_sum + math.hypot(half_difference, self.cov_xy)
        return math.sqrt(largest * squared_length_quantile_95(self.dof))

    @property
    def is_detected(self) -> bool:
        """Whether the amount is more than noise alone makes in 5 % of cases, in this vector's own direction."""
        z = self.value.to_complex()
        determinant = self.var_x * self.var_y - self.cov_xy**2
        if determinant <= 0.0:
            return self.value.amount > self.smallest_detectable
        squared = self.var_y * z.real**2 - 2.0 * self.cov_xy * z.real * z.imag + self.var_x * z.imag**2
        return squared / determinant > squared_length_quantile_95(self.dof)

    def times(self, factor: complex) -> UncertainVector:
        """Stretched by |factor| and turned by its angle."""
        return weighted_sum([(factor, self)])

    def turned(self, by_deg: float) -> UncertainVector:
        """Turned by an angle in degrees."""
        return self.times(Polar(1.0, by_deg).to_complex())

    def widened(self, standard_error: float) -> UncertainVector:
        """With a further independent error, alike in all directions."""
        more = standard_error**2
        return UncertainVector(self.value, self.var_x + more, self.var_y + more, self.cov_xy, self.dof)

    def __add__(self, other: UncertainVector) -> UncertainVector:
        return weighted_sum([(1.0, self), (1.0, other)])

    def __sub__(self, other: UncertainVector) -> UncertainVector:
        return weighted_sum([(1.0, self), (-1.0, other)])

    def _variance_along(self, angle_deg: float) -> float:
        c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        return max(0.0, c * c * self.var_x + 2.0 * c * s * self.cov_xy + s * s * self.var_y)

    def _lengthened(self) -> float:
        """How much more an error across lengthens a long vector than Rice's law, with even errors, has counted."""
        along, across = (self._variance_along(self.value.angle_deg + turn) for turn in (0.0, 90.0))
        if self.value.amount**2 <= 8.0 * (along + across):
            return 0.0
        return (across - along) / (2.0 * self.value.amount)

    def _scaled_error(self) -> float:
        """The error along a long vector; towards zero length the mean of all directions."""
        mean = (self.var_x + self.var_y) / 2.0
        if mean == 0.0:
            return 0.0
        along = min(1.0, self.value.amount**2 / (16.0 * mean))
        variance = along * self._variance_along(self.value.angle_deg) + (1.0 - along) * mean
        return math.sqrt(variance) * student_t_95(self.dof) / NORMAL_95


def weighted_sum(terms: Iterable[tuple[complex, UncertainVector]]) -> UncertainVector:
    """Sum of factor times vector over independent vectors; a complex factor stretches and turns.

    Degrees of freedom are pooled by the rule of Welch and Satterthwaite on the mean variance.

    >>> one = UncertainVector.even(Polar(1, 0), 0.1)
    >>> round(weighted_sum([(0.5, one), (0.5, one)]).standard_error_amount, 4)
    0.0707
    """
    total, var_x, var_y, cov_xy, pooled = 0j, 0.0, 0.0, 0.0, 0.0
    for factor, vector in terms:
        a, b = complex(factor).real, complex(factor).imag
        total += factor * vector.value.to_complex()
        x = a * a * vector.var_x - 2.0 * a * b * vector.cov_xy + b * b * vector.var_y
        y = b * b * vector.var_x + 2.0 * a * b * vector.cov_xy + a * a * vector.var_y
        var_x, var_y = var_x + max(0.0, x), var_y + max(0.0, y)
        cov_xy += a * b * (vector.var_x - vector.var_y) + (a * a - b * b) * vector.cov_xy
        pooled += (x + y) ** 2 / vector.dof
    dof = (var_x + var_y) ** 2 / pooled if pooled > 0.0 else math.inf
    return UncertainVector(Polar.from_complex(total), var_x, var_y, cov_xy, max(1.0, dof))
