"""Does a line follow the wheels, or does it stay at its own frequency?

Both are tried on the same channel with the same machinery: once against the angle of the wheel, once against a clock.
The difference of the log evidences decides, if the speed changed enough to tell at all. Fixed humps that the road
excites (wheel hop, mounts) are found apart from that, by comparing the slow with the fast half of the recording.

What it cannot do: at a steady speed nothing can tell an order from a fixed frequency; then it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from vibdiag.recording.angle import Course, course_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import demodulate
from vibdiag.recording.floor import fit_floor
from vibdiag.recording.phase_path import follow
from vibdiag.recording.search import Trial, surroundings, try_orders
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.spectrum import stretch_spectrum
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["OrderOrFixed", "fixed_humps", "order_or_fixed", "speed_spread_ms"]

LEAST_SPREAD_MS = 0.12  # of the smoothed speed, which is calmer than the true one; see tests/benchmarks
_LONGEST_S = 120.0
_WIDE = 0.05  # spread of the speed, relative
_DECISIVE = 3.0  # natural log
_WALKS = (0.05, 0.2, 0.6)  # rad2/s; with more, the slots get so short that they let in the road
_TONE_WALK = 0.05  # rad2/s: how steady a part with a speed of its own (a fan, idle) keeps it (from memory)


@dataclass(frozen=True, slots=True)
class OrderOrFixed:
    """verdict; log_odds: natural, above 0 for an order; spread_ms: standard deviation of the speed."""

    verdict: Literal["order", "fixed", "cannot tell"]
    log_odds: float
    spread_ms: float


def speed_spread_ms(course: Course) -> float:
    """Standard deviation of the speed over the usable part, m/s."""
    return float(np.std(course.speed_ms[course.usable]))


def order_or_fixed(
    even: EvenRecording, speed: SmoothSpeed, trial: Trial, *, stretch: float, amplitude: float, circumference_m: float
) -> OrderOrFixed:
    """Judge one line.

    trial, stretch, amplitude: as found. circumference_m: that the trial's angle was reckoned with.
    """
    course = course_of(even, speed, circumference_m=circumference_m)
    # what of the spread is only the noise that the smoothing let through
    leak = speed.noise_ms**2 * speed.step_s / (2.0 * speed.memory_s)
    spread = float(np.sqrt(max(speed_spread_ms(course) ** 2 - leak, 0.0)))
    if even.good.size > _LONGEST_S * even.rate_hz:
        return _on_a_part(even, speed, course, trial, stretch, amplitude, circumference_m)
    hz = trial.envelope.mean_rotation_hz * (1.0 + stretch)
    noise = [trial.noise(_index(trial, stretch), diffusion=walk / trial.envelope.mean_rotation_hz) for walk in _WALKS]
    clock = replace(
        course,
        turns=np.arange(course.turns.size, dtype=np.float64) * (hz / even.rate_hz),
        speed_ms=np.full(course.turns.size, hz * circumference_m),
    )
    channel_only = replace(even, names=(even.names[trial.channel],), values=even.values[trial.channel][None, :])
    envelope = demodulate(channel_only, clock, order=trial.candidate.order)
    if envelope is None or spread < LEAST_SPREAD_MS:
        return OrderOrFixed("cannot tell", 0.0, spread)
    # where the clock's line lies: as far off as the speed wandered
    relative = spread / float(np.mean(course.speed_ms[course.usable]))
    reach = min(2.0 * relative + 0.01, 0.1)
    outer = surroundings(envelope)
    spectrum = stretch_spectrum(envelope, 0, diffusion=_TONE_WALK / hz, reach=1.15 * outer)
    floor = fit_floor(spectrum, low=-reach, high=reach, outer=outer)
    if floor is None:
        return OrderOrFixed("cannot tell", 0.0, spread)
    fixed = replace(trial, channel=0, envelope=envelope, spectrum=spectrum, floor=floor, diffusion=_TONE_WALK / hz)
    peak = float(spectrum.stretch[floor.peak])
    if relative > _WIDE:  # the two are seen against different parts of the road's spectrum: each by its own floor
        either = (trial, stretch), (fixed, peak)
        as_order, as_fixed = (float(t.log_likelihood_ratio(np.array([at]))[0]) for t, at in either)
    else:
        as_order = _evidence(trial, stretch, amplitude, noise)
        as_fixed = _evidence(fixed, peak, amplitude, noise)
    odds = as_order - as_fixed
    if abs(odds) < _DECISIVE:
        return OrderOrFixed("cannot tell", odds, spread)
    return OrderOrFixed("order" if odds > 0.0 else "fixed", odds, spread)


def _on_a_part(
    even: EvenRecording,
    speed: SmoothSpeed,
    course: Course,
    trial: Trial,
    stretch: float,
    amplitude: float,
    circumference_m: float,
) -> OrderOrFixed:
    """A long recording is judged on its part with the most change of speed."""
    size = int(_LONGEST_S * even.rate_hz)
    starts = range(0, even.good.size - size + 1, size // 2)
    start = max(starts, key=lambda begin: float(np.std(course.speed_ms[begin : begin + size : 50])))
    part = slice(start, start + size)
    short = replace(
        even,
        names=(even.names[trial.channel],),
        start_s=even.start_s + start / even.rate_hz,
        values=even.values[trial.channel : trial.channel + 1, part],
        good=even.good[part],
    )
    again = course_of(short, speed, circumference_m=circumference_m)
    trials, _ = try_orders(short, again, [trial.candidate], low=trial.low, high=trial.high)
    if not trials:
        return OrderOrFixed("cannot tell", 0.0, speed_spread_ms(again))
    return order_or_fixed(
        short, speed, trials[0], stretch=stretch, amplitude=amplitude, circumference_m=circumference_m
    )


def _index(trial: Trial, stretch: float) -> int:
    return int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))


def _evidence(trial: Trial, stretch: float, amplitude: float, noises: Sequence[float]) -> float:
    """Best log evidence over the walks. noises: of each walk; the road is the same road under either assumption."""
    # either may walk, and equally: a smoothed speed misses quick changes, and no fan is a clock
    return max(
        follow(
            trial.envelope,
            trial.channel,
            noise=noise,
            diffusion=walk / trial.envelope.mean_rotation_hz,
            start=stretch,
            reach=max(1.2 * trial.spectrum.width, 0.005),
            amplitude=amplitude,
        ).log_evidence
        for walk, noise in zip(_WALKS, noises, strict=True)
    )


def fixed_humps(even: EvenRecording, speed: SmoothSpeed, *, channel: int) -> tuple[float, ...]:
    """Frequencies (Hz) of humps that stay put while the speed changes: resonances.

    Empty when the fast half of the recording is not at least a tenth faster than the slow half, or nothing stands out
    twofold above its surroundings in both halves.
    """
    size = int(4.0 * even.rate_hz)
    hop = max(size // 2, even.good.size // 300)  # some hundreds of looks are enough
    starts = [s for s in range(0, even.good.size - size + 1, hop) if even.good[s : s + size].all()]
    if len(starts) < 8:
        return ()
    speeds = np.array([float(speed.at(np.array([even.start_s + (s + size / 2.0) / even.rate_hz]))[0]) for s in starts])
    middle = float(np.median(speeds))
    slow, fast = speeds < middle, speeds >= middle
    if not slow.any() or speeds[fast].mean() < 1.1 * speeds[slow].mean():
        return ()
    taper = np.hanning(size)
    spectra = np.stack([np.abs(np.fft.rfft(taper * even.values[channel, s : s + size])) ** 2 for s in starts])
    frequency = np.arange(size // 2 + 1, dtype=np.float64) * (even.rate_hz / size)
    # the mean of logarithms flattens what moves with the speed and keeps what stays
    found = _humps(frequency, np.exp(np.log(spectra + 1e-30).mean(0)))
    allowed = 0.4 * np.log(speeds[fast].mean() / speeds[slow].mean())
    return tuple(
        hz
        for hz in found
        if abs(np.log(_centre(frequency, spectra[fast], hz) / _centre(frequency, spectra[slow], hz))) < allowed
    )


def _centre(frequency: FloatArray, spectra: FloatArray, hz: float) -> float:
    """Where the power about hz has its centre."""
    near = (frequency > 0.75 * hz) & (frequency < 1.33 * hz)
    power = spectra[:, near].mean(0)
    return float(power @ frequency[near] / power.sum())


def _humps(frequency: FloatArray, power: FloatArray) -> list[float]:
    bins = np.exp(np.arange(np.log(3.0), np.log(min(45.0, 0.4 * 2.0 * frequency[-1])), 0.04))
    level = np.array([power[(frequency >= a) & (frequency < max(b, a + 0.5))].mean() for a, b in pairwise(bins)])
    found = []
    for k in range(2, level.size - 2):
        around = np.concatenate((level[max(k - 12, 0) : max(k - 5, 0)], level[k + 6 : k + 13]))
        if level[k] == level[k - 2 : k + 3].max() and around.size and level[k] > 2.0 * np.median(around):
            found.append(float(np.sqrt(bins[k] * bins[k + 1])))
    return found
