"""Does a line follow the wheels, or does it stay at its own frequency?

Two assumptions, with the same noise and the same strengths: the line is locked to the turning of the wheel, or it is
locked to the clock. Under the first, the readings of the speed and the line speak of one and the same speed, which may
have been any that the readings allow; under the second they have nothing to do with each other. What the readings alone
say is common to both, so

    odds = sum over speeds of chance(speed) * evidence(line by that speed's angle) / evidence(line by the clock)

and a speed that may well have been steady makes the two alike: the odds cannot fall below the chance of that. Where the
speed changed much, the line is compared with what stands beside it, by the wheel and by the clock, which is quicker.

What it cannot do: at a steady speed nothing can tell an order from a fixed frequency; then it says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from vibdiag.recording.angle import Course, course_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import Envelope, demodulate
from vibdiag.recording.fading_line import SLOT_S
from vibdiag.recording.floor import fit_floor
from vibdiag.recording.line_evidence import ORDER_REACH, line_by_the_clock, line_by_the_wheel
from vibdiag.recording.possible_speeds import ReadSpeed, read_speed
from vibdiag.recording.search import WIDTH_SHARE, Trial, surroundings
from vibdiag.recording.spectrum import stretch_spectrum
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["OrderOrFixed", "TellingPart", "order_or_fixed", "telling_part"]

_LEAST_SPREAD_MS = 0.12  # below this the slow errors of a satellite speed (from memory) look like changes of speed
_LONGEST_S = 90.0
_DECISIVE = 3.0  # natural log: 20 to 1
_CLOCK_REACH = 0.1
_WIDE, _WIDEST = 0.015, 0.05  # spread of the speed, relative


@dataclass(frozen=True, slots=True)
class OrderOrFixed:
    """verdict; log_odds: natural, above 0 for an order; spread_ms: standard deviation of the speed."""

    verdict: Literal["order", "fixed", "cannot tell"]
    log_odds: float
    spread_ms: float


@dataclass(frozen=True, slots=True, eq=False)
class TellingPart:
    """The part of a recording that tells most: its samples, the course of its smoothed speed, what its readings say,
    and the spread of the true speed (m/s)."""

    even: EvenRecording
    course: Course
    read: ReadSpeed | None
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
    read = read_speed(speed, begin_s=even.start_s, end_s=end_s)
    course = course_of(even, speed, circumference_m=circumference_m)
    spread = 0.0 if read is None else read.spread_ms
    if spread > 1.0 and course.usable.any():  # far above the noise
        spread = float(np.std(course.speed_ms[course.usable]))
    return TellingPart(even, course, read, spread)


def order_or_fixed(part: TellingPart, trial: Trial, *, stretch: float, amplitude: float) -> OrderOrFixed:
    """Judge one line.

    trial, stretch, amplitude: as found. Where the speed changed by more than _WIDE, what stands beside the line decides
    if it can (above _WIDEST it must, because the readings' wander is no longer one about a mean).
    """
    even, course = part.even, part.course
    if part.read is None or part.spread_ms < _LEAST_SPREAD_MS or not course.usable.any():
        return OrderOrFixed("cannot tell", 0.0, part.spread_ms)
    only = replace(even, names=(even.names[trial.channel],), values=even.values[trial.channel][None, :])
    mean_ms = float(np.mean(course.speed_ms[course.usable]))
    relative = float(np.std(course.speed_ms[course.usable])) / mean_ms
    steady = course.at_speed(np.full(course.turns.size, mean_ms), rate_hz=even.rate_hz, walk_m2_per_s=0.0)
    order = trial.candidate.order
    by_wheel, by_clock = (demodulate(only, each, order=order) for each in (course, steady))
    if by_wheel is None or by_clock is None:
        return OrderOrFixed("cannot tell", 0.0, part.spread_ms)
    beside = None
    if relative > _WIDE:
        walks = (
            WIDTH_SHARE * course.diffusion(order, by_wheel.mean_rotation_hz),
            steady.diffusion(order, by_clock.mean_rotation_hz),
        )
        beside = _each_by_its_own_floor(trial, stretch, (by_wheel, by_clock), walks)
    if beside is not None and (abs(beside) >= _DECISIVE or relative > _WIDEST):
        return _verdict(beside, part.spread_ms)
    index = int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))
    noise = trial.noise(index, diffusion=0.35 / (SLOT_S * trial.envelope.mean_rotation_hz))
    fixed, held = line_by_the_clock(
        by_clock, noise=noise, start=stretch, reach=min(relative + 0.006, _CLOCK_REACH), amplitude=amplitude
    )
    at_s = np.interp(by_wheel.turns, course.turns, even.time_s)
    locked = line_by_the_wheel(
        by_wheel,
        at_s=at_s,
        read=part.read,
        circumference_m=course.circumference_m,
        noise=noise,
        start=stretch,
        amplitude=amplitude,
    )
    was_steady = float(np.clip(part.read.steady, 1e-300, 1.0 - 1e-12))
    as_order = np.logaddexp(np.log(was_steady) + held, np.log1p(-was_steady) + locked)
    odds = float(as_order - fixed)
    # what stands beside it, though not decisive, may be the road's own hump that passed for a fading line
    return _verdict(odds if beside is None or beside * odds > 0.0 else beside, part.spread_ms)


def _verdict(odds: float, spread_ms: float) -> OrderOrFixed:
    if abs(odds) < _DECISIVE:
        return OrderOrFixed("cannot tell", odds, spread_ms)
    return OrderOrFixed("order" if odds > 0.0 else "fixed", odds, spread_ms)


def _each_by_its_own_floor(
    trial: Trial, stretch: float, envelopes: tuple[Envelope, Envelope], walks: tuple[float, float]
) -> float | None:
    """The odds in a wide sweep, where the clock's line stands in one place of the road's spectrum and the order passes
    through many: what the body amplifies would otherwise pass for a line. None where the order has no floor.

    envelopes, walks (rad2 per turn): by the wheel and by the clock.
    """
    near, far = (stretch - ORDER_REACH, stretch + ORDER_REACH), (-_CLOCK_REACH, _CLOCK_REACH)
    found = []
    for envelope, walk, (low, high) in zip(envelopes, walks, (near, far), strict=True):
        outer = surroundings(envelope)
        spectrum = stretch_spectrum(envelope, 0, diffusion=walk, reach=1.15 * outer)
        floor = fit_floor(spectrum, low=low, high=high, outer=outer)
        if floor is None and envelope is envelopes[0]:
            return None
        if floor is None:  # smeared over all the clock's neighbourhood: no line there
            found.append(0.0)
            continue
        here = replace(trial, channel=0, envelope=envelope, spectrum=spectrum, floor=floor)
        found.append(float(here.log_likelihood_ratio(spectrum.stretch[floor.peak : floor.peak + 1])[0]))
    return found[0] - found[1]
