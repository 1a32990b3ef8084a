"""The true speed from what a satellite receiver, the wheels or a hand noted: smoothed, with its noise and its delay.

Smoothing is a penalised second difference (Whittaker 1923; Eilers, Analytical Chemistry 75, 2003, 3631): the stiffness
is chosen by how well every second value is foretold from the others. Noise that is left in the distance grows as a
random walk, sigma^2 * step per second, and that is what limits how long a wheel can be followed coherently.

What it cannot do: a constant error of scale is not seen here (the order search finds it, together with the tyre); noise
that is itself slow looks like speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from vibdiag.recording.signal import FloatArray, SpeedTrack

__all__ = ["DELAY_S", "SmoothSpeed", "averaged", "smooth_speed"]

# Delay to expect between the road and the stamp (from memory; the order search may find another)
DELAY_S = MappingProxyType({"gps": 0.4, "wheel-speed": 0.0, "obd": 0.3, "cruise": 0.0, "unknown": 0.2})
_KNOT_S = 0.25
_STIFFNESS = (0.1, 1.0, 10.0, 100.0, 1e3, 1e4, 1e5)
_LEAST_NOISE_MS = 0.01
_LONGEST_FORETOLD_S = 15.0
_HELD_WANDER_MS, _HELD_MEMORY_S = 0.15, 4.0  # of a carefully held speed (from memory)


@dataclass(frozen=True, slots=True, eq=False)
class SmoothSpeed:
    """Speed on even knots.

    time_s, speed_ms: (K,). noise_ms: standard deviation of one reading about the smooth course, m/s. step_s: between
    readings (after averaging to at most 10 a second). heard: (K,), False where readings are more than 3 s apart.
    walk_m2_per_s: how fast the variance of the distance grows, m2/s. delay_s: taken off the stamps. memory_s: for how
    long an error of the smooth course keeps its sign; over shorter times the distance errs less than the walk says.
    read_s, read_ms: (R,), the readings it was made from, delay taken off.
    """

    time_s: FloatArray
    speed_ms: FloatArray
    heard: FloatArray
    noise_ms: float
    step_s: float
    delay_s: float
    memory_s: float
    read_s: FloatArray
    read_ms: FloatArray

    @property
    def walk_m2_per_s(self) -> float:
        """Variance of the distance gained per second, m2/s."""
        return self.noise_ms**2 * self.step_s

    def at(self, time_s: FloatArray) -> FloatArray:
        """Speed at these times, m/s; held beyond the ends."""
        return np.interp(time_s, self.time_s, self.speed_ms)

    def known_at(self, time_s: FloatArray) -> FloatArray:
        """1 where the speed is known at these times, 0 where it is guessed."""
        inside = (time_s >= self.time_s[0] - 1.5) & (time_s <= self.time_s[-1] + 1.5)
        return np.where(inside, np.interp(time_s, self.time_s, self.heard), 0.0)


def smooth_speed(track: SpeedTrack, *, delay_s: float | None = None) -> SmoothSpeed:
    """Smooth a speed track.

    delay_s: by how much the stamps are late; by default what is usual for the source.

    Raises ValueError when fewer than two readings are usable.
    """
    if delay_s is None:
        delay_s = DELAY_S[track.source]
    usable = np.isfinite(track.time_s) & np.isfinite(track.speed_ms) & (track.speed_ms >= 0.0)
    order = np.argsort(track.time_s[usable], kind="stable")
    time, speed = track.time_s[usable][order] - delay_s, track.speed_ms[usable][order]
    keep = np.concatenate(([True], np.diff(time) > 1e-6)) if time.size else np.zeros(0, dtype=np.bool_)
    time, speed = time[keep], speed[keep]
    if time.size < 2:
        raise ValueError(f"The speed has {time.size} usable readings; two is the least.")
    time, speed = averaged(time, speed)
    knots = np.arange(time[0], time[-1] + _KNOT_S, _KNOT_S)
    if knots.size < 8 or time.size < 6:
        # a held speed: what it wandered nobody knows, but a foot wanders slowly
        held = np.interp(knots, time, speed)
        return SmoothSpeed(
            knots, held, np.ones(knots.size), _HELD_WANDER_MS, _HELD_MEMORY_S, delay_s, _HELD_MEMORY_S, time, speed
        )
    weight = _without_leaps(time, speed)
    stiffness = _best_stiffness(knots, time, speed, weight)
    smooth = _whittaker(knots, time, speed, weight, stiffness)
    left = (speed - np.interp(time, knots, smooth))[weight > 0.5]
    noise = max(float(np.sqrt(np.mean(left**2))), _noise_of(speed[weight > 0.5]), _LEAST_NOISE_MS)
    step = float(np.median(np.diff(time)))
    # the smoother passes 1 / (1 + (w t)^4); noise through it is remembered as long as an exponential of 1.9 t
    memory = 1.9 * float((stiffness * _KNOT_S**3 * step) ** 0.25)
    gaps = np.diff(time)
    heard = np.ones(knots.size)
    for index in np.flatnonzero(gaps > max(3.0, 3.0 * step)):
        inside = (knots > time[index] + 0.5) & (knots < time[index + 1] - 0.5)
        heard[inside] = 0.0
        if gaps[index] > _LONGEST_FORETOLD_S:
            # the smoother goes on with the last slope, which after a while is far from any speed the car had
            edges = time[index : index + 2]
            smooth[inside] = np.interp(knots[inside], edges, smooth[_beside(knots, edges)])
    sane = weight > 0.5
    return SmoothSpeed(knots, np.maximum(smooth, 0.0), heard, noise, step, delay_s, memory, time[sane], speed[sane])


def _beside(knots: FloatArray, time: FloatArray) -> npt.NDArray[np.intp]:
    """The knots next to these times."""
    return np.asarray(np.clip(np.round((time - knots[0]) / _KNOT_S), 0, knots.size - 1), dtype=np.intp)


def averaged(time: FloatArray, speed: FloatArray, *, least_s: float = 0.1) -> tuple[FloatArray, FloatArray]:
    """One reading each `least_s` at most, the mean of those it stands for, at their mean time."""
    if np.median(np.diff(time)) >= 0.9 * least_s:
        return time, speed
    slot = np.floor((time - time[0]) / least_s).astype(np.intp)
    first = np.flatnonzero(np.concatenate(([True], np.diff(slot) > 0)))
    count = np.diff(np.append(first, time.size))
    return np.add.reduceat(time, first) / count, np.add.reduceat(speed, first) / count


def _noise_of(speed: FloatArray) -> float:
    """Noise of one reading from fourth differences, which slow changes hardly touch; 1 + 16 + 36 + 16 + 1 = 70."""
    if speed.size < 12:
        return 0.0
    rough = np.abs(np.diff(speed, 4))
    calm = rough[rough <= 5.0 * 1.4826 * np.median(rough)]
    return float(np.sqrt(np.mean(calm**2) / 70.0))


def _without_leaps(time: FloatArray, speed: FloatArray) -> FloatArray:
    """Weight 0 for a reading that leaps away from the median of its neighbours by what no car can do."""
    padded = np.pad(speed, 2, mode="edge")
    middle = np.median(np.stack([padded[k : k + speed.size] for k in range(5)]), axis=0)
    reach = 5.0 * np.maximum(1.0, np.gradient(time)) + 8.0 * _noise_of(speed)
    return np.where(np.abs(speed - middle) > reach, 1e-6, 1.0)


def _best_stiffness(knots: FloatArray, time: FloatArray, speed: FloatArray, weight: FloatArray) -> float:
    every = np.arange(time.size) % 2 == 0
    worst = []
    for stiffness in _STIFFNESS:
        missed = 0.0
        for kept in (every, ~every):
            foretold = np.interp(time, knots, _whittaker(knots, time, speed, weight * kept, stiffness))
            missed += float(np.sum(weight * ~kept * (speed - foretold) ** 2))
        worst.append(missed)
    return _STIFFNESS[int(np.argmin(worst))]


def _whittaker(
    knots: FloatArray, time: FloatArray, speed: FloatArray, weight: FloatArray, stiffness: float
) -> FloatArray:
    """Minimise sum w (v - s)^2 + stiffness * step * integral of (s'')^2 on the knots."""
    from scipy.linalg import solveh_banded  # late: scipy is slow to import

    place = np.clip((time - knots[0]) / _KNOT_S, 0.0, knots.size - 1.000001)
    left = place.astype(np.intp)
    right_share = place - left
    left_share = 1.0 - right_share
    size = knots.size
    bands = np.zeros((3, size))  # upper form: bands[2] the diagonal
    bands[2] += np.bincount(left, weight * left_share**2, size) + np.bincount(left + 1, weight * right_share**2, size)
    bands[1, 1:] += np.bincount(left, weight * left_share * right_share, size)[:-1]
    target = np.bincount(left, weight * left_share * speed, size)
    target += np.bincount(left + 1, weight * right_share * speed, size)
    scale = stiffness
    inner = np.ones(size - 2) * scale
    bands[2, :-2] += inner
    bands[2, 1:-1] += 4.0 * inner
    bands[2, 2:] += inner
    bands[1, 1:-1] -= 2.0 * inner
    bands[1, 2:] -= 2.0 * inner
    bands[0, 2:] += inner
    bands[2] += 1e-9
    return np.asarray(solveh_banded(bands, target), dtype=np.float64)
