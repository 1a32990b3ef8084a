"""From stamps as they came to an even grid: sorted, without repeats, gaps marked, gravity and slow sway taken off.

A fast recording is first thinned with a filter (what is looked for lies below 130 Hz). Stamps even to 2 % of a step are
taken as they are; others are brought onto the grid by a cubic spline. Interpolation loses high frequencies: 0.1 % of
the amplitude at a seventh of the rate, 2 % at a quarter (computed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vibdiag.recording.signal import FloatArray, Recording

__all__ = ["FILTER_BLOCKS", "EvenRecording", "even_out", "thin"]

_THINNED_HZ = 320.0  # twice propshaft of a car at 130 km/h is 130 Hz
_LEAST_THINNED_HZ = 200.0  # for severity
_SWAY_S = 0.8  # each of two running means; the pair leaves 99 % of what is above 3 Hz
_AT_ONCE = 8192  # kept values
_CHECKED = 1 << 16
_GAP_S = 0.25  # a longer hole is not bridged
FILTER_BLOCKS = 6  # length of the thinning filter in blocks: what folds back is held down by 50 dB


@dataclass(frozen=True, slots=True, eq=False)
class EvenRecording:
    """Channels on one even grid.

    rate_hz: of the grid. start_s: time of its first point on the recording's clock. names: of the channels. values:
    (channels, N), without gravity and sway. good: (N,), False within and beside gaps. stamp_rate_hz: of the stamps
    before thinning.
    """

    rate_hz: float
    start_s: float
    names: tuple[str, ...]
    values: FloatArray
    good: npt.NDArray[np.bool_]
    stamp_rate_hz: float

    @property
    def time_s(self) -> FloatArray:
        """(N,), s."""
        return self.start_s + np.arange(self.good.size) / self.rate_hz


def even_out(
    recording: Recording, *, names: Sequence[str] | None = None, thinned_hz: float = _THINNED_HZ
) -> EvenRecording:
    """Bring the named channels (all by default) onto an even grid.

    thinned_hz: a recording at least twice as fast is thinned to no less than this.

    Raises ValueError when fewer than 16 usable stamps are left.
    """
    chosen = tuple(names) if names is not None else tuple(recording.channels)
    stamps = recording.time_s
    rows = [recording.channels[name].values for name in chosen]
    usable = np.isfinite(stamps)
    for row in rows:  # row by row: all at once would double the memory
        usable &= np.isfinite(row)
    if not usable.all():
        stamps, rows = stamps[usable], [row[usable] for row in rows]
    steps = np.diff(stamps)
    if steps.size and steps.min() <= 0.0:
        stamps, first = np.unique(stamps, return_index=True)
        rows = [row[first] for row in rows]
        steps = np.diff(stamps)
    if stamps.size < 16:
        raise ValueError(f"The recording has only {stamps.size} usable stamps; 16 is the least.")
    step = float(np.median(steps[:: max(steps.size // 200_000, 1)]))
    stamp_rate = 1.0 / step
    uneven = _drift(stamps, step) > 0.04 * step
    if uneven:
        step = _mean_step(steps, step)
    rate = 1.0 / step
    factor = int(rate // max(thinned_hz, _LEAST_THINNED_HZ))
    if factor > 1 and stamps.size >= 16 * factor * FILTER_BLOCKS:
        rows = [thin(row, factor) for row in rows]
        at = np.arange(rows[0].size) * factor + (factor * FILTER_BLOCKS - 1) / 2.0
        stamps = np.interp(at, np.arange(stamps.size), stamps) if uneven else stamps[0] + at * step
        step, rate = step * factor, rate / factor
    values = np.stack(rows)
    good = np.ones(stamps.size, dtype=np.bool_)
    if uneven:
        stamps, values, good = _onto_grid(stamps, values, step)
    return EvenRecording(rate, float(stamps[0]), chosen, _without_sway(values, rate), good, stamp_rate)


def thin(values: FloatArray, factor: int) -> FloatArray:
    """Keep one in `factor` values behind a low-pass filter; (..., N) -> (..., about N / factor).

    The first value stands (6 * factor - 1) / 2 samples after the first one given.
    """
    kernel = low_pass(factor)
    count = values.shape[-1] // factor
    kept = count - FILTER_BLOCKS + 1
    if 1 < factor < 8:  # short blocks make a poor matrix product
        used = values[..., : count * factor].reshape(-1, count * factor)
        return np.stack([_thin_row(row, kernel, factor, kept) for row in used]).reshape(*values.shape[:-1], kept)
    if factor == 1:
        rows = [np.convolve(row, kernel, mode="valid") for row in values.reshape(-1, count)]
        return np.stack(rows).reshape(*values.shape[:-1], kept)
    blocks = values[..., : count * factor].reshape(*values.shape[:-1], count, factor)
    shares = blocks @ kernel.reshape(FILTER_BLOCKS, factor).T
    return np.asarray(sum(shares[..., k : k + kept, k] for k in range(FILTER_BLOCKS)), dtype=values.dtype)


def _thin_row(row: FloatArray, kernel: FloatArray, factor: int, kept: int) -> FloatArray:
    """Only the values that are kept, a stretch that fits the processor's cache at a time."""
    out = np.zeros(kept)
    weights = kernel.reshape(FILTER_BLOCKS, factor)
    for begin in range(0, kept, _AT_ONCE):
        end = min(begin + _AT_ONCE, kept)
        phases = row[begin * factor : (end + FILTER_BLOCKS - 1) * factor].reshape(-1, factor).T.copy()
        part = out[begin:end]
        for block in range(FILTER_BLOCKS):
            for phase in range(factor):
                part += weights[block, phase] * phases[phase, block : block + part.size]
    return out


