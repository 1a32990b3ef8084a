"""Weighted harmonic fit of readings round a part: eccentricity or tilt, oval, third, and what is left locally.

r(t) = mean + sum over k of (a_k cos k t + b_k sin k t) + drift * time, fitted by weighted least squares;
harmonic k is the vector a_k + i b_k. A reading's variance is that of noise and rounding, plus the local slope
times the error of its mark. The drift is fitted only where a place was read again; its uncertainty goes into
every figure. When what is left is larger than the readings' own error explains (chi-square, 99 %), the part
has detail that these points sample too thinly: it folds back like noise, so its spread takes the noise's place.

Limits of the method: a dent narrower than the spacing of the readings can be missed entirely; with few
readings the local remainder is smeared over its neighbours; a dial that jumped once is not a drift.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from vibdiag.measure.quantiles import chi_square_quantile, largest_error_95, student_t_95
from vibdiag.measure.readings import Readings
from vibdiag.measure.uncertain import UncertainVector
from vibdiag.measure.waves import harmonics_carried, wave_columns, why_untrusted
from vibdiag.rotation import Interval, Polar

__all__ = ["Drift", "Harmonic", "HarmonicFit", "LocalRemainder", "fit_harmonics"]

_Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Harmonic:
    """One harmonic: order 1, 2, 3 ... times per turn; vector: amount (half of its own total reading) and phase."""

    order: int
    vector: UncertainVector

    @property
    def high_points_deg(self) -> tuple[float, ...]:
        """Where it is highest, degrees, `order` places, ascending."""
        first = (self.vector.value.angle_deg / self.order) % (360.0 / self.order)
        return tuple(first + 360.0 * each / self.order for each in range(self.order))

    @property
    def total_reading(self) -> Interval:
        """What a dial would show of this harmonic alone, maximum less minimum: twice the amount."""
        return self.vector.amount.scale(2.0)


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the reading over one round that is no shape. is_real: whether its 95 % interval excludes zero."""

    per_round: Interval
    is_real: bool


@dataclass(frozen=True, slots=True)
class LocalRemainder:
    """The largest departure from the fitted harmonics. amount: signed, outward positive. angle_deg: its place.

    is_real: whether it is more than the largest of so many readings' errors would be in 5 % of cases.
    """

    amount: float
    angle_deg: float
    is_real: bool


@dataclass(frozen=True, slots=True)
class HarmonicFit:
    """What a round of readings says about the shape, in the unit of the readings.

    harmonics: from the first up, as many as the readings carry (none from 4 or 5). untrusted_because: None, or
    the sentence why the first harmonic is a hint and no verdict may follow. angles_deg, corrected: the places
    and the readings there with the drift removed. remainders: corrected less the fitted curve. own_error:
    standard deviation of one reading by noise, rounding and marks; reading_error: the one the errors rest on,
    which error_from says is the readings' own or the remainder's. coefficients, covariance: of 1, cos t, sin t
    and so on, 1 + 2 * harmonics of them.
    """

    mean: float
    harmonics: tuple[Harmonic, ...]
    untrusted_because: str | None
    drift: Drift | None
    local: LocalRemainder
    angles_deg: tuple[float, ...]
    corrected: tuple[float, ...]
    remainders: tuple[float, ...]
    own_error: float
    reading_error: float
    dof: float
    error_from: Literal["readings", "remainder"]
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    @property
    def trusted(self) -> bool:
        """Whether a verdict may rest on the first harmonic."""
        return self.untrusted_because is None

    @property
    def first(self) -> Harmonic | None:
        """Eccentricity (radial) or tilt (lateral), 1x."""
        return self._of_order(1)

    @property
    def second(self) -> Harmonic | None:
        """Oval, 2x; None below 8 readings."""
        return self._of_order(2)

    @property
    def third(self) -> Harmonic | None:
        """Three-cornered, 3x; None below 12 readings."""
        return self._of_order(3)

    def _of_order(self, order: int) -> Harmonic | None:
        return next((each for each in self.harmonics if each.order == order), None)


