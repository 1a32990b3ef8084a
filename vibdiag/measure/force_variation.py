"""Radial force variation of a loaded tyre, where the shop has the machine: its total, its harmonics, its limits.

Forces in N. As with runout, the total is maximum less minimum, and a harmonic's own total is twice its amount.
Force variation holds both shape and stiffness: runout within limits and force over them points to the tyre's
stiffness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.measure.force_speed import TYRE_N_PER_MM
from vibdiag.measure.harmonics import HarmonicFit, fit_harmonics
from vibdiag.measure.judgement import Judgement, Limit, judge, judge_at_least
from vibdiag.measure.limits import limit_for
from vibdiag.measure.readings import Readings, evenly_spaced_deg
from vibdiag.measure.total_reading import TotalReading, total_reading
from vibdiag.rotation import Interval
from vibdiag.units import to_newton

__all__ = ["ForceVariation", "StatedForceVariation", "force_readings", "force_variation", "stated_force_variation"]


@dataclass(frozen=True, slots=True)
class ForceVariation:
    """From readings round the tyre. total, first: judged, peak to peak. as_runout_mm: the total runout that would make
    the first harmonic's force on a tyre of usual stiffness; None when it is not trusted.
    """

    fit: HarmonicFit
    reading: TotalReading
    total: Judgement
    first: Judgement
    as_runout_mm: Interval | None


@dataclass(frozen=True, slots=True)
class StatedForceVariation:
    """From the figures a machine prints: judged, each None when it was not printed."""

    total: Judgement | None
    first: Judgement | None


def force_readings(
    values: Sequence[float | None],
    *,
    angles_deg: Sequence[float] | None = None,
    unit: str = "N",
    resolution: float = 1.0,
    noise: float | None = None,
) -> Readings:
    """Force at angles round the tyre, in N, from N, kN or lbf; resolution and noise in the same unit.

    Raises ValueError as `Readings`, and for an unknown unit.
    """
    one = to_newton(1.0, unit)
    return Readings(
        angles_deg=tuple(evenly_spaced_deg(len(values)) if angles_deg is None else angles_deg),
        values=tuple(None if value is None else one * value for value in values),
        resolution=one * resolution,
        noise=None if noise is None else one * noise,
    )


def force_variation(
    readings_n: Readings,
    *,
    maker_total_n: float | None = None,
    maker_first_n: float | None = None,
    tyre_n_per_mm: Interval = TYRE_N_PER_MM,
) -> ForceVariation:
    """Fit and judge force readings in N against total and first-harmonic limits, both peak to peak.

    Raises ValueError for a limit or a stiffness that is not above zero.
    """
    total_limit = limit_for("radial-force-total", maker=maker_total_n)
    first_limit = limit_for("radial-force-first", maker=maker_first_n)
    fit = fit_harmonics(readings_n)
    reading = total_reading(fit)
    if reading.total is None or fit.first is None:
        total = judge_at_least(reading.at_least, total_limit, what="The force variation")
        return ForceVariation(fit, reading, total, Judgement("cannot-tell", str(fit.untrusted_because)), None)
    first = fit.first.total_reading
    return ForceVariation(
        fit,
        reading,
        judge(reading.total, total_limit, what="The force variation"),
        judge(first, first_limit, what="Its first harmonic"),
        first.divide(tyre_n_per_mm),
    )


def stated_force_variation(
    *,
    total_n: float | None = None,
    first_n: float | None = None,
    error_n: float,
    maker_total_n: float | None = None,
    maker_first_n: float | None = None,
) -> StatedForceVariation:
    """Judge printed peak-to-peak figures. error_n: by how much they may be off (95 %), the machine's own statement or
    the spread of repeated runs; above zero, because no machine is exact.

    >>> stated_force_variation(first_n=110, error_n=15).first.sign
    'over'

    Raises ValueError for a negative force or an error that is not above zero.
    """
    if not (math.isfinite(error_n) and error_n > 0.0):
        raise ValueError(f"The error of the machine's figure must be above zero, not {error_n} N.")
    for value in (total_n, first_n):
        if value is not None and not value >= 0.0:
            raise ValueError(f"A force variation must be zero or more, not {value} N.")
    total_limit = limit_for("radial-force-total", maker=maker_total_n)
    first_limit = limit_for("radial-force-first", maker=maker_first_n)
    return StatedForceVariation(
        _judge_stated(total_n, error_n, total_limit, "The force variation"),
        _judge_stated(first_n, error_n, first_limit, "Its first harmonic"),
    )


def _judge_stated(value_n: float | None, error_n: float, limit: Limit, what: str) -> Judgement | None:
    if value_n is None:
        return None
    return judge(Interval(max(0.0, value_n - error_n), value_n, value_n + error_n), limit, what=what)