@lru_cache(maxsize=64)
def low_pass(factor: int) -> FloatArray:
    """A Kaiser-windowed low pass of 6 * factor points with its edge at half the thinned rate and a gain of one."""
    place = np.arange(FILTER_BLOCKS * factor) - (FILTER_BLOCKS * factor - 1) / 2.0
    kernel = np.sinc(place / factor) * np.kaiser(place.size, 4.5)
    return np.asarray(kernel / kernel.sum(), dtype=np.float64)


def _drift(stamps: FloatArray, step: float) -> float:
    """How far the stamps stray from an even grid, s; piece by piece, because an hour at a high rate is large."""
    low, high = np.inf, -np.inf
    for begin in range(0, stamps.size, _CHECKED):
        part = stamps[begin : begin + _CHECKED]
        off = part - step * np.arange(begin, begin + part.size)
        low, high = min(low, float(off.min())), max(high, float(off.max()))
    return high - low


def _mean_step(steps: FloatArray, median: float) -> float:
    """The mean step without the gaps: jitter leaves it alone, a lost sample counts as two steps."""
    near = steps[steps < 5.0 * median]
    return float(near.sum() / np.maximum(np.round(near / median), 1.0).sum())


def _onto_grid(
    stamps: FloatArray, values: FloatArray, step: float
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    from scipy.interpolate import CubicSpline  # late: scipy is slow to import

    grid = np.arange(stamps[0], stamps[-1], step)
    close = np.concatenate(
        ([True], np.diff(stamps) > 0.2 * step)
    )  # two stamps almost at once would make a spline swing
    placed = np.asarray(CubicSpline(stamps[close], values[:, close], axis=1)(grid), dtype=np.float64)
    good = np.ones(grid.size, dtype=np.bool_)
    wide = np.flatnonzero(np.diff(stamps) > max(_GAP_S, 3.0 * step))
    for index in wide:
        begin, end = np.searchsorted(grid, (stamps[index] - step, stamps[index + 1] + step))
        good[begin:end] = False
        placed[:, begin:end] = np.linspace(values[:, index], values[:, index + 1], end - begin, axis=1)
    return grid, placed, good


def _without_sway(values: FloatArray, rate_hz: float) -> FloatArray:
    half = max(int(_SWAY_S * rate_hz / 2.0), 1)
    out = np.empty_like(values)
    for row, channel in enumerate(values):
        slow = _running_mean(_running_mean(channel, half), half)
        np.subtract(channel, slow, out=out[row])
    return out


def _running_mean(values: FloatArray, half: int) -> FloatArray:
    """Mean over 2 half + 1 values, over fewer at the ends."""
    total = np.concatenate(([0.0], np.cumsum(values - values[0])))
    size = values.size
    out = np.empty(size)
    whole = 2 * half + 1
    if size > whole:
        inner = out[half : size - half]
        np.subtract(total[whole:], total[:-whole], out=inner)
        inner /= whole
        ends = np.concatenate((np.arange(half), np.arange(size - half, size)))
    else:
        ends = np.arange(size)
    low, high = np.maximum(ends - half, 0), np.minimum(ends + half + 1, size)
    out[ends] = (total[high] - total[low]) / (high - low)
    out += values[0]
    return out
