"""Two wheels that turn almost alike: the swelling and fading of one order, and what it says about their circumferences.

The noise of the speed turns both wheels' pointers together, so it is absent from the squared length of their sum,
a^2 + b^2 + 2 a b cos(2 pi order difference turns). A steady line is looked for in that squared length.

What it cannot do: say which two wheels, or which of them is larger; see a beat that does not pass at least twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.alarm import any_of
from vibdiag.recording.phase_path import slot_points, slots_of
from vibdiag.recording.search import Trial

__all__ = ["Beat", "find_beat"]

_LARGEST = 0.03  # circumferences of one car's wheels differ by less (common practice)
_LEAST_PASSES = 2.0
_TRIALS_FACTOR = 2.0  # calibrated on single wheels of the car model


@dataclass(frozen=True, slots=True)
class Beat:
    """difference: of the two circumferences, as a fraction. period_s: at the mean speed. weaker_share: amplitude of the
    weaker wheel over the stronger, 0 to 1. alarm: probability that one wheel and noise show as much."""

    difference: float
    period_s: float
    weaker_share: float
    alarm: float


def find_beat(trial: Trial, *, stretch: float, alarm: float = 0.01) -> Beat | None:
    """Look for a beat in an order that was found.

    stretch: of the order. Returns None when there is none surer than `alarm`, or the recording is too short for two
    passes of any beat.
    """
    index = int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))
    slots = slots_of(
        trial.envelope,
        trial.channel,
        noise=trial.noise(index),
        diffusion=trial.diffusion,
        stretches=np.array([stretch]),
    )
    seen = slots.information > 0.05 * slots.information.max()
    size = slot_points(trial.envelope, trial.diffusion)
    turns = trial.envelope.turns[: size * slots.information.size].reshape(-1, size).mean(1)[seen]
    information = slots.information[seen]
    square = np.abs(slots.score[0][seen] / information) ** 2 - 1.0 / information
    length = float(turns[-1] - turns[0])
    order = trial.candidate.order
    slowest = _LEAST_PASSES / (length * order)
    fastest = min(_LARGEST, 0.4 * turns.size / (length * order))
    if fastest <= 1.5 * slowest or turns.size < 16:
        return None
    place = (turns - turns.mean()) / length
    trend = np.polynomial.polynomial.polyfit(place, square, 1)
    left = square - np.polynomial.polynomial.polyval(place, trend)
    # slots are even over the turns; those not seen stand as zeros
    even = np.zeros(slots.information.size)
    even[seen] = left
    padded = 1 << int(4 * even.size).bit_length()
    step = size * trial.envelope.step_turns
    all_differences = np.fft.rfftfreq(padded, step) / order
    wanted = (all_differences >= slowest) & (all_differences <= fastest)
    if not wanted.any():
        return None
    differences = all_differences[wanted]
    line = np.fft.rfft(even, padded)[wanted]
    power = np.abs(line) ** 2
    best = int(np.argmax(power))
    swing = 2.0 * abs(line[best]) / turns.size
    along = np.flatnonzero(seen) * step
    wave = (line[best] / turns.size * np.exp(2j * np.pi * order * differences[best] * along)).real * 2.0
    noise = float(np.sum((left - wave) ** 2)) * turns.size / max(turns.size - 4.0, 1.0)
    once = float(np.exp(-power[best] / max(noise, 1e-300)))
    chance = any_of(once, _TRIALS_FACTOR * (fastest - slowest) * length * order)
    if chance >= alarm:
        return None
    mean = max(float(square.mean()), 0.5 * swing)
    # a^2 + b^2 = mean, 2 a b = swing
    apart = np.sqrt(max(mean**2 - swing**2, 0.0))
    share = float(np.sqrt((mean - apart) / (mean + apart)))
    difference = float(differences[best])
    return Beat(difference, 1.0 / (difference * order * trial.envelope.mean_rotation_hz), share, chance)
