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

from vibdiag.recording.signal import FloatArray
from vibdiag.recording.speed import SmoothSpeed, averaged

__all__ = ["PossibleSpeed", "possible_speeds"]

_WANDERS_MS = (0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
_WANDER_S = (3.0, 10.0)
_NOISES_MS = (0.02, 0.03, 0.05, 0.07, 0.1, 0.14, 0.2, 0.28, 0.4, 0.6)
_STEADY = 0.2  # before the readings are seen: one drive in five is held without any wander (from memory)
_STEP_S = 0.25
_READ_EVERY_S = 1.0
_MOST = 8
_LEAST = 1e-4


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


def possible_speeds(speed: SmoothSpeed, *, begin_s: float, end_s: float) -> tuple[PossibleSpeed, ...]:
    """The likeliest courses between two times, the steady one first, whatever its chance.

    The smooth course itself is among them, with half the chance of all that are not steady: it follows what a wander
    about one mean does not, such as a sweep. Returns () where fewer than eight readings lie between the times.
    """
    inside = (speed.read_s >= begin_s - 2.0) & (speed.read_s <= end_s + 2.0)
    if np.count_nonzero(inside) < 8:
        return ()
    time, read = averaged(speed.read_s[inside], speed.read_ms[inside], least_s=_READ_EVERY_S)
    if time.size < 8:
        return ()
    knots = np.arange(begin_s, end_s + _STEP_S, _STEP_S)
    mean = float(read.mean())
    about = read - mean
    noise = np.array(_NOISES_MS)
    steady = -0.5 * float(about @ about) / noise**2 - (time.size - 1) * np.log(noise)
    shapes = [_Shape(time, about, wander_s) for wander_s in _WANDER_S]
    wandering = [(shape, wander, shape.likelihoods(wander, noise)) for shape in shapes for wander in _WANDERS_MS]
    log_steady = float(np.log(_STEADY) + np.logaddexp.reduce(steady))
    shared = np.log((1.0 - _STEADY) / len(wandering))
    logs = np.array([shared + np.logaddexp.reduce(each) for _, _, each in wandering])
    total = float(np.logaddexp(log_steady, np.logaddexp.reduce(logs)))
    found = [PossibleSpeed(float(np.exp(log_steady - total)), 0.0, knots, np.full(knots.size, mean), 0.0)]
    moving = 1.0 - found[0].chance
    chances = np.exp(logs - total)
    step = float(np.median(np.diff(time)))
    for index in np.argsort(-chances)[:_MOST]:
        shape, wander, each = wandering[index]
        if chances[index] < _LEAST:
            break
        sure = float(noise[int(np.argmax(each))])
        course = mean + shape.course(knots, wander, sure)
        # low frequencies of the error that is left: density S_v S_n / (S_v + S_n)
        walk = 1.0 / (1.0 / (wander**2 * shape.correlated_s) + 1.0 / (sure**2 * step))
        found.append(PossibleSpeed(0.5 * float(chances[index]), wander, knots, course, walk))
    spread = float(np.sqrt(chances @ np.array([wander**2 for _, wander, _ in wandering]) / max(moving, 1e-300)))
    found.append(PossibleSpeed(0.5 * moving, spread, knots, speed.at(knots), speed.walk_m2_per_s))
    return tuple(found)


class _Shape:
    """A wander of one duration: its covariance with the mean taken out, diagonal once for all strengths."""

    def __init__(self, time: FloatArray, about: FloatArray, wander_s: float) -> None:
        self._rate = np.sqrt(3.0) / wander_s
        self.correlated_s = 4.0 / self._rate  # integral of the correlation over all lags
        self._time, self._about = time, about
        centred = np.eye(time.size) - 1.0 / time.size
        values, vectors = np.linalg.eigh(centred @ self._correlation(time) @ centred)
        turned = vectors.T @ about
        inner = np.arange(time.size) != int(np.argmin(values))  # without the mean's own direction
        self._values, self._squares = np.maximum(values[inner], 0.0), turned[inner] ** 2

    def _correlation(self, at: FloatArray) -> FloatArray:
        apart = self._rate * np.abs(at[:, None] - self._time[None, :])
        return np.asarray((1.0 + apart) * np.exp(-apart), dtype=np.float64)

    def likelihoods(self, wander_ms: float, noise_ms: FloatArray) -> FloatArray:
        """Log likelihood of the readings for each noise, up to what all shapes share."""
        variance = wander_ms**2 * self._values[None, :] + noise_ms[:, None] ** 2
        return np.asarray(-0.5 * np.sum(self._squares / variance + np.log(variance), axis=1), dtype=np.float64)

    def course(self, at: FloatArray, wander_ms: float, noise_ms: float) -> FloatArray:
        """Mean wander at these times, given the readings."""
        covariance = wander_ms**2 * self._correlation(self._time) + noise_ms**2 * np.eye(self._time.size)
        weights = np.linalg.solve(covariance, self._about)
        return np.asarray(wander_ms**2 * (self._correlation(at) @ weights), dtype=np.float64)