def fit_harmonics(readings: Readings, *, most: int = 3) -> HarmonicFit:
    """Fit up to `most` harmonics (1 to 20), as many as the readings carry: see `harmonics_carried`.

    >>> from vibdiag.measure.readings import dial_readings
    >>> fit = fit_harmonics(dial_readings([0.3, 0.21, 0.0, -0.21, -0.3, -0.21, 0.0, 0.21]))
    >>> f"{fit.first.vector.amount:.2f} mm at {fit.first.vector.value.angle_deg:.0f} degrees"
    '0.30 (0.29 to 0.31) mm at 0 degrees'

    Raises ValueError when `most` is out of range.
    """
    if not 1 <= most <= 20:
        raise ValueError(f"Between 1 and 20 harmonics can be asked for, not {most}.")
    angles, values, time = (np.array(column) for column in zip(*readings.taken, strict=True))
    carried = harmonics_carried(readings.count, most=most)
    columns = wave_columns(angles, carried)
    waves = columns.shape[1]
    own_error, drift = readings.reading_error, None
    repeated = len(angles) > readings.count  # a place was read again, so drift can be told from shape
    if repeated and carried < 2:  # too few waves to fit the shape beside it: from the repeated place alone
        drift, per_round, drift_error = _closing(angles, values, time, own_error, readings.reading_error_dof)
        values, own_error = values - per_round * time, math.hypot(own_error, drift_error)
    elif repeated:
        columns = np.column_stack([columns, time])
    errors = np.full(len(angles), own_error)
    found, covariance = _solve(columns, values, errors)
    if readings.angle_error_deg > 0.0 and carried:
        for _ in range(2):
            slope = _slope(angles, found[:waves])
            errors = np.hypot(own_error, slope * math.radians(readings.angle_error_deg))
            found, covariance = _solve(columns, values, errors)
    left = values - columns @ found
    free = len(values) - columns.shape[1]
    chi_square = float(np.sum((left / errors) ** 2))
    dof, error_from, used_error = readings.reading_error_dof, "readings", float(np.sqrt(np.mean(errors**2)))
    if free > 0 and carried and chi_square > chi_square_quantile(0.99, free):
        covariance = covariance * (chi_square / free)
        used_error *= math.sqrt(chi_square / free)
        dof, error_from = float(free), "remainder"
    removed = columns[:, waves:] @ found[waves:]
    return HarmonicFit(
        mean=float(found[0]),
        harmonics=tuple(_harmonic(order, found, covariance, dof) for order in range(1, carried + 1)),
        untrusted_because=why_untrusted([float(angle) for angle in angles], carried),
        drift=_drift(float(found[-1]), float(covariance[-1, -1]), dof) if columns.shape[1] > waves else drift,
        local=_local(angles, left, errors, free),
        angles_deg=tuple(float(angle) for angle in angles),
        corrected=tuple(float(value) for value in values - removed),
        remainders=tuple(float(value) for value in left),
        own_error=float(np.sqrt(np.mean(errors**2))),
        reading_error=used_error,
        dof=dof,
        error_from="remainder" if error_from == "remainder" else "readings",
        coefficients=tuple(float(value) for value in found[:waves]),
        covariance=tuple(tuple(float(value) for value in row[:waves]) for row in covariance[:waves]),
    )


def _solve(columns: _Array, values: _Array, errors: _Array) -> tuple[_Array, _Array]:
    weighted = columns / errors[:, None]
    inverse = np.linalg.pinv(weighted)
    return inverse @ (values / errors), inverse @ inverse.T


def _slope(angles: _Array, coefficients: _Array) -> _Array:
    """d r / d t per radian."""
    turn = np.radians(angles)
    slope = np.zeros_like(turn)
    for order in range(1, (len(coefficients) + 1) // 2):
        a, b = coefficients[2 * order - 1], coefficients[2 * order]
        slope += order * (b * np.cos(order * turn) - a * np.sin(order * turn))
    return slope


def _harmonic(order: int, found: _Array, covariance: _Array, dof: float) -> Harmonic:
    x, y = 2 * order - 1, 2 * order
    vector = UncertainVector(
        Polar.from_complex(complex(found[x], found[y])),
        float(covariance[x, x]),
        float(covariance[y, y]),
        float(covariance[x, y]),
        dof,
    )
    return Harmonic(order, vector)


def _closing(
    angles: _Array, values: _Array, time: _Array, error: float, dof: float
) -> tuple[Drift | None, float, float]:
    """Drift per round from the readings at the first place alone, and its standard error; none if others repeat."""
    here = np.abs((angles - angles[0] + 180.0) % 360.0 - 180.0) < 1e-6
    if int(here.sum()) < 2:
        return None, 0.0, 0.0
    later = here.copy()
    later[0] = False
    span = float(time[later].mean() - time[0])
    per_round = float(values[later].mean() - values[0]) / span
    standard_error = error * math.sqrt(1.0 + 1.0 / int(later.sum())) / span
    return _drift(per_round, standard_error**2, dof), per_round, standard_error


def _drift(value: float, variance: float, dof: float) -> Drift:
    reach = student_t_95(dof) * math.sqrt(variance)
    return Drift(Interval.around(value, reach), abs(value) > reach)


def _local(angles: _Array, left: _Array, errors: _Array, free: int) -> LocalRemainder:
    """The largest remainder against the largest of as many normal errors (each side, 95 %)."""
    where = int(np.argmax(np.abs(left)))
    count = len(left)
    largest = largest_error_95(count)
    shrunk = math.sqrt(max(free, 1) / count)  # the fit has taken up part of every error
    is_real = free >= 3 and abs(float(left[where])) > largest * shrunk * float(errors[where])
    return LocalRemainder(float(left[where]), float(angles[where] % 360.0), is_real)
