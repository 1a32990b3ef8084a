"""Pressures and tread depths of the wheels: how far their circumferences differ, and how slow a beat that would make.

Tread: a circumference falls by twice the missing depth over the diameter. Pressure: a radial tyre grows by some
tenths of a per cent of circumference per bar (0.2 to 0.8, from memory; no open source was found). Two tyres of
different make can differ by the makers' spread on top. The wheels of one car also corner and drive at
different slip, so a beat on a bend proves nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from vibdiag.rotation import Interval, beat_period

__all__ = ["PairDifference", "WheelState", "circumference_differences"]

_PER_BAR: Final = Interval(0.002, 0.004, 0.008)  # fraction of circumference per 100 kPa, from memory
_DEPTH_ERROR_MM: Final = 0.5  # gauge and choice of groove (common practice), 95 %
_PRESSURE_ERROR_KPA: Final = 10.0  # workshop gauge (common practice), 95 %
_MAKER_SPREAD: Final = 0.015  # published diameters for one size stand -0.2 to +1.3 % from the marking


@dataclass(frozen=True, slots=True)
class WheelState:
    """One wheel: where it is; its tread depth, mm (the mean of the grooves); its pressure, kPa; what is on the
    sidewall besides the size, so that unlike tyres are told apart.

    Raises ValueError for a depth outside 0 to 30 mm or a pressure outside 50 to 1000 kPa.
    """

    place: str
    tread_mm: float
    pressure_kpa: float
    pattern: str = ""

    def __post_init__(self) -> None:
        if not 0.0 <= self.tread_mm <= 30.0:
            raise ValueError(f"The tread depth {self.place} is {self.tread_mm:g} mm, but must be 0 to 30 mm.")
        if not 50.0 <= self.pressure_kpa <= 1000.0:
            raise ValueError(f"The pressure {self.place} is {self.pressure_kpa:g} kPa, but must be 50 to 1000 kPa.")


@dataclass(frozen=True, slots=True)
class PairDifference:
    """Two wheels. percent: circumference of the first less that of the second, per cent, 95 %. is_real: zero is not
    in it. shortest_s, likely_s, longest_s: period of the beat their 1x would make at the speed given; likely_s
    and longest_s are None where the difference may be nothing.
    """

    first: str
    second: str
    percent: Interval
    is_real: bool
    shortest_s: float
    likely_s: float | None
    longest_s: float | None


def circumference_differences(
    wheels: Sequence[WheelState], *, diameter_mm: float, circumference_m: float, speed_kmh: float
) -> tuple[PairDifference, ...]:
    """Every pair of wheels of one tyre size, the largest difference first.

    diameter_mm: overall, of the size. circumference_m: what it rolls in a turn.

    >>> worn = [WheelState("front-left", 7, 230), WheelState("front-right", 3, 230)]
    >>> found = circumference_differences(worn, diameter_mm=634, circumference_m=1.93, speed_kmh=100)[0]
    >>> f"{found.percent:.2f} %, a beat of {found.shortest_s:.1f} to {found.longest_s:.1f} s"
    '1.26 (1.03 to 1.49) %, a beat of 4.7 to 6.8 s'

    Raises ValueError for fewer than two wheels, two at one place, or a size or speed that is not above zero.
    """
    if len(wheels) < 2 or len({wheel.place for wheel in wheels}) != len(wheels):
        raise ValueError("At least two wheels are needed, each at a place of its own.")
    for what, value in (("diameter", diameter_mm), ("circumference", circumference_m), ("speed", speed_kmh)):
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"The {what} must be above zero, not {value}.")
    found = [
        _difference(first, second, diameter_mm, circumference_m, speed_kmh)
        for first, second in itertools.combinations(wheels, 2)
    ]
    return tuple(sorted(found, key=lambda pair: -abs(pair.percent.best)))


def _difference(
    first: WheelState, second: WheelState, diameter_mm: float, circumference_m: float, speed_kmh: float
) -> PairDifference:
    tread = 2.0 * (first.tread_mm - second.tread_mm) / diameter_mm
    bars = (first.pressure_kpa - second.pressure_kpa) / 100.0
    low, high = sorted((bars * _PER_BAR.low, bars * _PER_BAR.high))
    reach = math.hypot(
        math.sqrt(2.0) * 2.0 * _DEPTH_ERROR_MM / diameter_mm,
        math.sqrt(2.0) * _PER_BAR.best * _PRESSURE_ERROR_KPA / 100.0,
        0.0 if first.pattern == second.pattern else _MAKER_SPREAD,
    )
    fraction = Interval(tread + low - reach, tread + bars * _PER_BAR.best, tread + high + reach)
    percent = Interval(100.0 * fraction.low, 100.0 * fraction.best, 100.0 * fraction.high)
    is_real = fraction.low > 0.0 or fraction.high < 0.0
    least = min(abs(fraction.low), abs(fraction.high))
    most = max(abs(fraction.low), abs(fraction.high))

    def period_s(part: float) -> float:
        difference_mm = 1000.0 * part * circumference_m
        return beat_period(difference_mm, Interval.exact(speed_kmh), Interval.exact(circumference_m)).best

    likely = period_s(abs(fraction.best)) if is_real else None
    longest = period_s(least) if is_real else None
    return PairDifference(first.place, second.place, percent, is_real, period_s(most), likely, longest)
