"""Amplitude of an order over speed, each value with its interval.

The phase of each slot is foretold from all other slots (forwards and backwards along the hidden Markov chain), so
that the slot's own noise cannot bend the phase towards itself; the amplitude is then an ordinary least-squares slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vibdiag.recording.phase_path import foretold_pointers, slot_points, slots_of
from vibdiag.recording.search import Trial
from vibdiag.recording.signal import FloatArray

__all__ = ["SpeedPoint", "amplitude_at", "amplitude_over_speed"]

_SURE = 1.645
_POWERS = (0.0, 1.0, 2.0, 3.0, 4.0)
_LEAST_CHANGE = 0.03
_NEAR = 0.17


@dataclass(frozen=True, slots=True)
class SpeedPoint:
    """Amplitude (zero to peak, the channel's unit) about one speed; interval: 90 %. seconds: how long it was seen."""

    speed_kmh: float
    amplitude: float
    interval: tuple[float, float]
    seconds: float


def amplitude_over_speed(
    trial: Trial, *, stretch: float, amplitude: float, circumference_m: float, step_kmh: float = 5.0
) -> tuple[SpeedPoint, ...]:
    """Amplitude in steps of speed.

    stretch, amplitude: of the order as found. circumference_m: the first idea of it, which the trial's angle was
    reckoned with. Steps seen for less than three seconds are left out.
    """
    index = int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))
    slots = slots_of(
        trial.envelope,
        trial.channel,
        noise=trial.noise(index),
        diffusion=trial.diffusion,
        stretches=np.array([stretch]),
    )
    faster = slots.rotation_hz / float(np.average(slots.rotation_hz, weights=slots.information))
    expected = np.full(faster.size, amplitude)
    for last in (False, True):
        pointer = foretold_pointers(slots, expected)
        turned = slots.score[0] * np.conj(pointer)
        along, weight = turned.real, slots.information * np.abs(pointer) ** 2
        power, level = _growth(faster, along, weight)
        if not last:
            expected = amplitude * faster**power
    # how sure a foretold phase is depends on the strength of the walk; on average it has to give what was found
    whole = level * float(np.average(faster**power, weights=slots.information))
    scale = float(np.clip(amplitude / whole, 0.8, 1.25)) if whole > 0.0 else 1.0
    speed_kmh = 3.6 * slots.rotation_hz * circumference_m
    turns = trial.envelope.step_turns * slot_points(trial.envelope, trial.diffusion)
    seconds = turns / slots.rotation_hz
    step = np.round(speed_kmh / step_kmh).astype(np.intp)
    points = []
    for each in np.unique(step):
        here = (step == each) & (slots.information > 0.0)
        total = float(weight[here].sum())
        if seconds[here].sum() < 3.0 or total <= 0.0:
            continue
        best = scale * float(along[here].sum()) / total
        # what stands across the foretold phase is noise, and says how much of it there is at this speed
        louder = float(np.sum(turned.imag[here] ** 2)) / (0.5 * total)
        spread = scale * _SURE * float(np.sqrt(0.5 / total * max(louder, 1.0)))
        points.append(
            SpeedPoint(
                float(np.average(speed_kmh[here], weights=seconds[here])),
                max(best, 0.0),
                (max(best - spread, 0.0), max(best + spread, 0.0)),
                float(seconds[here].sum()),
            )
        )
    return tuple(points)


def amplitude_at(points: Sequence[SpeedPoint], speed_kmh: float) -> tuple[float, tuple[float, float]] | None:
    """Amplitude at one speed and its 90 % interval, from a line through the points within a sixth of that speed.

    One number for a whole sweep leans towards where the order stood out; at the mean speed it means what a held speed
    would have shown. None when fewer than three points lie there.
    """
    near = [point for point in points if abs(point.speed_kmh / speed_kmh - 1.0) < _NEAR and point.interval[1] > 0.0]
    if len(near) < 3:
        return None
    away = np.array([point.speed_kmh / speed_kmh - 1.0 for point in near])
    value = np.array([point.amplitude for point in near])
    error = np.array([(point.interval[1] - point.amplitude) / _SURE for point in near])
    error = np.maximum(error, 0.2 * float(np.median(error)) + 1e-12)
    columns = np.stack([np.ones(away.size), away], axis=1) / error[:, None]
    covariance = np.linalg.inv(columns.T @ columns)
    answer = covariance @ columns.T @ (value / error)
    left = float(np.sum((value / error - columns @ answer) ** 2)) / max(away.size - 2, 1)
    spread = _SURE * float(np.sqrt(covariance[0, 0] * max(left, 1.0)))
    best = max(float(answer[0]), 0.0)
    return best, (max(best - spread, 0.0), best + spread)


def _growth(faster: FloatArray, along: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """The power of speed that the amplitude grows with, 0 to 4 (imbalance alone makes 2 and the body bends it), and the
    amplitude at the mean speed."""
    steady = float(np.std(faster)) < _LEAST_CHANGE
    fits = []
    for power in _POWERS[:1] if steady else _POWERS:
        shape = faster**power
        level = float(along @ shape) / max(float(weight @ shape**2), 1e-300)
        fits.append((level * float(along @ shape), power, level))
    _, power, level = max(fits)
    return power, level
