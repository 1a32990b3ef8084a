"""The engine's speed from its own shake, where nobody recorded it: the strongest line that wanders through the
spectrum.

Every second a whitened spectrum is taken between the lowest and highest firing frequency; the path of most power that
does not jump is found by dynamic programming (Viterbi). It is believed only when its line stands out in most of the
seconds.

What it cannot do: tell the engine from another strong line in the same range, such as a propshaft's; so it leaves out
whatever is geared to the wheels at a fixed ratio, and an engine in one gear at a steady ratio with it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.signal import EngineTrack, FloatArray
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["trace_engine"]

_WINDOW_S = 2.0
_HOP_S = 1.0
_CHANGE_HZ = 4.0  # the firing frequency may change so much from one second to the next (from memory)
_STANDS_OUT = 10.0  # times its surroundings, median over the path; road alone reached 7.3 (25 drives of the car model)
_TIED = 0.004  # relative spread of a ratio to the wheels that counts as fixed


def trace_engine(
    even: EvenRecording,
    *,
    channel: int,
    cylinders: int,
    strokes: int = 4,
    rev_per_s: tuple[float, float] = (11.0, 100.0),
    speed: SmoothSpeed | None = None,
) -> EngineTrack | None:
    """Trace the firing frequency and divide it by the firings per turn.

    channel: index into the even recording. rev_per_s: lowest and highest engine speed thought of. speed: of the car, to
    leave out lines that are tied to the wheels. Returns None when no line stands out or the rate is too low.
    """
    firings = cylinders * 2.0 / strokes
    low, high = firings * rev_per_s[0], min(firings * rev_per_s[1], 0.42 * even.rate_hz)
    size, hop = int(_WINDOW_S * even.rate_hz), int(_HOP_S * even.rate_hz)
    starts = np.arange(0, even.good.size - size + 1, hop)
    if high < low + 10.0 or starts.size < 10:
        return None
    taper = np.hanning(size)
    padded = 2 * size
    frames = np.stack([np.fft.rfft(taper * even.values[channel, s : s + size], padded) for s in starts])
    frequency = np.arange(padded // 2 + 1, dtype=np.float64) * (even.rate_hz / padded)
    power = _white(np.abs(frames) ** 2, reach=max(int(3.0 / frequency[1]), 3))
    band = (frequency >= low) & (frequency <= high)
    path = _path(np.log(power[:, band] + 1e-12), most=max(int(_CHANGE_HZ * _HOP_S / frequency[1]), 1))
    along = power[:, band][np.arange(starts.size), path]
    if float(np.median(along)) < _STANDS_OUT:
        return None
    firing_hz = frequency[band][path]
    time = even.start_s + (starts.astype(np.float64) + size / 2.0) / even.rate_hz
    if speed is not None:
        moving = speed.at(time) > 3.0
        ratio = firing_hz[moving] / speed.at(time)[moving]
        wide = np.ptp(speed.at(time)[moving]) > 1.0 if moving.any() else False
        if wide and float(np.std(ratio) / np.mean(ratio)) < _TIED:
            return None
    return EngineTrack(time, firing_hz / firings)


def _white(power: FloatArray, *, reach: int) -> FloatArray:
    """Each frame over the median of its surroundings, taken from the frames' mean and the frame's own level."""
    mean = np.median(power, axis=0)
    padded = np.pad(mean, reach, mode="edge")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1), axis=1)
    level = np.median(power / around, axis=1, keepdims=True)
    return np.asarray(
        power / (around * level * 1.44), dtype=np.float64
    )  # the median of noise power is 0.69 of its mean


def _path(score: FloatArray, *, most: int) -> npt.NDArray[np.intp]:
    frames, bins = score.shape
    best, came = score[0].copy(), np.zeros((frames, bins), dtype=np.intp)
    shift = np.arange(-most, most + 1)
    for frame in range(1, frames):
        padded = np.pad(best, most, constant_values=-np.inf)
        options = np.lib.stride_tricks.sliding_window_view(padded, 2 * most + 1) - 0.5 * (shift / most) ** 2
        step = np.argmax(options, axis=1)
        came[frame] = np.arange(bins) + shift[step]
        best = options[np.arange(bins), step] + score[frame]
    path = np.empty(frames, dtype=np.intp)
    path[-1] = int(np.argmax(best))
    for frame in range(frames - 1, 0, -1):
        path[frame - 1] = came[frame, path[frame]]
    return path
