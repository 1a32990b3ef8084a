"""How the car was driven: the true speed, second by second."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.signal import FloatArray

__all__ = ["Drive", "true_speed"]


@dataclass(frozen=True, slots=True)
class Drive:
    """A drive from start_kmh to end_kmh (a held speed when they are equal).

    wander_ms: standard deviation of the slow wander of a right foot about that, m/s. wander_s: how slow, s. stops:
    whether the car stands still in the middle fifth.
    """

    seconds: float = 60.0
    start_kmh: float = 100.0
    end_kmh: float | None = None
    wander_ms: float = 0.35
    wander_s: float = 4.0
    stops: bool = False


def true_speed(rng: np.random.Generator, drive: Drive, time_s: FloatArray) -> FloatArray:
    """Speed in m/s at these evenly spaced times, never below zero."""
    end_kmh = drive.start_kmh if drive.end_kmh is None else drive.end_kmh
    share = np.clip(time_s / drive.seconds, 0.0, 1.0)
    speed = (drive.start_kmh + (end_kmh - drive.start_kmh) * share) / 3.6
    if drive.wander_ms > 0.0:
        knots = np.arange(time_s[0] - 4.0 * drive.wander_s, time_s[-1] + 4.0 * drive.wander_s, drive.wander_s / 8.0)
        kernel = np.exp(-0.5 * (np.arange(-24, 25) / 4.0) ** 2)  # half the wander time is its standard deviation
        kernel /= np.sqrt(np.sum(kernel**2))
        wander = np.convolve(rng.normal(0.0, drive.wander_ms, knots.size + 48), kernel, mode="valid")
        speed = speed + np.interp(time_s, knots, wander)
    if drive.stops:
        speed = speed * np.clip(np.abs(share - 0.5) * 10.0 - 1.0, 0.0, 1.0)
    return np.maximum(speed, 0.0)
