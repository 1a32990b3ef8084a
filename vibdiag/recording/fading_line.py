"""How well a recording agrees with a narrow line whose phase walks and whose strength may fade.

The pointer of the line is a complex first-order Gauss-Markov process in noise, so the chance of what was seen is exact
and quick: the innovations of a Kalman filter (Kalman, J. Basic Engineering 82, 1960, 35; Schweppe, IEEE Trans.
Information Theory 11, 1965, 61). A rotating part is steadier than that, a resonance is just that; neither is favoured.
"""

from __future__ import annotations

import numpy as np

from vibdiag.recording.demodulate import ComplexArray, Envelope
from vibdiag.recording.signal import FloatArray

__all__ = ["SLOT_S", "line_evidence"]

SLOT_S = 0.35
_WALKS = (0.0, 0.25, 1.0)  # rad2/s beyond what is known of: quick changes of speed, a fan that is no clock, a resonance
_SHARES = (0.5, 0.7, 1.0, 1.4)  # of the strength that was found
_APART = 0.0006  # of the stretches tried; a minute at 14 Hz tells 0.0012 apart


def line_evidence(
    envelope: Envelope, *, noise: float, walk: float, start: float, reach: float, amplitude: float
) -> float:
    """Log of how much likelier the first channel is with a line than without, averaged over strength and walk and
    integrated over the stretch within `reach` of `start`.

    noise: variance of a point of the envelope per unit of its spread. walk: of the line's phase, rad2/s.
    """
    size = max(int(SLOT_S * envelope.mean_rotation_hz / envelope.step_turns), 1)
    seconds = size * envelope.step_turns / envelope.mean_rotation_hz
    stretches = start + np.linspace(-reach, reach, int(np.ceil(2.0 * reach / _APART)) + 1)
    score, information = _slots(envelope, noise, stretches, size)
    kept = np.exp(-0.5 * (walk + np.array(_WALKS)) * seconds)
    powers = (amplitude * np.array(_SHARES)) ** 2
    each = _innovations(score, information, powers, kept)
    return float(np.logaddexp.reduce(each.ravel()) + np.log((stretches[1] - stretches[0]) / (powers.size * kept.size)))


def _slots(envelope: Envelope, noise: float, stretches: FloatArray, size: int) -> tuple[ComplexArray, FloatArray]:
    """(E, K) matched sums and (K,) information, as in phase_path.slots_of, in slots of one length for every walk."""
    spread = envelope.spread[0]
    usable = np.isfinite(spread)
    weight = np.where(usable, 1.0 / (noise * np.where(usable, spread, 1.0)), 0.0)
    count = weight.size // size
    used = slice(0, count * size)
    turning = np.exp((-2j * np.pi * envelope.order) * np.outer(stretches, envelope.turns[used] - envelope.turns[0]))
    score = (turning * (weight * envelope.pointer[0])[used]).reshape(stretches.size, count, size).sum(2)
    return score, weight[used].reshape(count, size).sum(1)


def _innovations(score: ComplexArray, information: FloatArray, powers: FloatArray, kept: FloatArray) -> FloatArray:
    """(powers, walks, stretches) log likelihood ratio against noise alone."""
    power, keep = powers[:, None, None], kept[None, :, None]
    believed = np.zeros((powers.size, kept.size, score.shape[0]), dtype=np.complex128)
    doubt = np.broadcast_to(power, (powers.size, kept.size, 1)).copy()
    total = np.zeros(believed.shape)
    for k in range(information.size):
        if k:
            believed *= keep
            doubt = power + keep**2 * (doubt - power)
        if information[k] <= 0.0:
            continue
        seen, own = score[:, k] / information[k], 1.0 / information[k]
        surprise = seen - believed
        spread = doubt + own
        total += np.abs(seen) ** 2 / own - np.abs(surprise) ** 2 / spread - np.log(spread / own)
        gain = doubt / spread
        believed += gain * surprise
        doubt = doubt * (1.0 - gain)
    return total
