"""Amplitude of an order over speed, each value with its interval.

The phase of each slot is foretold from all other slots (forwards and backwards along the hidden Markov chain), so
that the slot's own noise cannot bend the phase towards itself; the amplitude is then an ordinary least-squares slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.phase_path import foretold_pointers, slot_points, slots_of
from vibdiag.recording.search import Trial

__all__ = ["SpeedPoint", "amplitude_over_speed"]

_SURE = 1.645


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
    pointer = foretold_pointers(slots, amplitude)
    along = (slots.score[0] * np.conj(pointer)).real
    weight = slots.information * np.abs(pointer) ** 2
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
        best = float(along[here].sum()) / total
        spread = _SURE * float(np.sqrt(0.5 / total))
        points.append(
            SpeedPoint(
                float(np.average(speed_kmh[here], weights=seconds[here])),
                max(best, 0.0),
                (max(best - spread, 0.0), max(best + spread, 0.0)),
                float(seconds[here].sum()),
            )
        )
    return tuple(points)
