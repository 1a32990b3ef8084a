"""Following an order's phase through the noise of the speed: a hidden Markov chain on the circle.

The phase of an order, against an angle reckoned from a noisy speed, wanders as a random walk of known strength. For
every assumed stretch and amplitude the chance of what was seen is summed over all paths of the phase (the forward
recursion of a hidden Markov model; Barrett and Holdsworth, IEEE Trans. Signal Processing 41, 1993, 2965, track
frequency and phase so). So the stretch is limited by the speed's own mean error, and the amplitude is not thinned by
the wander.

What it cannot do: it believes the strength of the walk it is told. Below the strength at which a line is found at all,
its answers are the middle of what was allowed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vibdiag.recording.demodulate import ComplexArray, Envelope
from vibdiag.recording.signal import FloatArray

__all__ = [
    "FollowedOrder",
    "Slots",
    "follow",
    "foretold_pointers",
    "log_evidence",
    "searched_evidence",
    "short_enough",
    "slot_points",
    "slots_of",
]

_PHASES = 24
_GRID = 2.0 * np.pi * np.arange(_PHASES) / _PHASES
_POINTERS = np.exp(-1j * _GRID)
_LONGEST = 120  # slots in one block; longer ones are cut into blocks that share stretch and amplitude
_MOST_SLOTS = 160  # used to refine a long recording
_SUREST = 2.0  # signal energy over noise density in one slot
_WALK_SHARES = (0.3, 0.8)  # of the walk that the speed's noise foretells; its steps partly undo each other
_STRENGTHS = (10.0, 20.0, 30.0, 45.0)  # signal energy over noise density; about 20 is where an order is just found


@dataclass(frozen=True, slots=True, eq=False)
class Slots:
    """An order gathered into slots of about a second.

    score: (E, K) matched sums for E stretches; information: (K,), so that score / information estimates the pointer
    with variance 1 / information. walk: (K,), variance of the phase's step into each slot, rad2. rotation_hz: (K,).
    """

    score: ComplexArray
    information: FloatArray
    walk: float
    rotation_hz: FloatArray
    stretch: FloatArray


@dataclass(frozen=True, slots=True)
class FollowedOrder:
    """stretch, its standard deviation; amplitude (zero to peak, the channel's unit), its standard deviation;
    log_evidence: log of how much likelier the recording is with the order than without, at the best amplitude."""

    stretch: float
    stretch_sd: float
    amplitude: float
    amplitude_sd: float
    log_evidence: float


def slots_of(
    envelope: Envelope, channel: int, *, noise: float, diffusion: float, stretches: FloatArray, exponent: float = 0.0
) -> Slots:
    """Gather an envelope into slots short enough for the walk, for each stretch.

    noise: variance of one point of the envelope per unit of its spread. diffusion: rad2 per turn.
    """
    usable = np.isfinite(envelope.spread[channel])
    shape = (envelope.rotation_hz / envelope.mean_rotation_hz) ** exponent
    weight = np.where(usable, shape / (noise * np.where(usable, envelope.spread[channel], 1.0)), 0.0)
    size = slot_points(envelope, diffusion)
    count = weight.size // size
    used = slice(0, count * size)
    information = (weight * shape)[used].reshape(count, size).sum(1)
    turning = np.exp((-2j * np.pi * envelope.order) * np.outer(stretches, envelope.turns[used] - envelope.turns[0]))
    score = (turning * (weight * envelope.pointer[channel])[used]).reshape(stretches.size, count, size).sum(2)
    return Slots(
        score,
        information,
        diffusion * envelope.step_turns * size,
        envelope.rotation_hz[used].reshape(count, size).mean(1),
        stretches,
    )


def follow(
    envelope: Envelope,
    channel: int,
    *,
    noise: float,
    diffusion: float,
    start: float,
    reach: float,
    amplitude: float,
    exponent: float = 0.0,
) -> FollowedOrder:
    """Refine a found order: stretch near `start` (within reach) and amplitude near `amplitude`.

    Two passes: a coarse one over the reach, a fine one about its best.
    """

    part, repeats = _shortened(envelope, diffusion)

    def slots_at(stretches: FloatArray) -> Slots:
        return slots_of(part, channel, noise=noise, diffusion=diffusion, stretches=stretches, exponent=exponent)

    def evidence(stretches: FloatArray, amplitudes: FloatArray) -> FloatArray:
        return log_evidence(_blunted(slots_at(stretches), amplitude), amplitudes)

    coarse = start + np.linspace(-reach, reach, 25)
    best = coarse[int(np.argmax(evidence(coarse, np.array([amplitude]))[0]))]
    turns = max(int(np.count_nonzero(np.isfinite(part.spread[channel]))), 1) * part.step_turns
    limit = np.sqrt(diffusion / turns) / (2.0 * np.pi * envelope.order)
    half = max(3.5 * limit, 1.5 * float(coarse[1] - coarse[0]))
    fine = best + np.linspace(-half, half, 17)
    amplitudes = amplitude * np.exp(np.linspace(-0.6, 0.4, 6))
    found = evidence(fine, amplitudes)
    weight = np.exp(found - found.max())
    over_stretch = weight.sum(0) / weight.sum()
    stretch = float(over_stretch @ fine)
    stretch_sd = float(np.sqrt(over_stretch @ (fine - stretch) ** 2))
    sharp = log_evidence(slots_at(np.array([stretch])), amplitudes)[:, 0]
    best_amplitude, amplitude_sd = _crest(np.log(amplitudes), sharp)
    return FollowedOrder(
        stretch,
        max(stretch_sd, 0.25 * float(fine[1] - fine[0])),
        best_amplitude,
        amplitude_sd,
        repeats * float(found.max()),
    )


def searched_evidence(envelope: Envelope, *, stretches: FloatArray, diffusion: float) -> float:
    """Log evidence of an order somewhere among the stretches, against none: averaged over them, over its strength and
    over how much of the foretold walk there is.

    envelope: one channel, its noise white and of unit density per unit of spread, and `short_enough`.
    """
    found = []
    for share in _WALK_SHARES:
        slots = slots_of(envelope, 0, noise=1.0, diffusion=share * diffusion, stretches=stretches)
        strengths = np.sqrt(np.array(_STRENGTHS) / max(float(slots.information.sum()), 1e-300))
        found.append(log_evidence(slots, strengths).ravel())
    each = np.concatenate(found)
    return float(np.logaddexp.reduce(each) - np.log(each.size))


def short_enough(envelope: Envelope, diffusion: float) -> bool:
    """Whether all of it can be searched in the time a person waits."""
    return all(_shortened(envelope, share * diffusion)[1] == 1.0 for share in _WALK_SHARES)


def log_evidence(slots: Slots, amplitudes: FloatArray) -> FloatArray:
    """(A, E): log likelihood ratio of an order against none, summed over all phase paths."""
    blocks, length = _cut(slots.information.size)
    stretches = slots.score.shape[0]
    padded = np.zeros((stretches, blocks * length), dtype=np.complex128)
    padded[:, : slots.information.size] = slots.score
    score = padded.reshape(stretches, blocks, length)
    mix = _step_matrix(slots.walk)
    belief = np.full((amplitudes.size, stretches, blocks, _PHASES), 1.0 / _PHASES)
    total = np.zeros((amplitudes.size, stretches, blocks))
    doubled = 2.0 * amplitudes[:, None, None, None]
    for k in range(length):
        gain = doubled * (score[:, :, k, None] * _POINTERS).real
        top = gain.max(-1, keepdims=True)
        belief = (belief @ mix) * np.exp(gain - top)
        reached = belief.sum(-1, keepdims=True)
        belief /= reached
        total += (np.log(reached) + top)[..., 0]
    return np.asarray(total.sum(-1) - (amplitudes**2 * slots.information.sum())[:, None], dtype=np.float64)


def _blunted(slots: Slots, amplitude: float) -> Slots:
    """The slots, none of them surer than a phase error within it allows.

    A strong order shows its frequency within a single slot, and there the speed's noise is a drift and not a walk;
    taken at its word it made the stretch of strong orders three times too sure.
    """
    information = 1.0 / (1.0 / np.maximum(slots.information, 1e-300) + amplitude**2 / _SUREST)
    return replace(
        slots, score=slots.score * (information / np.maximum(slots.information, 1e-300)), information=information
    )


def _cut(count: int) -> tuple[int, int]:
    """Number and length of equal blocks that hold so many slots."""
    blocks = -(-count // _LONGEST)
    return blocks, -(-count // blocks)


def _shortened(envelope: Envelope, diffusion: float) -> tuple[Envelope, float]:
    """At most _MOST_SLOTS slots from the middle of a long envelope, and how many times it was longer."""
    size = slot_points(envelope, diffusion)
    most = _MOST_SLOTS * size
    count = envelope.turns.size
    if count <= most:
        return envelope, 1.0
    start = (count - most) // 2
    part = slice(start, start + most)
    return replace(
        envelope,
        pointer=envelope.pointer[:, part],
        spread=envelope.spread[:, part],
        turns=envelope.turns[part],
        rotation_hz=envelope.rotation_hz[part],
    ), count / most


def slot_points(envelope: Envelope, diffusion: float) -> int:
    """Points of an envelope in one slot: about a second, less where the phase walks fast."""
    turns = min(envelope.mean_rotation_hz, 0.35 / max(diffusion, 1e-12))
    return max(int(turns / envelope.step_turns), 1)


def foretold_pointers(slots: Slots, amplitude: float | FloatArray) -> ComplexArray:
    """(K,) mean pointer of each slot as all other slots foretell it; its modulus is how sure that is, 0 to 1.

    Taken at the first stretch of the slots. amplitude: of all slots, or (K,) of each.
    """
    count = slots.information.size
    blocks, length = _cut(count)
    score = np.zeros(blocks * length, dtype=np.complex128)
    score[:count] = slots.score[0] * amplitude
    projected = 2.0 * (score[:, None] * _POINTERS).real
    chance = np.exp(projected - projected.max(1, keepdims=True)).reshape(blocks, length, _PHASES)
    mix = _step_matrix(slots.walk)
    before = _foretold(chance, mix)
    both = before * _foretold(chance[:, ::-1], mix)[:, ::-1]
    mean = (both / both.sum(-1, keepdims=True)) @ np.conj(_POINTERS)
    return np.asarray(mean.reshape(-1)[:count], dtype=np.complex128)


def _foretold(chance: FloatArray, mix: FloatArray) -> FloatArray:
    """Belief in the phase of each slot from the slots before it; (blocks, K, phases)."""
    belief = np.full((chance.shape[0], _PHASES), 1.0 / _PHASES)
    foretold = np.empty_like(chance)
    for k in range(chance.shape[1]):
        foretold[:, k] = belief @ mix
        belief = foretold[:, k] * chance[:, k]
        belief /= belief.sum(-1, keepdims=True)
    return foretold


def _step_matrix(variance: float) -> FloatArray:
    """Chance of a step from one phase to another: a normal step wrapped on the circle (its Fourier series)."""
    order = np.arange(1, _PHASES // 2)
    shift = _GRID[:, None] - _GRID[None, :]
    series = 1.0 + 2.0 * np.sum(
        np.exp(-0.5 * variance * order**2)[:, None, None] * np.cos(order[:, None, None] * shift), axis=0
    )
    series = np.maximum(series, 1e-12)
    return np.asarray(series / series.sum(1, keepdims=True), dtype=np.float64)


def _crest(log_amplitude: FloatArray, log_weight: FloatArray) -> tuple[float, float]:
    """Top of a parabola through the best point and its neighbours, and its standard deviation."""
    middle = int(np.clip(np.argmax(log_weight), 1, log_weight.size - 2))
    below, at, above = log_weight[middle - 1 : middle + 2]
    step = log_amplitude[1] - log_amplitude[0]
    bend = max(-(below - 2.0 * at + above), 1e-3)
    shift = float(np.clip(0.5 * (above - below) / bend, -1.0, 1.0))
    best = float(np.exp(log_amplitude[middle] + shift * step))
    return best, best * step / float(np.sqrt(bend))
