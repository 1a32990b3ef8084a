"""How well a recording agrees with a narrow line whose phase walks and whose strength may fade.

The pointer of a line (its amplitude and phase as one complex number) is a Gaussian process in noise, so the chance of
what was seen is exact. A part that turns is nearly steady; a resonance that the road keeps striking walks like a
first-order Gauss-Markov process; two wheels that differ a little are two steady pointers that swell and fade together.
For the walk the chance is the innovations of a Kalman filter (Kalman, J. Basic Engineering 82, 1960, 35; Schweppe, IEEE
Trans. Information Theory 11, 1965, 61); written as a quadratic form, for any of them, it has slopes to climb by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vibdiag.recording.demodulate import ComplexArray, Envelope
from vibdiag.recording.signal import FloatArray

__all__ = [
    "SLOT_S",
    "LineSlots",
    "Pointer",
    "beating_difference",
    "fading_pointer",
    "line_slots",
    "two_wheels",
    "walking_evidence",
]

SLOT_S = 0.5
_SHARES = (1.0, 0.5, 0.7, 1.4)  # of the strength that was found; the first is climbed by
_DIFFERENCES = np.arange(0.0015, 0.0181, 0.0005)  # of two wheels of one car; an old and a new tyre differ by more


@dataclass(frozen=True, slots=True, eq=False)
class LineSlots:
    """One channel's order gathered into slots of about SLOT_S, as turned by the envelope's own angle.

    score: (K,) matched sums; information: (K,), so that score / information estimates the pointer with variance
    1 / information. turns: (K,), of the wheel at the middle of each slot. seconds: length of a slot.
    """

    order: float
    score: ComplexArray
    information: FloatArray
    turns: FloatArray
    seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class Pointer:
    """What a pointer is like: forms (F, d), one for each strength tried, so that the log of how much likelier the slots
    are with such a line than without is s^H F s - d, s = score / sqrt(information). The first is of the strength found.
    """

    forms: tuple[tuple[ComplexArray, float], ...]


def line_slots(envelope: Envelope, *, noise: float, start: float) -> LineSlots:
    """Gather the first channel of an envelope.

    noise: variance of a point of the envelope per unit of its spread. start: stretch that the line has within a slot.
    """
    size = max(int(SLOT_S * envelope.mean_rotation_hz / envelope.step_turns), 1)
    spread = envelope.spread[0]
    usable = np.isfinite(spread)
    weight = np.where(usable, 1.0 / (noise * np.where(usable, spread, 1.0)), 0.0)
    count = weight.size // size
    used = slice(0, count * size)
    turns = envelope.turns[used].reshape(count, size)
    middle = turns.mean(1)
    within = np.exp((-2j * np.pi * envelope.order * start) * (turns - middle[:, None]))
    score = (within * (weight * envelope.pointer[0])[used].reshape(count, size)).sum(1)
    information = weight[used].reshape(count, size).sum(1)
    seconds = size * envelope.step_turns / envelope.mean_rotation_hz
    return LineSlots(envelope.order, score, information, middle, seconds)


def fading_pointer(slots: LineSlots, *, amplitude: float, walk: float) -> Pointer:
    """One line whose pointer walks. amplitude: zero to peak as found. walk: rad2/s, 0 for a steady one."""
    return _pointer(slots, _fading(slots, walk), amplitude)


def beating_difference(slots: LineSlots) -> float:
    """The difference of two wheels' circumferences, as a fraction, that the swelling of a line fits best.

    What the line's phase does does not touch its squared strength (as in beat.py, where it is also weighed).
    """
    seen = slots.information > 0.0
    known = slots.information[seen]
    square = np.abs(slots.score[seen] / known) ** 2 - 1.0 / known
    weight = 1.0 / (1.0 / known**2 + 2.0 * max(float(np.median(square)), 0.0) / known)
    left = weight * (square - float(weight @ square / weight.sum()))
    power = np.abs(np.exp((-2j * np.pi * slots.order) * np.outer(_DIFFERENCES, slots.turns[seen])) @ left)
    return float(_DIFFERENCES[int(np.argmax(power))])


def two_wheels(slots: LineSlots, *, amplitude: float, difference: float, walk: float) -> Pointer:
    """Two lines alike, one higher than the other by a fraction of the frequency, whose pointers walk together."""
    beside = np.exp((2j * np.pi * slots.order * difference) * slots.turns)
    both = 0.5 * (1.0 + np.outer(beside, beside.conj()))
    return _pointer(slots, both * _fading(slots, walk), np.sqrt(2.0) * amplitude)


def _fading(slots: LineSlots, walk: float) -> FloatArray:
    index = np.arange(slots.score.size)
    return np.asarray(np.exp(-0.5 * walk * slots.seconds * np.abs(index[:, None] - index[None, :])), dtype=np.float64)


def _pointer(slots: LineSlots, covariance: ComplexArray | FloatArray, amplitude: float) -> Pointer:
    root = np.sqrt(slots.information)
    seen = root[:, None] * covariance * root[None, :]
    whole = np.eye(root.size)
    forms = []
    for share in _SHARES:
        spread = whole + (share * amplitude) ** 2 * seen
        forms.append((whole - np.linalg.inv(spread), float(np.linalg.slogdet(spread)[1])))
    return Pointer(tuple(forms))


def walking_evidence(
    slots: LineSlots, *, amplitude: float, walks: Sequence[float], stretches: FloatArray
) -> FloatArray:
    """(walks, E) log of how much likelier the slots are with a line at each stretch of their own angle than without,
    averaged over its strength."""
    scores = slots.score * np.exp((-2j * np.pi * slots.order) * np.outer(stretches, slots.turns))
    power = (amplitude * np.array(_SHARES))[:, None, None] ** 2
    keep = np.exp(-0.5 * slots.seconds * np.array(walks))[None, :, None]
    believed = np.zeros((len(_SHARES), len(walks), stretches.size), dtype=np.complex128)
    doubt = np.broadcast_to(power, (len(_SHARES), len(walks), 1)).copy()
    total = np.zeros(believed.shape)
    for k in range(slots.information.size):
        if k:
            believed *= keep
            doubt = power + keep**2 * (doubt - power)
        if slots.information[k] <= 0.0:
            continue
        seen, own = scores[:, k] / slots.information[k], 1.0 / slots.information[k]
        surprise = seen - believed
        spread = doubt + own
        total += np.abs(seen) ** 2 / own - np.abs(surprise) ** 2 / spread - np.log(spread / own)
        gain = doubt / spread
        believed += gain * surprise
        doubt = doubt * (1.0 - gain)
    return np.asarray(np.logaddexp.reduce(total, axis=0) - np.log(len(_SHARES)), dtype=np.float64)
