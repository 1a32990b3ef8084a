"""All orders and all axes at one stretch of the angle: the joint search.

One order alone finds false peaks on real roads; 1x, 2x and 3x of several axes agree only at the true stretch. For each
order and axis the ratio of power to floor becomes a log likelihood ratio (two gamma samples, one mean or two); they are
summed over one grid of stretches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vibdiag.recording.alarm import MOST_FLOOR_LOOKS
from vibdiag.recording.angle import Course
from vibdiag.recording.candidates import Candidate
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import Envelope, demodulate
from vibdiag.recording.floor import Floor, fit_floor
from vibdiag.recording.phase_path import searched_evidence, short_enough, slot_points
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.spectrum import StretchSpectrum, stretch_spectrum
from vibdiag.recording.swept import levelled

__all__ = ["WIDTH_SHARE", "JointScore", "Trial", "joint_score", "surroundings", "try_orders"]

# Smoothing as wide as 0.6 of the walk that the speed's noise foretells did best on the car model (0.3 to 3 were tried).
WIDTH_SHARE = 0.6
_STEP = 0.0004
_EVIDENCE_STEP = 0.0006
_MOST_SAY = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """One order on one channel. channel: index into the even recording. diffusion: rad2 per turn. low, high: searched
    stretches."""

    candidate: Candidate
    channel: int
    envelope: Envelope
    spectrum: StretchSpectrum
    floor: Floor
    diffusion: float
    low: float
    high: float

    @property
    def ratio(self) -> FloatArray:
        """(M,), power over floor on the spectrum's stretches."""
        return self.spectrum.power / self.floor.power

    @property
    def places(self) -> float:
        """Independent places searched."""
        return (self.high - self.low) / self.spectrum.width + 1.0

    def log_likelihood_ratio(self, stretch: FloatArray) -> FloatArray:
        """At these stretches, 0 where the power is not above the floor."""
        ratio = np.maximum(np.interp(stretch, self.spectrum.stretch, self.ratio), 1.0)
        n = self.spectrum.looks
        m = 1.0 / (1.0 / self.floor.looks + 1.0 / MOST_FLOOR_LOOKS)
        return np.asarray((n + m) * np.log((n * ratio + m) / (n + m)) - n * np.log(ratio), dtype=np.float64)

    def noise(self, index: int, *, diffusion: float | None = None) -> float:
        """Variance of a point of the envelope per unit of its spread, averaged over what a slot of a second lets in.

        diffusion: rad2 per turn that the slots are made for; by default the trial's own.
        """
        return self._noise_at(float(self.spectrum.stretch[index]), self.diffusion if diffusion is None else diffusion)

    def evidence(self) -> float | None:
        """Log evidence of an order anywhere in the searched range; None where the recording is too long for that."""
        if not short_enough(self.envelope, self.diffusion):
            return None
        count = int((self.high - self.low) / _EVIDENCE_STEP) + 2
        stretches = np.linspace(self.low, self.high, count)
        return searched_evidence(self._whitened(), stretches=stretches, diffusion=self.diffusion)

    def _whitened(self) -> Envelope:
        """This channel alone, its noise made white and of unit density by the inverse of the floor.

        The road beside an order is seldom level: where both axles cancel each other it falls to nothing within a tenth.
        Loud noise from there leaks into the slots as a line of its own and was taken for one in an eighth of faultless
        drives on the fore-and-aft axis.
        """
        envelope, spread = self.envelope, self.envelope.spread[self.channel]
        usable = np.isfinite(spread)
        root = np.sqrt(np.where(usable, spread, 1.0))
        level = np.where(usable, envelope.pointer[self.channel] / root, 0.0)
        size = 1 << int(2 * level.size - 1).bit_length()
        stretch = np.fft.fftfreq(size, envelope.step_turns) / envelope.order
        density = np.interp(stretch, self.spectrum.stretch, self.floor.power / self.spectrum.noise_gain)
        white = np.fft.ifft(np.fft.fft(level, size) / np.sqrt(density))[: level.size]
        return replace(envelope, pointer=(white * root)[None, :], spread=spread[None, :])

    def _noise_at(self, stretch: float, walk: float) -> float:
        slot_turns = self.envelope.step_turns * slot_points(self.envelope, walk)
        off = (self.spectrum.stretch - stretch) * self.candidate.order * slot_turns
        weight = np.where(np.abs(self.spectrum.stretch) <= 0.14, np.sinc(off) ** 2, 0.0)
        return float(weight @ self.floor.power / weight.sum() / self.spectrum.noise_gain)


@dataclass(frozen=True, slots=True, eq=False)
class JointScore:
    """score: (G,) summed log likelihood ratio on stretch: (G,)."""

    stretch: FloatArray
    score: FloatArray

    @property
    def best(self) -> float:
        """The stretch of the highest score."""
        return float(self.stretch[int(np.argmax(self.score))])


def try_orders(
    even: EvenRecording, course: Course, candidates: Sequence[Candidate], *, low: float, high: float
) -> tuple[list[Trial], list[Candidate]]:
    """Try every candidate on every channel between the stretches low and high.

    Returns the trials, and the candidates that this recording cannot show (rate too low or recording too short).
    """
    trials, unseen = [], []
    for candidate in candidates:
        envelope = demodulate(even, course, order=candidate.order)
        if envelope is None:
            unseen.append(candidate)
            continue
        envelope = levelled(envelope)
        rotation = envelope.mean_rotation_hz
        diffusion = course.diffusion(candidate.order, rotation)
        outer = surroundings(envelope)
        seen = False
        for channel in range(len(even.names)):
            if not np.isfinite(envelope.spread[channel]).any():
                continue
            spectrum = stretch_spectrum(
                envelope,
                channel,
                diffusion=WIDTH_SHARE * diffusion,
                reach=outer * 1.15,
                memory_turns=course.memory_s * rotation,
            )
            floor = fit_floor(spectrum, low=low, high=high, outer=outer)
            if floor is not None:
                seen = True
                trials.append(Trial(candidate, channel, envelope, spectrum, floor, diffusion, low, high))
        if not seen:
            unseen.append(candidate)
    return trials, unseen


def surroundings(envelope: Envelope) -> float:
    """How far the floor may be read beside an order, as a stretch.

    Both axles cross the same road, so the floor swells and fades every circumference over wheelbase (some 0.7) orders;
    the curve cannot follow more than half of that, and a stretch is worth more orders the higher the order.
    """
    return float(min(0.14 / np.sqrt(envelope.order), envelope.flat_hz / (envelope.order * envelope.mean_rotation_hz)))


def joint_score(trials: Sequence[Trial], *, low: float, high: float) -> JointScore:
    """Sum the log likelihood ratios of all trials over a grid of stretches."""
    grid = np.linspace(low, high, max(int((high - low) / _STEP) + 1, 3))
    total = np.zeros(grid.size)
    for trial in trials:
        # a strong order must not outvote the agreement of several, so each has a bounded say
        total += _MOST_SAY * -np.expm1(-trial.log_likelihood_ratio(grid) / _MOST_SAY)
    return JointScore(grid, total)
