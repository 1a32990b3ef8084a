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
from vibdiag.recording.signal import FloatArray

__all__ = ["Beat", "find_beat"]

_LARGEST = 0.03  # circumferences of one car's wheels differ by less (common practice)
_LEAST_PASSES = 2.0
_LEAST_PLACES = 5.0
_LEAST_CHANGE = 0.002  # of the speed, relative; below, the speed's own noise is all there is
# Calibrated on 1,500 single wheels of the car model (40 to 150 g, 60 and 120 s, held and swept speeds): places lie
# closer than one pass apart, and what is left of the road's colour makes the tail of the noise heavier than that of so
# many independent places.
_TRIALS_FACTOR = 5.0
_WORTH = 0.45


@dataclass(frozen=True, slots=True)
class Beat:
    """difference: of the two circumferences, as a fraction. period_s: at the mean speed. weaker_share: amplitude of the
    weaker wheel over the stronger, 0 to 1. alarm: probability that one wheel and noise show as much."""

    difference: float
    period_s: float
    weaker_share: float
    alarm: float


def find_beat(trial: Trial, *, stretch: float, alarm: float = 0.01, tried: int = 1) -> Beat | None:
    """Look for a beat in an order that was found.

    stretch: of the order. tried: how many lines of the recording are looked at for a beat. Returns None when there is
    none surer than `alarm`, or the recording is too short for two passes of any beat.
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
    known = _known(turns, slots.rotation_hz[seen], square)
    # a slot on a rough road or of a strong order scatters more
    weight = 1.0 / (2.0 * np.maximum(known, 0.0) / information + 1.0 / information**2)
    weight *= weight.size / weight.sum()
    left = weight * (square - known)
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
    passes = differences * length * order
    once = _chance(power, passes, best)
    chance = any_of(once, _TRIALS_FACTOR * (fastest - slowest) * length * order * tried)
    if chance >= alarm:
        return None
    mean = max(float(square.mean()), 0.5 * swing)
    # a^2 + b^2 = mean, 2 a b = swing
    apart = np.sqrt(max(mean**2 - swing**2, 0.0))
    share = float(np.sqrt((mean - apart) / (mean + apart)))
    difference = float(differences[best])
    return Beat(difference, 1.0 / (difference * order * trial.envelope.mean_rotation_hz), share, chance)


def _chance(power: FloatArray, passes: FloatArray, best: int) -> float:
    """Chance that the noise about it reaches the power of the best place, in that place.

    The noise is a straight line in the logarithm of power over the passes (gamma likelihood), because the road is
    seldom as loud below the order as above it. passes: (M,), of the beat within the recording; a place is one wide.
    """
    apart = np.abs(passes - passes[best]) > 1.5
    places = float(passes[-1] - passes[0]) * float(np.mean(apart))
    if places < _LEAST_PLACES:
        return 1.0
    columns = np.stack([np.ones(passes.size), passes / passes[-1] - 0.5], axis=1)
    inverse = np.linalg.pinv(columns[apart])
    answer = inverse @ (np.log(power[apart] + 1e-300) + 0.577)  # of noise, the mean of the log is that much lower
    for _ in range(6):
        expected = np.exp(columns[apart] @ answer)
        answer = answer + inverse @ np.clip(power[apart] / expected - 1.0, -1.0, 1.0)
    ratio = float(power[best] / np.exp(columns[best] @ answer))
    known = max(_WORTH * (places - 2.0), 1.5)
    return float((1.0 + ratio / known) ** -known)


def _known(turns: FloatArray, rotation_hz: FloatArray, square: FloatArray) -> FloatArray:
    """What of the squared strength goes with time and, to second degree, with speed: one wheel does that too."""
    columns = [np.ones(turns.size), turns - turns.mean()]
    faster = rotation_hz / rotation_hz.mean() - 1.0
    if float(np.std(faster)) > _LEAST_CHANGE:
        columns += [faster, faster**2]
    basis = np.stack([column / max(float(np.abs(column).max()), 1e-300) for column in columns], axis=1)
    return np.asarray(basis @ np.linalg.lstsq(basis, square, rcond=None)[0], dtype=np.float64)
