"""The few quantiles that 95 % intervals need, without a statistics package on the path of an answer.

Student's t and chi-square for noise known from few readings; Rice's distribution for the length of a vector
in the plane whose two parts carry equal normal errors. Lengths are in units of that error's standard
deviation.
"""

from __future__ import annotations

import functools
import math
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = [
    "NORMAL_95",
    "chi_square_quantile",
    "largest_error_95",
    "rice_cdf",
    "rice_centre_limits",
    "rice_length_limits",
    "squared_length_quantile_95",
    "student_t_95",
]

_Array = npt.NDArray[np.float64]

NORMAL_95: Final = NormalDist().inv_cdf(0.975)
# Two-sided 95 % points of Student's t (any statistical table); in between linear in 1 / degrees of freedom.
_T_DOF: Final = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30, 60, math.inf)
_T_95: Final = (
    *(12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060),
    *(2.2622, 2.2281, 2.1788, 2.1314, 2.0860, 2.0423, 2.0003, NORMAL_95),
)
_LONG: Final = 6.0  # beyond this length Rice's law is normal to 0.002 in the length
_STEP: Final = 0.02


def student_t_95(dof: float) -> float:
    """Two-sided 95 % point of Student's t for dof >= 1 degrees of freedom (infinite: 1.96).

    >>> round(student_t_95(10), 3)
    2.228

    Raises ValueError below one degree of freedom.
    """
    if not dof >= 1.0:
        raise ValueError(f"Degrees of freedom must be one or more, not {dof}.")
    return float(np.interp(1.0 / dof, [1.0 / each for each in reversed(_T_DOF)], list(reversed(_T_95))))


def chi_square_quantile(probability: float, dof: int) -> float:
    """Quantile of chi-square: exact for even degrees of freedom (a Poisson sum), else within 1 % at 0.99.

    Odd ones by the cube-root rule of Wilson and Hilferty (1931).

    >>> round(chi_square_quantile(0.99, 5), 1), round(chi_square_quantile(0.025, 2), 4)
    (15.1, 0.0506)
    """
    if dof % 2 == 0:
        low, high = 0.0, 10.0 * dof + 60.0
        for _ in range(80):
            middle = (low + high) / 2.0
            beyond = sum(
                math.exp(j * math.log(middle / 2.0) - middle / 2.0 - math.lgamma(j + 1.0)) for j in range(dof // 2)
            )
            low, high = (middle, high) if 1.0 - beyond < probability else (low, middle)
        return (low + high) / 2.0
    spread = 2.0 / (9.0 * dof)
    return float(dof * (1.0 - spread + NormalDist().inv_cdf(probability) * math.sqrt(spread)) ** 3)


def largest_error_95(count: int) -> float:
    """What the largest of `count` normal errors, either sign, stays below in 95 % of cases; standard deviations.

    >>> round(largest_error_95(8), 2)
    2.73
    """
    return NormalDist().inv_cdf((1.0 + 0.95 ** (1.0 / count)) / 2.0)


def squared_length_quantile_95(dof: float = math.inf) -> float:
    """Square of the length that pure noise exceeds in 5 % of cases: 2 ln 20, or 2 F(2, dof) in closed form.

    >>> round(math.sqrt(squared_length_quantile_95()), 3)
    2.448
    """
    if math.isinf(dof):
        return 2.0 * math.log(20.0)
    return float(dof * (20.0 ** (2.0 / dof) - 1.0))


def rice_cdf(length: npt.ArrayLike, centre: npt.ArrayLike) -> _Array:
    """P(measured length <= length) for a vector of true length centre and unit errors; both 0 to about 12.

    Shapes broadcast. A Poisson mixture of chi-square with 2, 4, 6 ... degrees of freedom, which for even
    degrees is itself a Poisson sum (Johnson and Kotz, Continuous Univariate Distributions, from memory).
    """
    half_length = np.square(np.asarray(length, dtype=np.float64))[..., None] / 2.0
    half_centre = np.square(np.asarray(centre, dtype=np.float64))[..., None] / 2.0
    count = np.arange(160, dtype=np.float64)
    log_factorial = np.array([math.lgamma(each + 1.0) for each in count])
    reached = 1.0 - np.cumsum(_poisson(half_length, count, log_factorial), axis=-1)
    mixture = np.sum(_poisson(half_centre, count, log_factorial) * reached, axis=-1)
    return np.asarray(np.clip(mixture, 0.0, 1.0), dtype=np.float64)


def rice_centre_limits(length: float) -> tuple[float, float]:
    """95 % confidence limits of the true length for one measured length, both in standard deviations.

    Exact test inversion: 2.5 % on either side. The lower limit is zero when noise alone can make the length;
    the upper limit is never put below 1.96 standard deviations, because a reading that is short by luck is no
    proof of a small truth. So cover is 97.5 %, not 95, for a true length below that.

    >>> tuple(round(each, 2) for each in rice_centre_limits(10.0))
    (7.99, 11.91)
    """
    if length >= _LONG:
        # Moments of Rice's law for long vectors: mean c + 1 / 2c, standard deviation 1 - 1 / 4c^2.
        low, high = length - NORMAL_95, length + NORMAL_95
        for _ in range(3):
            low = length - NORMAL_95 * (1.0 - 0.25 / low**2) - 0.5 / low
            high = length + NORMAL_95 * (1.0 - 0.25 / high**2) - 0.5 / high
        return low, high
    lengths, lows, highs = _centre_table()
    return float(np.interp(length, lengths, lows)), max(NORMAL_95, float(np.interp(length, lengths, highs)))


def rice_length_limits(centre: float) -> tuple[float, float]:
    """The 2.5 % and 97.5 % points of the length of a vector spread about a known centre (unit errors).

    >>> tuple(round(each, 3) for each in rice_length_limits(0.0))
    (0.225, 2.716)
    """
    if centre >= _LONG:
        middle, reach = centre + 0.5 / centre, NORMAL_95 * (1.0 - 0.25 / centre**2)
        return middle - reach, middle + reach
    centres, lows, highs = _length_table()
    return float(np.interp(centre, centres, lows)), float(np.interp(centre, centres, highs))


def _poisson(mean: _Array, count: _Array, log_factorial: _Array) -> _Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        log_term = np.where(count > 0, count * np.log(mean), 0.0) - mean - log_factorial
    return np.asarray(np.exp(log_term), dtype=np.float64)


@functools.cache
def _centre_table() -> tuple[_Array, _Array, _Array]:
    lengths = np.arange(0.0, _LONG + 2 * _STEP, _STEP)
    found = []
    for probability in (0.975, 0.025):  # the longer the centre, the less likely so short a length
        low, high = np.zeros_like(lengths), lengths + 4.0
        for _ in range(30):
            middle = (low + high) / 2.0
            above = rice_cdf(lengths, middle) > probability
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        found.append(np.where(low > 0.0, (low + high) / 2.0, 0.0))  # no centre is too long: the limit is zero
    return lengths, found[0], found[1]


@functools.cache
def _length_table() -> tuple[_Array, _Array, _Array]:
    centres = np.arange(0.0, _LONG + 2 * _STEP, _STEP)
    found = []
    for probability in (0.025, 0.975):
        low, high = np.zeros_like(centres), centres + 5.0
        for _ in range(30):
            middle = (low + high) / 2.0
            below = rice_cdf(middle, centres) < probability
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        found.append((low + high) / 2.0)
    return centres, found[0], found[1]
