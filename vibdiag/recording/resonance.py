"""Fixed humps that the road excites (wheel hop, mounts): found by comparing the slow with the fast half of a drive.

Whether one narrow line is an order or a fixed frequency is another question: order_or_fixed.py.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["fixed_humps"]


def fixed_humps(even: EvenRecording, speed: SmoothSpeed, *, channel: int) -> tuple[float, ...]:
    """Frequencies (Hz) of humps that stay put while the speed changes: resonances.

    Empty when the fast half of the recording is not at least a tenth faster than the slow half, or nothing stands out
    twofold above its surroundings in both halves.
    """
    size = int(4.0 * even.rate_hz)
    hop = max(size // 2, even.good.size // 300)  # some hundreds of looks are enough
    starts = [s for s in range(0, even.good.size - size + 1, hop) if even.good[s : s + size].all()]
    if len(starts) < 8:
        return ()
    speeds = np.array([float(speed.at(np.array([even.start_s + (s + size / 2.0) / even.rate_hz]))[0]) for s in starts])
    middle = float(np.median(speeds))
    slow, fast = speeds < middle, speeds >= middle
    if not slow.any() or speeds[fast].mean() < 1.1 * speeds[slow].mean():
        return ()
    taper = np.hanning(size)
    spectra = np.stack([np.abs(np.fft.rfft(taper * even.values[channel, s : s + size])) ** 2 for s in starts])
    frequency = np.arange(size // 2 + 1, dtype=np.float64) * (even.rate_hz / size)
    # the mean of logarithms flattens what moves with the speed and keeps what stays
    found = _humps(frequency, np.exp(np.log(spectra + 1e-30).mean(0)))
    allowed = 0.4 * np.log(speeds[fast].mean() / speeds[slow].mean())
    return tuple(
        hz
        for hz in found
        if abs(np.log(_centre(frequency, spectra[fast], hz) / _centre(frequency, spectra[slow], hz))) < allowed
    )


def _centre(frequency: FloatArray, spectra: FloatArray, hz: float) -> float:
    """Where the power about hz has its centre."""
    near = (frequency > 0.75 * hz) & (frequency < 1.33 * hz)
    power = spectra[:, near].mean(0)
    return float(power @ frequency[near] / power.sum())


def _humps(frequency: FloatArray, power: FloatArray) -> list[float]:
    bins = np.exp(np.arange(np.log(3.0), np.log(min(45.0, 0.4 * 2.0 * frequency[-1])), 0.04))
    level = np.array([power[(frequency >= a) & (frequency < max(b, a + 0.5))].mean() for a, b in pairwise(bins)])
    found = []
    for k in range(2, level.size - 2):
        around = np.concatenate((level[max(k - 12, 0) : max(k - 5, 0)], level[k + 6 : k + 13]))
        if level[k] == level[k - 2 : k + 3].max() and around.size and level[k] > 2.0 * np.median(around):
            found.append(float(np.sqrt(bins[k] * bins[k + 1])))
    return found
