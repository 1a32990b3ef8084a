"""Imbalance against runout over speed: which of the two shakes the wheel, and from which speed on.

The force of imbalance grows with the square of the speed, U * w^2; that of an eccentric tyre is the same at
every speed, k * e. Both as amplitudes in newtons. What the car makes of the force (its resonances) is not in
here, nor is a tyre's stiffness that varies round it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from vibdiag.rotation import Interval, imbalance_force_n, runout_force_n, wheel_hz

__all__ = ["TYRE_N_PER_MM", "AtSpeed", "ForceOverSpeed", "force_over_speed"]

TYRE_N_PER_MM: Final = Interval(150.0, 200.0, 300.0)  # passenger tyre (from memory)


@dataclass(frozen=True, slots=True)
class AtSpeed:
    """Forces at one speed, N amplitude. together: vertical at the axle, over every angle between the two unless it
    was given. larger: the one whose interval lies wholly above the other's.
    """

    speed_kmh: float
    imbalance_n: Interval
    runout_n: Interval
    together_n: Interval
    larger: Literal["imbalance", "runout", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class ForceOverSpeed:
    """rows: one per speed. equal_at_kmh: where the two are equal; None when one of them can be zero."""

    rows: tuple[AtSpeed, ...]
    equal_at_kmh: Interval | None


def force_over_speed(
    *,
    unbalance_gmm: Interval,
    eccentricity_mm: Interval,
    circumference_m: Interval,
    speeds_kmh: Sequence[float],
    tyre_n_per_mm: Interval = TYRE_N_PER_MM,
    heavy_from_high_deg: float | None = None,
) -> ForceOverSpeed:
    """Table of both forces.

    unbalance_gmm: static residual. eccentricity_mm: first harmonic of radial runout of the tread, half of its
    total reading. heavy_from_high_deg: angle from the tyre's high point to the heavy spot; a heavy spot at the
    high point works against it (it pulls up on top while the high point pushes up at the road).

    >>> found = force_over_speed(unbalance_gmm=Interval.exact(4000), eccentricity_mm=Interval.exact(0.25),
    ...     circumference_m=Interval.exact(1.929), speeds_kmh=[100], tyre_n_per_mm=Interval.exact(200))
    >>> f"{found.rows[0].imbalance_n:.0f} N, {found.rows[0].runout_n:.0f} N, equal at {found.equal_at_kmh:.0f} km/h"
    '33 N, 50 N, equal at 124 km/h'

    Raises ValueError for negative quantities, a speed that is not above zero, or a stiffness of zero.
    """
    if unbalance_gmm.low < 0.0 or eccentricity_mm.low < 0.0 or tyre_n_per_mm.low <= 0.0:
        raise ValueError("Unbalance and eccentricity must be zero or more, and the tyre's stiffness above zero.")
    runout = Interval(
        *(
            runout_force_n(e, tyre_n_per_mm=k)
            for e, k in zip(_three(eccentricity_mm), _three(tyre_n_per_mm), strict=True)
        )
    )
    rows = []
    for speed in speeds_kmh:
        if not (math.isfinite(speed) and speed > 0.0):
            raise ValueError(f"A speed must be above zero, not {speed} km/h.")
        hz = wheel_hz(circumference_m, Interval.exact(speed))
        imbalance = Interval(*(imbalance_force_n(u, f) for u, f in zip(_three(unbalance_gmm), _three(hz), strict=True)))
        rows.append(
            AtSpeed(
                speed,
                imbalance,
                runout,
                _together(imbalance, runout, heavy_from_high_deg),
                _larger(imbalance, runout),
            )
        )
    return ForceOverSpeed(tuple(rows), _equal_at(runout, unbalance_gmm, circumference_m))


def _three(interval: Interval) -> tuple[float, float, float]:
    return interval.low, interval.best, interval.high


def _together(imbalance: Interval, runout: Interval, heavy_from_high_deg: float | None) -> Interval:
    if heavy_from_high_deg is None:
        apart = max(0.0, imbalance.low - runout.high, runout.low - imbalance.high)
        return Interval(apart, math.hypot(imbalance.best, runout.best), imbalance.high + runout.high)
    cosine = math.cos(math.radians(heavy_from_high_deg))

    def length(a: float, b: float) -> float:
        return math.sqrt(max(0.0, a * a + b * b - 2.0 * a * b * cosine))

    # The least lies at a corner or, where the two may cancel, at the foot of the perpendicular.
    points = [(a, b) for a in (imbalance.low, imbalance.high) for b in (runout.low, runout.high)]
    points += [(a, min(runout.high, max(runout.low, a * cosine))) for a in (imbalance.low, imbalance.high)]
    points += [(min(imbalance.high, max(imbalance.low, b * cosine)), b) for b in (runout.low, runout.high)]
    if imbalance.overlaps(runout):
        both = max(imbalance.low, runout.low)
        points.append((both, both))
    lengths = [length(a, b) for a, b in points]
    best = length(imbalance.best, runout.best)
    return Interval(min(*lengths, best), best, max(*lengths, best))


def _larger(imbalance: Interval, runout: Interval) -> Literal["imbalance", "runout", "cannot-tell"]:
    if imbalance.low > runout.high:
        return "imbalance"
    return "runout" if runout.low > imbalance.high else "cannot-tell"


def _equal_at(runout: Interval, unbalance_gmm: Interval, circumference_m: Interval) -> Interval | None:
    """v = C / 2 pi * sqrt(k e / U)."""
    if unbalance_gmm.low <= 1e-9 * unbalance_gmm.high or runout.low <= 0.0:
        return None
    per_gmm = runout.divide(unbalance_gmm.scale(1e-6))
    turns_hz = per_gmm.increasing(lambda ratio: math.sqrt(ratio) / (2.0 * math.pi))
    return turns_hz.multiply(circumference_m).scale(3.6)
