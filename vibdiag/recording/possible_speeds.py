"""What the true speed may have been, given noisy readings: several courses, each with its probability.

A smoother returns one course, and every use of it forgets that a steady speed would have explained the readings as
well. Here the speed is a Gaussian process about its mean (Matern 3/2; Rasmussen and Williams, Gaussian Processes for
Machine Learning, 2006, sections 2.2, 4.2.1 and 5.4.1); how far and how fast it wandered, and how noisy the readings
are, is not assumed but weighed by the likelihood of the readings with the mean taken out. One of the courses is the
steady speed, so that a course of readings that is noise and nothing else is recognised as that.

What it cannot do: errors of the readings that are themselves slow look like changes of speed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.angle import SLOWEST_MS
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.speed import SmoothSpeed, averaged

__all__ = ["PossibleSpeed", "ReadSpeed", "Wander", "matern", "possible_speeds", "read_speed"]

_WANDERS_MS = (0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
_WANDER_S = (3.0, 10.0)
_NOISES_MS = (0.02, 0.03, 0.05, 0.07, 0.1, 0.14, 0.2, 0.28, 0.4, 0.6)
_STEADY = 0.2  # before the readings are seen: one drive in five is held without any wander (from memory)
_STEP_S = 0.25
_READ_EVERY_S = 1.0
_MOST = 8
_LEAST = 1e-4
_FEWEST = 8


@dataclass(frozen=True, slots=True, eq=False)
class PossibleSpeed:
    """One course of the speed.

    chance: 0 to 1, all courses of a set summing to one. wander_ms: standard deviation that it was drawn with, 0 for the
    steady one. time_s, speed_ms: (K,). walk_m2_per_s: how fast the variance of the distance grows about it.
    """

    chance: float
    wander_ms: float
    time_s: FloatArray
    speed_ms: FloatArray
    walk_m2_per_s: float

    def at(self, time_s: FloatArray) -> FloatArray:
        """Speed at these times, m/s; held beyond the ends."""
        return np.interp(time_s, self.time_s, self.speed_ms)


@dataclass(frozen=True, slots=True)
class Wander:
    """One way in which the speed may have wandered about its mean.

    chance: 0 to 1, of this way among all and the steady speed. wander_ms: standard deviation. wander_s: how long it
    keeps its sign (the length of a Matern 3/2 covariance). noise_ms: the likeliest standard deviation of a reading.
    """

    chance: float
    wander_ms: float
    wander_s: float
    noise_ms: float


@dataclass(frozen=True, slots=True, eq=False)
class ReadSpeed:
    """Readings of a speed and what they say of its wander.

    time_s, read_ms: (R,). steady: chance that it did not wander. wanders: the likeliest first.
    """

    time_s: FloatArray
    read_ms: FloatArray
    steady: float
    wanders: tuple[Wander, ...]

    @property
    def spread_ms(self) -> float:
        """Expected standard deviation of the true speed, m/s."""
        return float(np.sqrt(sum(each.chance * each.wander_ms**2 for each in self.wanders)))


def read_speed(speed: SmoothSpeed, *, begin_s: float, end_s: float) -> ReadSpeed | None:
    """Weigh the wanders by the readings between two times at which the car moves; None where fewer than eight are."""
    inside = (speed.read_s >= begin_s - 2.0) & (speed.read_s <= end_s + 2.0) & (speed.read_ms >= SLOWEST_MS)
    if np.count_nonzero(inside) < _FEWEST:
        return None
    time, read = averaged(speed.read_s[inside], speed.read_ms[inside], least_s=_READ_EVERY_S)
    if time.size < _FEWEST:
        return None
    about = read - float(read.mean())
    noise = np.array(_NOISES_MS)
    steady = -0.5 * float(about @ about) / noise**2 - (time.size - 1) * np.log(noise)
    log_steady = float(np.log(_STEADY) + np.logaddexp.reduce(steady))
    ways, logs = [], []
    shared = np.log((1.0 - _STEADY) / (len(_WANDER_S) * len(_WANDERS_MS)))
    for wander_s in _WANDER_S:
        shape = _Shape(time, about, wander_s)
        for wander_ms in _WANDERS_MS:
            each = shape.likelihoods(wander_ms, noise)
            ways.append((wander_ms, wander_s, float(noise[int(np.argmax(each))])))
            logs.append(float(shared + np.logaddexp.reduce(each)))
    total = float(np.logaddexp.reduce([log_steady, *logs]))
    chances = np.exp(np.array(logs) - total)
    order = np.argsort(-chances)
    return ReadSpeed(
        time, read, float(np.exp(log_steady - total)), tuple(Wander(float(chances[k]), *ways[k]) for k in order)
    )


def possible_speeds(speed: SmoothSpeed, *, begin_s: float, end_s: float) -> tuple[PossibleSpeed, ...]:
    """The likeliest courses between two times, the steady one first, whatever its chance.

    The smooth course itself is among them, with half the chance of all that are not steady: it follows what a wander
    about one mean does not, such as a sweep. Returns () where fewer than eight readings lie between the times.
    """
    heard = read_speed(speed, begin_s=begin_s, end_s=end_s)
    if heard is None:
        return ()
    knots = np.arange(begin_s, end_s + _STEP_S, _STEP_S)
    mean = float(heard.read_ms.mean())
    found = [PossibleSpeed(heard.steady, 0.0, knots, np.full(knots.size, mean), 0.0)]
    step = float(np.median(np.diff(heard.time_s)))
    for each in heard.wanders[:_MOST]:
        if each.chance < _LEAST:
            break
        covariance = matern(knots, heard.time_s, each)
        own = matern(heard.time_s, heard.time_s, each) + each.noise_ms**2 * np.eye(heard.time_s.size)
        course = mean + covariance @ np.linalg.solve(own, heard.read_ms - mean)
        # low frequencies of the error that is left: density S_v S_n / (S_v + S_n)
        correlated_s = 4.0 * each.wander_s / np.sqrt(3.0)  # integral of the correlation over all lags
        walk = 1.0 / (1.0 / (each.wander_ms**2 * correlated_s) + 1.0 / (each.noise_ms**2 * step))
        found.append(PossibleSpeed(0.5 * each.chance, each.wander_ms, knots, course, walk))
    moving = 1.0 - heard.steady
    spread = heard.spread_ms / float(np.sqrt(max(moving, 1e-300)))
    found.append(PossibleSpeed(0.5 * moving, spread, knots, speed.at(knots), speed.walk_m2_per_s))
    return tuple(found)


def matern(first_s: FloatArray, second_s: FloatArray, wander: Wander) -> FloatArray:
    """(F, S) covariance of the wander at two sets of times, m2/s2."""
    apart = (np.sqrt(3.0) / wander.wander_s) * np.abs(first_s[:, None] - second_s[None, :])
    return np.asarray(wander.wander_ms**2 * (1.0 + apart) * np.exp(-apart), dtype=np.float64)


class _Shape:
    """A wander of one duration: its covariance with the mean taken out, diagonal once for all strengths."""

    def __init__(self, time: FloatArray, about: FloatArray, wander_s: float) -> None:
        centred = np.eye(time.size) - 1.0 / time.size
        correlation = matern(time, time, Wander(1.0, 1.0, wander_s, 0.0))
        values, vectors = np.linalg.eigh(centred @ correlation @ centred)
        turned = vectors.T @ about
        inner = np.arange(time.size) != int(np.argmin(values))  # without the mean's own direction
        self._values, self._squares = np.maximum(values[inner], 0.0), turned[inner] ** 2

    def likelihoods(self, wander_ms: float, noise_ms: FloatArray) -> FloatArray:
        """Log likelihood of the readings for each noise, up to what all shapes share."""
        variance = wander_ms**2 * self._values[None, :] + noise_ms[:, None] ** 2
        return np.asarray(-0.5 * np.sum(self._squares / variance + np.log(variance), axis=1), dtype=np.float64)
