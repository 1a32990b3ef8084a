"""How loud the road is beside an order at each speed, where the speed swept.

The envelope's own level is that of some hertz about the order. In a sweep the order passes wheel hop and the body's
modes, and how its immediate neighbourhood stands to those hertz changes by a factor of two or three; taken for the same
all along, the road at hop looked like an order in one sweep of ten. Here the neighbourhood itself is measured, a tenth
to either side, as a smooth function of the speed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vibdiag.recording.demodulate import Envelope
from vibdiag.recording.signal import FloatArray

__all__ = ["levelled"]

_SWEPT = 0.04  # relative spread of the speed
_BESIDE = (0.03, 0.12)  # stretches
_PLACES = 8  # to either side
_SLOT_S = 1.0
_DEGREE = 4
_REPEATS = 6


def levelled(envelope: Envelope) -> Envelope:
    """The envelope with its spread corrected, channel by channel; unchanged where the speed was held."""
    seen = np.isfinite(envelope.spread).any(axis=0)
    hz = envelope.rotation_hz
    if not seen.any() or float(np.std(hz[seen]) / np.mean(hz[seen])) < _SWEPT:
        return envelope
    size = max(int(_SLOT_S * envelope.mean_rotation_hz / envelope.step_turns), 1)
    count = hz.size // size
    if count < 4 * (_DEGREE + 1):
        return envelope
    used = slice(0, count * size)
    least, most = _BESIDE[0], min(_BESIDE[1], envelope.flat_hz / (envelope.order * envelope.mean_rotation_hz))
    one_side = np.linspace(least, max(most, least), _PLACES)
    stretches = np.concatenate((-one_side, one_side))
    turning = np.exp((-2j * np.pi * envelope.order) * np.outer(stretches, envelope.turns[used] - envelope.turns[0]))
    slot_hz = hz[used].reshape(count, size).mean(1)
    # only where something was recorded: a speed guessed in a hole is nobody's speed
    known = np.log(slot_hz[np.isfinite(envelope.spread[:, used]).any(axis=0).reshape(count, size).any(axis=1)])
    middle, reach = float(known.mean()), max(float(np.ptp(known)) / 2.0, 1e-9)

    def columns(at: FloatArray) -> FloatArray:
        place = np.clip((np.log(at) - middle) / reach, -1.2, 1.2)
        return np.stack([place**power for power in range(_DEGREE + 1)], axis=1)

    spread = envelope.spread.copy()
    for channel in range(spread.shape[0]):
        usable = np.isfinite(spread[channel, used])
        weight = np.where(usable, 1.0 / np.where(usable, spread[channel, used], 1.0), 0.0)
        information = weight.reshape(count, size).sum(1)
        score = (turning * (weight * envelope.pointer[channel, used])).reshape(-1, count, size).sum(2)
        full = information > 0.0
        power = np.median(np.abs(score[:, full]) ** 2, axis=0) / information[full]
        if np.count_nonzero(full) < 4 * (_DEGREE + 1):
            continue
        basis = columns(slot_hz[full])
        answer = _gamma_fit(basis, power)
        shape = np.exp(columns(hz) @ answer)
        spread[channel] *= shape / float(np.exp(np.mean(basis @ answer)))
    return replace(envelope, spread=spread)


def _gamma_fit(basis: FloatArray, power: FloatArray) -> FloatArray:
    """Coefficients of the logarithm of the mean power."""
    inverse = np.linalg.pinv(basis)
    answer = inverse @ np.log(power + 1e-300)
    for _ in range(_REPEATS):
        answer = answer + inverse @ np.clip(power / np.exp(basis @ answer) - 1.0, -1.0, 1.0)
    return np.asarray(answer, dtype=np.float64)
