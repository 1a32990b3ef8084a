"""The rolling circumference that the found orders agree on, by the recording's own speed.

Over a short drive most of its error is that of the speed's mean, and the rest comes from not knowing the speed between
the readings. So the surest order is followed along each course that the speed may have taken (possible_speeds.py), and
every course counts by its chance and by how well the order agrees with it: a speed that was truly held then loses
nothing to the noise of its readings.

What it cannot do: a speed that reads wrong by a fraction makes a circumference wrong by the same fraction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vibdiag.recording.angle import course_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import demodulate
from vibdiag.recording.phase_path import FollowedOrder, follow
from vibdiag.recording.possible_speeds import possible_speeds
from vibdiag.recording.search import JointScore, Trial
from vibdiag.recording.speed import SmoothSpeed
from vibdiag.recording.swept import levelled

__all__ = ["AGREE", "Circumference", "circumference_of"]

AGREE = 0.006  # circumferences of the wheels of one car may differ by this much (common practice)
_LONGEST_S = 150.0  # above that the surest order alone tells more than the speed does
_LEAST_CHANCE = 1e-3


@dataclass(frozen=True, slots=True)
class Circumference:
    """metres: rolling circumference that the orders agree on, by the recording's own speed. sd_m: standard deviation.
    confidence: share of the belief on this place (within 0.6 %) among all searched. other_m: the next best place."""

    metres: float
    sd_m: float
    confidence: float
    other_m: float | None


def circumference_of(
    even: EvenRecording,
    speed: SmoothSpeed,
    trial: Trial,
    *,
    reckoned_m: float,
    stretch: float,
    stretch_sd: float,
    amplitude: float,
    scores: Sequence[tuple[float, JointScore]],
) -> Circumference:
    """From the surest order of the wheel.

    trial, stretch, stretch_sd, amplitude: of that order as found. reckoned_m: what the trial's angle was reckoned with.
    scores: (circumference, score about it) of the whole search.
    """
    seconds = (even.good.size - 1) / even.rate_hz
    if seconds <= _LONGEST_S:
        finer = _along_each_speed(even, speed, trial, reckoned_m=reckoned_m, stretch=stretch, amplitude=amplitude)
        stretch, stretch_sd = finer or (stretch, stretch_sd)
    metres = reckoned_m / (1.0 + stretch)
    confidence, other = _belief(scores, metres)
    return Circumference(metres, metres * stretch_sd, confidence, other)


def _along_each_speed(
    even: EvenRecording, speed: SmoothSpeed, trial: Trial, *, reckoned_m: float, stretch: float, amplitude: float
) -> tuple[float, float] | None:
    """Stretch and its standard deviation, averaged over the possible courses of the speed; None without any."""
    end_s = even.start_s + (even.good.size - 1) / even.rate_hz
    course = course_of(even, speed, circumference_m=reckoned_m)
    order, rotation_hz = trial.candidate.order, trial.envelope.mean_rotation_hz
    index = int(np.argmin(np.abs(trial.spectrum.stretch - stretch)))
    only = replace(even, names=(even.names[trial.channel],), values=even.values[trial.channel][None, :])
    time = even.time_s
    followed: list[tuple[float, FollowedOrder]] = []
    for each in possible_speeds(speed, begin_s=even.start_s, end_s=end_s):
        if each.chance < _LEAST_CHANCE:
            continue
        possible = course.at_speed(each.at(time), rate_hz=even.rate_hz, walk_m2_per_s=each.walk_m2_per_s)
        envelope = demodulate(only, possible, order=order)
        if envelope is None:
            continue
        diffusion = possible.diffusion(order, rotation_hz)
        found = follow(
            levelled(envelope),
            0,
            noise=trial.noise(index, diffusion=diffusion),
            diffusion=diffusion,
            start=stretch,
            reach=1.2 * trial.spectrum.width,
            amplitude=amplitude,
        )
        if each.wander_ms == 0.0:  # a steady course knows nothing of its own error, which is that of the mean reading
            heard = max(float(np.ptp(speed.read_s)), speed.step_s)
            mean_sd = float(np.sqrt(speed.walk_m2_per_s / heard)) / max(float(np.mean(possible.speed_ms)), 1e-9)
            found = replace(found, stretch_sd=float(np.hypot(found.stretch_sd, mean_sd)))
        followed.append((each.chance, found))
    if not followed:
        return None
    log_weight = np.array([np.log(chance) + found.log_evidence for chance, found in followed])
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    places = np.array([found.stretch for _, found in followed])
    spreads = np.array([found.stretch_sd for _, found in followed])
    mean = float(weight @ places)
    return mean, float(np.sqrt(weight @ (spreads**2 + (places - mean) ** 2)))


def _belief(scores: Sequence[tuple[float, JointScore]], metres: float) -> tuple[float, float | None]:
    place = np.concatenate([centre / (1.0 + joint.stretch) for centre, joint in scores])
    score = np.concatenate([joint.score for _, joint in scores])
    weight = np.exp(score - score.max())
    here = np.abs(place / metres - 1.0) <= AGREE
    confidence = float(weight[here].sum() / weight.sum())
    elsewhere = np.flatnonzero(np.abs(place / metres - 1.0) > 2.0 * AGREE)
    other = float(place[elsewhere[np.argmax(score[elsewhere])]]) if elsewhere.size else None
    return confidence, other
