"""A shake that comes and goes at steady speed: two wheels that turn almost, but not quite, alike.

Two sources at f1 and f2 swell and fade with the period 1 / |f1 - f2|. With f = v / C for each wheel, f1 - f2
= v * (C2 - C1) / (C1 * C2), so that the smaller circumference C1 differs from the larger C2 by the fraction
(C2 - C1) / C2 = C1 / (v * T), exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vibdiag.rotation.interval import Interval, as_interval

__all__ = ["CircumferenceDifference", "beat_period", "circumference_difference"]


@dataclass(frozen=True, slots=True)
class CircumferenceDifference:
    """By how much two circumferences differ: as a fraction of the larger, and in mm of circumference and
    diameter.
    """

    fraction: Interval
    circumference_mm: Interval
    diameter_mm: Interval


def circumference_difference(
    period_s: float | Interval, speed_kmh: Interval, circumference_m: Interval
) -> CircumferenceDifference:
    """What a beat of this period says about the two wheels.

    period_s: seconds from one swell to the next. circumference_m: of the smaller wheel.

    >>> found = circumference_difference(10, Interval.exact(100), Interval.exact(1.93))
    >>> f"{100 * found.fraction.best:.2f} %, {found.diameter_mm.best:.1f} mm of diameter"
    '0.69 %, 4.3 mm of diameter'

    Raises ValueError when period or speed reach zero, or when the beat is no slower than the wheel itself.
    """
    travelled_m = speed_kmh.scale(1.0 / 3.6).multiply(as_interval(period_s))
    fraction = circumference_m.divide(travelled_m)
    if fraction.high >= 1.0:
        raise ValueError(
            "A beat must be slower than one turn of the wheel; "
            f"{as_interval(period_s):g} s at {speed_kmh:.0f} km/h is not."
        )
    larger_over_smaller_less_one = fraction.increasing(lambda f: f / (1.0 - f))
    circumference_mm = circumference_m.multiply(larger_over_smaller_less_one).scale(1000.0)
    return CircumferenceDifference(fraction, circumference_mm, circumference_mm.scale(1.0 / math.pi))


def beat_period(difference_mm: float | Interval, speed_kmh: Interval, circumference_m: Interval) -> Interval:
    """Seconds from swell to swell for two circumferences that differ by difference_mm (above zero).

    circumference_m: of the smaller wheel. T = C1 * (C1 + d) / (v * d).

    >>> f"{beat_period(13.4, Interval.exact(100), Interval.exact(1.93)):.1f}"
    '10.1'
    """
    difference_m = as_interval(difference_mm).scale(0.001)
    turns = circumference_m.divide(difference_m).increasing(lambda ratio: ratio + 1.0)
    return circumference_m.divide(speed_kmh.scale(1.0 / 3.6)).multiply(turns)
