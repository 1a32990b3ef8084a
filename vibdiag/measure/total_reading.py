"""Total indicator reading: highest less lowest point all round, with what the readings' spacing can hide.

The largest less the smallest reading falls short, because the high point lies between two readings (of 0.60 mm
of pure eccentricity at 8 places 0.015 mm on average, 0.046 at worst: geometry), and is stretched by noise. So the
fitted curve is used, less what noise adds to the height of its extremes; where a real local remainder stands out
of the curve, it is added where it was read. A dent narrower than the spacing stays unseen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from vibdiag.measure.harmonics import HarmonicFit
from vibdiag.measure.quantiles import NORMAL_95, largest_error_95, student_t_95
from vibdiag.measure.waves import wave_columns
from vibdiag.rotation import Interval

__all__ = ["TotalReading", "total_reading"]

_GRID_DEG = 0.5


@dataclass(frozen=True, slots=True)
class TotalReading:
    """total: maximum less minimum all round, 95 %, in the unit of the fit; None from readings not to be trusted.

    at_least: a lower bound (95 %) from the readings alone, zero or more, which holds for any shape.
    high_deg, low_deg: where the part is highest and lowest, of the curve or the reading that stands out.
    """

    total: Interval | None
    at_least: float
    high_deg: float
    low_deg: float


def total_reading(fit: HarmonicFit) -> TotalReading:
    """Total indicator reading of a fitted round.

    >>> from vibdiag.measure.harmonics import fit_harmonics
    >>> from vibdiag.measure.readings import dial_readings
    >>> found = total_reading(fit_harmonics(dial_readings([0.3, 0.21, 0.0, -0.21, -0.3, -0.21, 0.0, 0.21])))
    >>> f"{found.total:.2f}"
    '0.60 (0.58 to 0.62)'
    """
    read = np.array(fit.corrected)
    # The error of the readings themselves: the remainder's spread would count shape as error here.
    own = fit.own_error
    at_least = max(0.0, float(np.ptp(read)) - 2.0 * largest_error_95(len(read)) * own)
    if not fit.trusted:
        high, low = int(read.argmax()), int(read.argmin())
        return TotalReading(None, at_least, fit.angles_deg[high] % 360.0, fit.angles_deg[low] % 360.0)
    angles = np.arange(0.0, 360.0, _GRID_DEG)
    columns = wave_columns(angles, len(fit.harmonics))
    curve = columns @ np.array(fit.coefficients)
    high, low = int(curve.argmax()), int(curve.argmin())
    difference = columns[high] - columns[low]
    variance = float(difference @ np.array(fit.covariance) @ difference)
    total, high_deg, low_deg = float(curve[high] - curve[low]), float(angles[high]), float(angles[low])
    drawn = min(total / 2.0, _drawn_outward(fit, high_deg) + _drawn_outward(fit, low_deg))
    total -= drawn
    if fit.local.is_real:  # then the readings themselves may lie outside the curve
        highest, lowest = int(read.argmax()), int(read.argmin())
        if read[highest] > curve[high]:
            total += float(read[highest] - curve[high])
            high_deg, variance = fit.angles_deg[highest] % 360.0, variance + own**2
        if read[lowest] < curve[low]:
            total += float(curve[low] - read[lowest])
            low_deg, variance = fit.angles_deg[lowest] % 360.0, variance + own**2
    reach = student_t_95(fit.dof) * math.sqrt(variance)
    # Where noise decides which point is highest, zero is not excluded.
    low_end = total - reach - drawn if total > 2.0 * NORMAL_95 * math.sqrt(variance) else 0.0
    low_end, total = max(0.0, low_end, at_least), max(total, at_least)
    return TotalReading(Interval(low_end, total, total + reach), at_least, high_deg, low_deg)


def _drawn_outward(fit: HarmonicFit, angle_deg: float) -> float:
    """By how much noise draws an extreme of the curve outward: var(slope) / (2 |curvature|), second order."""
    turn, slope, curvature = math.radians(angle_deg), [0.0], 0.0
    for order in range(1, len(fit.harmonics) + 1):
        c, s = math.cos(order * turn), math.sin(order * turn)
        slope += [-order * s, order * c]
        a, b = fit.coefficients[2 * order - 1], fit.coefficients[2 * order]
        curvature -= order * order * (a * c + b * s)
    row = np.array(slope)
    return float(row @ np.array(fit.covariance) @ row) / (2.0 * abs(curvature)) if curvature else math.inf
