"""Does a line follow the wheels, or does it stay at its own frequency?

Two assumptions, with the same noise, the same strengths and the same freedom to walk: the line is locked to the turning
of the wheel, or it is locked to the clock. Under the first, the readings of the speed and the line speak of one and the
same speed, which may have been any of the possible ones; under the second they have nothing to do with each other.
What the readings alone say is common to both, so

    odds = sum over speeds of chance(speed) * evidence(line by that speed's angle) / evidence(line by the clock)

and a speed that may well have been steady makes the two alike: the odds cannot fall below the chance of that. (To take
the smoothed speed for the true one was the fault of an earlier form: at a held speed its noise turns the angle, not the
wheel, so that a strong order was steadier by the clock and was called fixed.)

What it cannot do: at a steady speed nothing can tell an order from a fixed frequency; then it says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from vibdiag.recording.angle import Course, course_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import demodulate
from vibdiag.recording.fading_line import SLOT_S, line_evidence
from vibdiag.recording.floor import fit_floor
from vibdiag.recording.possible_speeds import PossibleSpeed, possible_speeds
from vibdiag.recording.search import WIDTH_SHARE, Trial, surroundings
from vibdiag.recording.spectrum import stretch_spectrum
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["OrderOrFixed", "TellingPart", "order_or_fixed", "telling_part"]

_LEAST_SPREAD_MS = 0.12  # below this the slow errors of a satellite speed (from memory) look like changes of speed
_LONGEST_S = 90.0
_DECISIVE = 3.0  # natural log: 20 to 1
_ORDER_REACH = 0.006
_CLOCK_REACH = 0.1
_WIDE = 0.05  # spread of the speed, relative
_LEAST_CHANCE = 1e-4


@dataclass(frozen=True, slots=True)
class OrderOrFixed:
    """verdict; log_odds: natural, above 0 for an order; spread_ms: standard deviation of the speed."""

    verdict: Literal["order", "fixed", "cannot tell"]
    log_odds: float
    spread_ms: float


@dataclass(frozen=True, slots=True, eq=False)
class TellingPart:
    """The part of a recording that tells most: its samples, the course of its smoothed speed, the possible speeds,
    and their spread (m/s)."""

    even: EvenRecording
    course: Course
    speeds: tuple[PossibleSpeed, ...]
    spread_ms: float


def telling_part(even: EvenRecording, speed: SmoothSpeed, *, circumference_m: float) -> TellingPart:
    """The minute and a half with the most change of speed, or all of a shorter recording.

    circumference_m: that the trials' angle was reckoned with.
    """
    size = int(_LONGEST_S * even.rate_hz)
    if even.good.size > size:
        starts = range(0, even.good.size - size + 1, size // 2)
        at = even.start_s + np.arange(0, even.good.size, 50) / even.rate_hz
        rough = speed.at(at)
        start = max(starts, key=lambda begin: float(np.std(rough[begin // 50 : (begin + size) // 50])))
        even = replace(
            even,
            start_s=even.start_s + start / even.rate_hz,
            values=even.values[:, start : start + size],
            good=even.good[start : start + size],
        )
    end_s = even.start_s + (even.good.size - 1) / even.rate_hz
    speeds = possible_speeds(speed, begin_s=even.start_s, end_s=end_s)
    course = course_of(even, speed, circumference_m=circumference_m)
    spread = float(np.sqrt(sum(each.chance * each.wander_ms**2 for each in speeds)))
    if spread > 1.0 and course.usable.any():  # far above the noise
        spread = float(np.std(course.speed_ms[course.usable]))
    return TellingPart(even, course, speeds, spread)


def order_or_fixed(part: TellingPart, trial: Trial, *, stretch: float, amplitude: float) -> OrderOrFixed:
    """Judge one line. trial, stretch, amplitude: as found."""
    even, course, order = part.even, part.course, trial.candidate.order
    if not part.speeds or part.spread_ms < _LEAST_SPREAD_MS:
        return OrderOrFixed("cannot tell", 0.0, part.spread_ms)
    rotation_hz = float(np.mean(course.speed_ms[course.usable])) / course.circumference_m if course.usable.any() else 0
    only = replace(even, names=(even.names[trial.channel],), values=even.values[trial.channel][None, :])
    index = int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))
    noise = trial.noise(index, diffusion=0.35 / (SLOT_S * trial.envelope.mean_rotation_hz))
    time = even.time_s

    def evidence(speed: PossibleSpeed, reach: float) -> float | None:
        possible = course.at_speed(speed.at(time), rate_hz=even.rate_hz, walk_m2_per_s=speed.walk_m2_per_s)
        envelope = demodulate(only, possible, order=order)
        if envelope is None:
            return None
        walk = possible.diffusion(order, rotation_hz) * rotation_hz
        return line_evidence(envelope, noise=noise, walk=walk, start=stretch, reach=reach, amplitude=amplitude)

    steady = part.speeds[0]
    relative = float(np.std(course.speed_ms[course.usable]) / np.mean(course.speed_ms[course.usable]))
    if relative > _WIDE:
        odds = _each_by_its_own_floor(part, only, trial, stretch)
        return _verdict(odds, part.spread_ms)
    as_fixed = evidence(steady, min(2.0 * relative + 0.01, _CLOCK_REACH))
    chances = [(each.chance, evidence(each, _ORDER_REACH)) for each in part.speeds if each.chance > _LEAST_CHANCE] or [
        (1.0, None)
    ]
    if as_fixed is None or any(found is None for _, found in chances):
        return OrderOrFixed("cannot tell", 0.0, part.spread_ms)
    as_order = np.logaddexp.reduce([np.log(chance) + found for chance, found in chances if found is not None])
    return _verdict(float(as_order - as_fixed), part.spread_ms)


def _verdict(odds: float, spread_ms: float) -> OrderOrFixed:
    if abs(odds) < _DECISIVE:
        return OrderOrFixed("cannot tell", odds, spread_ms)
    return OrderOrFixed("order" if odds > 0.0 else "fixed", odds, spread_ms)


def _each_by_its_own_floor(part: TellingPart, only: EvenRecording, trial: Trial, stretch: float) -> float:
    """The odds in a wide sweep, where the clock's line stands in one place of the road's spectrum and the order passes
    through many: what the body amplifies would otherwise pass for a line."""
    course, order = part.course, trial.candidate.order
    wheel = demodulate(only, course, order=order)
    steady = np.full(course.turns.size, float(np.mean(course.speed_ms[course.usable])))
    by_clock = course.at_speed(steady, rate_hz=only.rate_hz, walk_m2_per_s=0.0)
    clock = demodulate(only, by_clock, order=order)
    if wheel is None or clock is None:
        return 0.0
    found = []
    for envelope, walk, low, high in (
        (
            wheel,
            WIDTH_SHARE * course.diffusion(order, wheel.mean_rotation_hz),
            stretch - _ORDER_REACH,
            stretch + _ORDER_REACH,
        ),
        (clock, by_clock.diffusion(order, clock.mean_rotation_hz), -_CLOCK_REACH, _CLOCK_REACH),
    ):
        outer = surroundings(envelope)
        spectrum = stretch_spectrum(envelope, 0, diffusion=walk, reach=1.15 * outer)
        floor = fit_floor(spectrum, low=low, high=high, outer=outer)
        if floor is None and envelope is wheel:
            return 0.0
        if floor is None:  # smeared over all the clock's neighbourhood: no line there
            found.append(0.0)
            continue
        here = replace(trial, channel=0, envelope=envelope, spectrum=spectrum, floor=floor)
        found.append(float(here.log_likelihood_ratio(spectrum.stretch[floor.peak : floor.peak + 1])[0]))
    return found[0] - found[1]
