"""Which orders are in a recording, how strong, how surely, and the rolling circumference they agree on.

What it cannot do: tell which of two parts that turn equally fast is at fault; see an order above 0.45 of the
recording's rate; tell a wrong tyre from a speed that reads wrong by the same fraction (the circumference it gives is
the one that fits the speed as recorded).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from vibdiag.recording.alarm import any_of, chance_alarm, evidence_alarm
from vibdiag.recording.angle import course_of
from vibdiag.recording.candidates import Candidate
from vibdiag.recording.circumference import AGREE, Circumference, circumference_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.phase_path import FollowedOrder, follow
from vibdiag.recording.progress import Tell, untold
from vibdiag.recording.rivals import Rival, rivals_of
from vibdiag.recording.search import JointScore, Trial, joint_score, try_orders
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["Circumference", "Line", "Orders", "find_orders"]

_SPAN = 0.035  # half of a stretch range searched at once
_SECOND_LOOK_BELOW = 0.3
_SURE = 1.645  # standard deviations to either side that hold 90 %


@dataclass(frozen=True, slots=True)
class Line:
    """One order on one axis.

    amplitude: zero to peak, the channel's unit; interval: 90 %, from 0 where the order was not found. alarm:
    probability that noise alone shows as much anywhere in the search. frequency_hz: at the mean rotation.
    log_likelihood_ratio: natural, for the order against none.
    """

    name: str
    order: float
    part: str
    channel: str
    frequency_hz: float
    found: bool
    alarm: float
    amplitude: float
    interval: tuple[float, float]
    stretch: float
    stretch_sd: float
    log_likelihood_ratio: float


@dataclass(frozen=True, slots=True)
class Orders:
    """lines: all tried, the surest first. circumference: None when no order of the wheel was found. unseen: names of
    orders this recording cannot show. trials: for those who ask further (amplitude over speed, beats). reckoned_m: the
    circumference that the trials' angle was reckoned with. rivals: by name of a found line, what else it may be."""

    lines: tuple[Line, ...]
    circumference: Circumference | None
    unseen: tuple[str, ...]
    trials: tuple[Trial, ...]
    reckoned_m: float
    rivals: Mapping[str, tuple[Rival, ...]] = field(default_factory=dict)

    @property
    def found(self) -> tuple[Line, ...]:
        """The lines that were found."""
        return tuple(line for line in self.lines if line.found)


def find_orders(
    even: EvenRecording,
    speed: SmoothSpeed,
    candidates: Sequence[Candidate],
    *,
    circumference_m: tuple[float, float],
    alarm: float = 0.01,
    tell: Tell = untold,
) -> Orders:
    """Search all candidates on all channels.

    circumference_m: (smallest, largest) that tyre and wear allow, by the speed as recorded. alarm: allowed false alarms
    of the whole search, 0 to 1. tell: is told the share that is done.

    Raises ValueError when the range is empty or not positive.
    """
    smallest, largest = circumference_m
    if not 0.0 < smallest < largest:
        raise ValueError(f"The circumference must lie between two positive numbers, not {smallest} and {largest} m.")
    searches = []
    pieces = max(int(np.ceil(np.log(largest / smallest) / (2.0 * _SPAN))), 1)
    edges = smallest * (largest / smallest) ** (np.arange(pieces + 1) / pieces)
    for number, (begin, end) in enumerate(pairwise(edges), 1):
        centre = float(np.sqrt(begin * end))
        low, high = centre / end - 1.0, centre / begin - 1.0
        course = course_of(even, speed, circumference_m=centre)
        trials, unseen = try_orders(even, course, candidates, low=low, high=high)
        searches.append((centre, trials, unseen, joint_score(trials, low=low, high=high)))
        tell(0.9 * number / pieces)
    unseen_names = tuple(each.name for each in searches[0][2])
    if not any(trials for _, trials, _, _ in searches):
        return Orders((), None, unseen_names, (), float(np.sqrt(smallest * largest)))
    centre, trials, _, joint = max(searches, key=lambda search: float(search[3].score.max()))
    tested = float(len(even.names))
    lines = _judge(even, trials, joint, channels=tested, pieces=pieces, alarm=alarm)
    wheel_found = [line for line in lines if line.found]
    circumference = None
    if wheel_found:
        best = min(wheel_found, key=lambda line: line.stretch_sd)
        circumference = circumference_of(
            even,
            speed,
            next(t for t in trials if t.candidate.name == best.name and even.names[t.channel] == best.channel),
            reckoned_m=centre,
            stretch=best.stretch,
            stretch_sd=best.stretch_sd,
            amplitude=best.amplitude,
            scores=[(c, j) for c, _, _, j in searches],
        )
    rivals: Mapping[str, tuple[Rival, ...]] = {}
    if circumference is not None:
        by_name = {line.name: line.order for line in wheel_found}
        rivals = rivals_of(by_name, candidates, metres=circumference.metres, searched_m=circumference_m)
    return Orders(tuple(lines), circumference, unseen_names, tuple(trials), centre, rivals)


