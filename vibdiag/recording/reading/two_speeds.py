"""By how much one recorded speed reads more than another: the circumference found by either differs by as much."""

from __future__ import annotations

import numpy as np

from vibdiag.recording.signal import FloatArray

__all__ = ["reads_more"]

_LAGS_S = np.arange(-1.0, 1.01, 0.05)  # a satellite's stamps may be late by up to a second (from memory)
_LEAST_READINGS, _LEAST_S = 20, 20.0
_WORTH_SAYING = 0.003
_SURE = 3.0


def reads_more(
    time_s: FloatArray, speed_ms: FloatArray, other_time_s: FloatArray, other_speed_ms: FloatArray
) -> float | None:
    """Share by which the other speed reads more (below zero: less), by least squares at the lag that fits best.

    All (N,) or (M,), in s and m/s. None where they share too little time, or agree within 0.3 % or three standard
    errors.
    """
    order = np.argsort(time_s, kind="stable")
    time_s, speed_ms = time_s[order], speed_ms[order]
    fits: list[tuple[float, float, float]] = []
    for lag_s in _LAGS_S:
        at = other_time_s - lag_s
        seen = (at >= time_s[0]) & (at <= time_s[-1]) & np.isfinite(other_speed_ms)
        mine, other = np.interp(at[seen], time_s, speed_ms), other_speed_ms[seen]
        power = float(mine @ mine)
        if np.count_nonzero(seen) < _LEAST_READINGS or np.ptp(at[seen]) < _LEAST_S or not power > 0.0:
            continue
        ratio = float(mine @ other) / power
        left = float(np.sqrt(np.mean((other - ratio * mine) ** 2)))
        fits.append((left, ratio - 1.0, left / float(np.sqrt(power))))
    if not fits:
        return None
    _, more, error = min(fits)
    return more if abs(more) > max(_WORTH_SAYING, _SURE * error) else None
