"""One order, brought down to zero frequency: how strong and at what phase it is from moment to moment.

The recording is multiplied by the turning pointer e^(-2 pi i order turns), low-passed, thinned, and laid out evenly
over the turns of the wheel, so that a true order is a constant pointer whatever the speed does. Beside it stands the
local level of what surrounds the order, so that a rough stretch of road or a pothole counts for less.

What it cannot do: an order above half the recording's rate is not there, and one above 0.4 of it is weakened by the
sensor and by resampling.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vibdiag.recording.angle import Course
from vibdiag.recording.clean import FILTER_BLOCKS, EvenRecording, thin
from vibdiag.recording.interpolate import cubic
from vibdiag.recording.signal import FloatArray

__all__ = ["LEAST_USABLE_S", "ComplexArray", "Envelope", "demodulate"]

ComplexArray = npt.NDArray[np.complex128]
LEAST_USABLE_S = 4.0
_LEAST_RATE_HZ = 10.0
_FLAT_SHARE = 0.28  # of the thinned rate: within this of the order the filter is flat to 1 %
_LEVEL_S = 4.0  # over which the local level is averaged
_CACHED = 32768  # samples
_NEAR_S = 0.8  # slower than this counts as the order itself, not as its surroundings


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """An order of all channels, evenly over the turns of the wheel.

    order: per turn of the wheel. step_turns: between points. pointer: (channels, K) complex; its modulus is the
    amplitude (zero to peak) in the channel's unit. spread: (channels, K), local noise density on an arbitrary scale,
    infinite where the recording is not usable. turns, rotation_hz: (K,), by the first circumference. flat_hz: how far
    from the order the filter is flat.
    """

    order: float
    step_turns: float
    pointer: ComplexArray
    spread: FloatArray
    turns: FloatArray
    rotation_hz: FloatArray
    flat_hz: float

    @property
    def mean_rotation_hz(self) -> float:
        """Turns per second of the wheel, averaged over the usable turns."""
        usable = np.isfinite(self.spread[0])
        return float(1.0 / np.mean(1.0 / self.rotation_hz[usable]))


def demodulate(even: EvenRecording, course: Course, *, order: float) -> Envelope | None:
    """Bring one order of the wheel down to zero frequency.

    Returns None when it lies above 0.45 of the recording's rate at the usual speed, or when less than
    LEAST_USABLE_S are usable.
    """
    rotation = course.speed_ms / course.circumference_m
    if np.count_nonzero(course.usable) < LEAST_USABLE_S * even.rate_hz:
        return None
    fast = float(np.quantile(rotation[course.usable], 0.95))
    if order * fast > 0.45 * even.rate_hz:
        return None
    block = max(int(even.rate_hz / max(_LEAST_RATE_HZ, 0.45 * order * fast)), 1)
    rate = even.rate_hz / block
    weight = course.usable.astype(np.float64)
    all_usable = bool(course.usable.all())
    pointer = _thinned_pointer(even.values, course.turns, None if all_usable else weight, order=order, block=block)
    count = pointer.shape[1]
    centre = np.arange(count) * block + (6 * block - 1) / 2.0
    index = np.arange(course.turns.size)
    usable = thin(weight, block)[:count] > 0.95 if not all_usable else np.ones(count, dtype=np.bool_)
    level = np.stack([_level(row, usable, rate) for row in pointer])
    turns = np.interp(centre, index, course.turns)
    hz = np.interp(centre, index, rotation)
    step = fast / rate
    grid = np.arange(turns[0], turns[-1], step)
    place = np.interp(grid, turns, np.arange(count))
    near = np.clip(np.round(place).astype(np.intp), 0, count - 1)
    seen = usable[near] & usable[np.clip(near + 1, 0, count - 1)] & usable[np.clip(near - 1, 0, count - 1)]
    grid_hz = np.maximum(np.interp(place, np.arange(count), hz), 0.1)
    spread = np.where(seen, level[:, near] * grid_hz, np.inf)
    return Envelope(order, step, cubic(pointer, place), spread, grid, grid_hz, _FLAT_SHARE * rate)


def _thinned_pointer(
    values: FloatArray, turns: FloatArray, weight: FloatArray | None, *, order: float, block: int
) -> ComplexArray:
    """(channels, K). In stretches that fit the processor's cache: an hour at a high rate does not."""
    kept = turns.size // block - FILTER_BLOCKS + 1
    out = np.empty((values.shape[0], kept), dtype=np.complex128)
    per_stretch = max(_CACHED // block, 8 * FILTER_BLOCKS)
    for begin in range(0, kept, per_stretch):
        end = min(begin + per_stretch, kept)
        part = slice(begin * block, (end + FILTER_BLOCKS - 1) * block)
        angle = (-2.0 * np.pi * order) * turns[part]
        double = 2.0 if weight is None else 2.0 * weight[part]
        cosine, sine = double * np.cos(angle), double * np.sin(angle)
        for row in range(values.shape[0]):
            piece = values[row, part]
            out[row, begin:end].real = thin(piece * cosine, block)
            out[row, begin:end].imag = thin(piece * sine, block)
    return out


def _level(pointer: ComplexArray, usable: npt.NDArray[np.bool_], rate_hz: float) -> FloatArray:
    """Local mean square of what is near the order but not on it; half local, half overall, so that it cannot vanish."""
    weight = usable.astype(np.float64)
    near = max(int(_NEAR_S * rate_hz) // 2, 1)
    wide = max(int(_LEVEL_S * rate_hz) // 2, 2)
    slow = _box(pointer * weight, near) / np.maximum(_box(weight, near), 1e-9)
    power = np.abs(pointer - slow) ** 2 * weight
    # twice a box: a local mean that does not jump
    total, seen = _box(_box(power, wide), wide), _box(_box(weight, wide), wide)
    local = total / np.maximum(seen, 1e-9)
    overall = float(power.sum() / max(weight.sum(), 1.0))
    return np.asarray(np.maximum(local, 0.02 * overall) + 1e-30, dtype=np.float64)


def _box(values: npt.NDArray[np.float64] | ComplexArray, half: int) -> npt.NDArray[np.float64] | ComplexArray:
    """Centred sum over 2 half + 1 values, over fewer at the ends."""
    total = np.concatenate((np.zeros(1, dtype=values.dtype), np.cumsum(values)))
    index = np.arange(values.size)
    high, low = np.minimum(index + half + 1, values.size), np.maximum(index - half, 0)
    return np.asarray(total[high] - total[low])