def _judge(
    even: EvenRecording, trials: Sequence[Trial], joint: JointScore, *, channels: float, pieces: int, alarm: float
) -> list[Line]:
    agreed = joint.best

    def once(trial: Trial, index: int, places: float) -> float:
        return chance_alarm(
            float(trial.ratio[index]), looks=trial.spectrum.looks, floor_looks=trial.floor.looks, places=places
        )

    evidences: dict[int, float | None] = {}

    def alone_at(number: int, index: int) -> float:
        """As if no other order and axis helped, anywhere in the search."""
        trial = trials[number]
        searches = channels / trial.candidate.share
        first = once(trial, index, trial.places * pieces)
        if any_of(first, searches) > _SECOND_LOOK_BELOW:
            return any_of(first, searches)
        if number not in evidences:
            evidences[number] = trial.evidence()
        evidence = evidences[number]
        if evidence is not None:  # None: so long that the power alone decides
            first = evidence_alarm(first, evidence)
        return any_of(first, searches)

    # where all orders and axes agree best; settled when one of them stands out there even as if it had been alone
    there = [_peak_near(trial, agreed) for trial in trials]
    alone = [alone_at(number, index) if summit else 1.0 for number, (index, summit) in enumerate(there)]
    surest = min(range(len(trials)), key=lambda number: alone[number])
    settled = alone[surest] < alarm
    lines = []
    for number, (trial, (near, summit)) in enumerate(zip(trials, there, strict=True)):
        if not settled:
            index = trial.floor.peak
            fallen = alone_at(number, index)
        elif number == surest:
            index, fallen = near, alone[number]
        else:
            index = near
            fallen = any_of(once(trial, near, 1.0), channels / trial.candidate.share) if summit else 1.0
        lines.append(_line(even, trial, index, fallen, found=fallen < alarm))
    return sorted(lines, key=lambda line: (not line.found, line.alarm, -line.log_likelihood_ratio))


def _peak_near(trial: Trial, stretch: float) -> tuple[int, bool]:
    """The strongest place near a stretch, and whether it is a summit of its own and not the flank of another."""
    tolerance = max(AGREE, 0.5 * trial.spectrum.width)
    near = np.flatnonzero(np.abs(trial.spectrum.stretch - stretch) <= tolerance)
    index = int(near[np.argmax(trial.ratio[near])])
    return index, bool(near[0] < index < near[-1])


def _followed(trial: Trial, index: int) -> FollowedOrder:
    noise_power = float(trial.floor.power[index])
    excess = max(float(trial.spectrum.power[index]) - noise_power, 0.3 * noise_power)
    return follow(
        trial.envelope,
        trial.channel,
        noise=trial.noise(index),
        diffusion=trial.diffusion,
        start=float(trial.spectrum.stretch[index]),
        reach=1.2 * trial.spectrum.width,
        amplitude=float(np.sqrt(excess / trial.spectrum.signal_gain)),
    )


def _line(even: EvenRecording, trial: Trial, index: int, chance: float, *, found: bool) -> Line:
    spectrum, floor = trial.spectrum, trial.floor
    noise_power = float(floor.power[index])
    excess = float(spectrum.power[index]) - noise_power
    strength = float(np.sqrt(max(excess, 0.0) / spectrum.signal_gain))
    scatter = noise_power * np.sqrt(1.0 / spectrum.looks + 1.0 / floor.looks)
    upper = float(np.sqrt((max(excess, 0.0) + _SURE * scatter) / spectrum.signal_gain))
    stretch, stretch_sd = float(spectrum.stretch[index]), spectrum.width
    line = Line(
        trial.candidate.name,
        trial.candidate.order,
        trial.candidate.part,
        even.names[trial.channel],
        trial.candidate.order * trial.envelope.mean_rotation_hz * (1.0 + stretch),
        found,
        chance,
        strength,
        (0.0, upper),
        stretch,
        stretch_sd,
        float(trial.log_likelihood_ratio(np.array([stretch]))[0]),
    )
    if not found:
        return line
    followed = _followed(trial, index)
    spread = _SURE * followed.amplitude_sd
    return replace(
        line,
        amplitude=followed.amplitude,
        interval=(max(followed.amplitude - spread, 0.0), followed.amplitude + spread),
        stretch=followed.stretch,
        stretch_sd=followed.stretch_sd,
        frequency_hz=trial.candidate.order * trial.envelope.mean_rotation_hz * (1.0 + followed.stretch),
    )
