"""The door: a recording in, everything that can be said about it out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from vibdiag.recording.amplitude import SpeedPoint, amplitude_at, amplitude_over_speed
from vibdiag.recording.angle import course_of
from vibdiag.recording.beat import Beat, find_beat
from vibdiag.recording.candidates import Candidate, engine_orders, wheel_orders
from vibdiag.recording.clean import EvenRecording, even_out
from vibdiag.recording.demodulate import LEAST_USABLE_S
from vibdiag.recording.engine_trace import trace_engine
from vibdiag.recording.evidence import SignWord, signs_of
from vibdiag.recording.faults import Fault, find_faults
from vibdiag.recording.order_map import OrderMap, order_map
from vibdiag.recording.order_or_fixed import OrderOrFixed, order_or_fixed, telling_part
from vibdiag.recording.orders import Line, Orders, find_orders
from vibdiag.recording.origin import Origin, origin_of
from vibdiag.recording.pieces import closed_up
from vibdiag.recording.progress import Tell, part, untold
from vibdiag.recording.resonance import fixed_humps
from vibdiag.recording.search import Trial, try_orders
from vibdiag.recording.severity import Severity, order_severity_ms2, severity
from vibdiag.recording.signal import Recording, SpeedTrack
from vibdiag.recording.speed import DELAY_S, SmoothSpeed, smooth_speed
from vibdiag.recording.taking_part import taking_part
from vibdiag.recording.wheels_apart import WheelsApart, end_of, wheels_apart

__all__ = ["Analysis", "analyse"]

USUAL_CIRCUMFERENCE_M = (1.70, 2.50)  # small car to off-roader (from memory)
_DELAYS_S = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.3)
_SWEPT = 0.05  # relative spread of the speed from which one amplitude is that of one speed
_FEWEST_STAMPS = 16
_LEAST_PULL_MS2 = 0.12  # below this root mean square of acceleration a delay does not matter


@dataclass(frozen=True, slots=True)
class Analysis:
    """orders: of the wheel and what is geared to it; None when there is no usable speed. engine: orders of the
    engine, where its speed was recorded. severity: of everything; order_severity_ms2: weighted r.m.s. of each found
    order alone, by name. over_speed: amplitude by speed of each found line, by (name, channel), as are judged and
    beats. wheels: 1x wheel parted among the wheels, where each one's speed was recorded. mean_speed_ms, delay_s: of the
    speed used. order_map: of the channel that shows the surest order.
    """

    faults: tuple[Fault, ...]
    orders: Orders | None = None
    engine: Orders | None = None
    engine_traced: bool = False
    severity: Severity | None = None
    order_severity_ms2: Mapping[str, float] = field(default_factory=dict)
    over_speed: Mapping[tuple[str, str], tuple[SpeedPoint, ...]] = field(default_factory=dict)
    judged: Mapping[tuple[str, str], OrderOrFixed] = field(default_factory=dict)
    beats: Mapping[tuple[str, str], Beat] = field(default_factory=dict)
    humps_hz: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    origin: Origin | None = None
    signs: tuple[SignWord, ...] = ()
    wheels: WheelsApart | None = None
    order_map: OrderMap | None = None
    mean_speed_ms: float | None = None
    delay_s: float | None = None

    @property
    def lines(self) -> tuple[Line, ...]:
        """All found lines, of wheels and engine."""
        return tuple(line for each in (self.orders, self.engine) if each is not None for line in each.found)


def analyse(
    recording: Recording,
    *,
    circumference_m: tuple[float, float] = USUAL_CIRCUMFERENCE_M,
    propshaft_ratio: float | None = None,
    halfshafts: bool = True,
    cylinders: int | None = None,
    highest_order: int = 4,
    delay_s: float | None = None,
    alarm: float = 0.01,
    details: int = 4,
    wheel_circumference_m: float | None = None,
    tell: Tell = untold,
) -> Analysis:
    """Analyse one recording.

    circumference_m: (smallest, largest) that tyre and wear allow; add what the speed may read wrong. propshaft_ratio:
    turns of the propshaft per turn of the wheel. cylinders: of the engine. delay_s: of the speed's stamps, found from
    the orders themselves when left out and the speed changes. alarm: allowed false alarms of the search. details: how
    many of the strongest orders get amplitude over speed, beat and the order-or-fixed test. wheel_circumference_m: what
    one turn was reckoned as in the speeds of the single wheels, where that is known. tell: is told the share that is
    done.
    """
    candidates = wheel_orders(highest=highest_order, propshaft_ratio=propshaft_ratio, halfshafts=halfshafts)
    centre = float(np.sqrt(circumference_m[0] * circumference_m[1]))
    faults = find_faults(recording, candidates=candidates, circumference_m=centre)
    recording = closed_up(recording)
    names, seldom = taking_part(recording)
    faults = (*faults, *seldom)
    if not names or _too_few(recording, names) or any(each.kind == "gaps" and each.blocks_orders for each in faults):
        return Analysis(faults)
    even = even_out(recording, names=names, thinned_hz=_needed_hz(recording, candidates, circumference_m[0], cylinders))
    tell(0.1)
    felt = severity(recording, even, doubt=_doubt_of_level(recording, faults))
    tell(0.2)
    engine, traced = _engine(recording, even, cylinders, alarm)
    if any(fault.blocks_orders for fault in faults) or recording.speed is None:
        return Analysis(faults, severity=felt, engine=engine, engine_traced=traced)
    speed = smooth_speed(recording.speed, delay_s=delay_s)
    if (unknown := _speed_too_short(even, speed, centre)) is not None:
        return Analysis((*faults, unknown), severity=felt, engine=engine, engine_traced=traced)
    searched = part(tell, 0.25, 0.6)
    orders = find_orders(even, speed, candidates, circumference_m=circumference_m, alarm=alarm, tell=searched)
    if delay_s is None and recording.speed.source in ("gps", "obd", "unknown") and orders.found:
        better = _better_delay(even, recording.speed, speed, orders)
        if better is not None:
            speed = smooth_speed(recording.speed, delay_s=better)
            orders = find_orders(even, speed, candidates, circumference_m=circumference_m, alarm=alarm)
    tell(0.75)
    course = course_of(even, speed, circumference_m=centre)
    mean = float(course.speed_ms[course.usable].mean()) if course.usable.any() else None
    over_speed, judged, beats = _details(even, speed, orders, details)
    if mean is not None and float(np.std(course.speed_ms[course.usable])) > _SWEPT * mean:
        orders = _at_the_mean_speed(even, orders, mean)
    tell(0.9)
    origin = None
    alone: dict[str, float] = {}
    if orders.found:
        top = max(orders.found, key=lambda line: line.log_likelihood_ratio)
        origin = origin_of(orders.lines, recording.channels, order=top.order, place=recording.sensor_place)
        for name in dict.fromkeys(line.name for line in orders.found):
            lines = [
                line
                for line in orders.found
                if line.name == name
                and recording.channels[line.channel].kind == "acceleration"
                and (felt is None or line.channel not in felt.left_out)
            ]
            if lines:
                alone[name] = order_severity_ms2(
                    [(line.amplitude, recording.channels[line.channel].axis) for line in lines],
                    frequency_hz=lines[0].frequency_hz,
                    place=recording.sensor_place,
                )
    clearest = max(orders.lines, key=lambda line: (line.found, line.log_likelihood_ratio), default=None)
    metres = centre if orders.circumference is None else orders.circumference.metres
    mapped = None
    if clearest is not None:
        by_turns = course_of(even, speed, circumference_m=metres)
        mapped = order_map(even, by_turns, channel=even.names.index(clearest.channel))
    apart = _each_wheel(recording, even, speed, orders, wheel_circumference_m)
    if apart is not None and apart.shares and (end := end_of(apart.shares[0].name)) is not None and origin is not None:
        first = apart.shares[0]
        why = f"its own speed parts {first.name} from the other wheels"
        if first.alarm < alarm:
            origin = replace(origin, end=end, why=why, trust=0.9 * (1.0 - first.alarm))
    humps = {
        name: fixed_humps(even, speed, channel=row)
        for row, name in enumerate(even.names)
        if recording.channels[name].kind == "acceleration"
    }
    return Analysis(
        faults,
        orders=orders,
        engine=engine,
        engine_traced=traced,
        severity=felt,
        order_severity_ms2=MappingProxyType(alone),
        over_speed=MappingProxyType(over_speed),
        judged=MappingProxyType(judged),
        beats=MappingProxyType(beats),
        humps_hz=MappingProxyType({name: each for name, each in humps.items() if each}),
        origin=origin,
        wheels=apart,
        order_map=mapped,
        signs=signs_of(orders, judged=judged, beats=beats, origin=origin),
        mean_speed_ms=mean,
        delay_s=speed.delay_s,
    )


def _too_few(recording: Recording, names: Sequence[str]) -> bool:
    """Whether fewer stamps than can be brought onto a grid hold a value of every channel."""
    usable = np.isfinite(recording.time_s)
    for name in names:
        usable &= np.isfinite(recording.channels[name].values)
    stamps = recording.time_s if usable.all() else recording.time_s[usable]
    return all(np.unique(part).size < _FEWEST_STAMPS for part in (stamps[:1000], stamps))


def _speed_too_short(even: EvenRecording, speed: SmoothSpeed, circumference_m: float) -> Fault | None:
    """Said where shake and speed are known together for less time than any order needs."""
    seconds = float(np.count_nonzero(course_of(even, speed, circumference_m=circumference_m).usable)) / even.rate_hz
    if seconds >= LEAST_USABLE_S:
        return None
    return Fault(
        "speed-missing",
        f"Shake and a speed above walking pace are there together for only {seconds:.1f} s; orders need "
        f"{LEAST_USABLE_S:.0f} s at least.",
        blocks_orders=True,
    )


def _doubt_of_level(recording: Recording, faults: Sequence[Fault]) -> str:
    """Why the size of the acceleration cannot be trusted; "" where it can."""
    wrong = (fault.sentence for fault in faults if fault.kind in ("units-doubtful", "spikes"))
    return (recording.unit_doubt or next(wrong, "")).rstrip(".")


def _needed_hz(
    recording: Recording, candidates: Sequence[Candidate], circumference_m: float, cylinders: int | None
) -> float:
    """Rate at which every order can still be seen."""
    highest = 40.0
    if recording.speed is not None and np.isfinite(recording.speed.speed_ms).any():
        fast = float(np.nanquantile(recording.speed.speed_ms, 0.98)) / circumference_m
        highest = max(each.order for each in candidates) * fast
    if recording.engine is not None and np.isfinite(recording.engine.rev_per_s).any():
        most = max(each.order for each in engine_orders(cylinders=cylinders))
        highest = max(highest, most * float(np.nanquantile(recording.engine.rev_per_s, 0.98)))
    return highest / 0.4


def _each_wheel(
    recording: Recording, even: EvenRecording, speed: SmoothSpeed, orders: Orders, known_m: float | None
) -> WheelsApart | None:
    """The first order of the wheel on the channel that shows it best."""
    lines = [line for line in orders.found if line.part == "wheel" and line.order == 1.0]
    if not lines or not recording.wheels or orders.circumference is None:
        return None
    line = max(lines, key=lambda each: each.log_likelihood_ratio)
    return wheels_apart(
        even,
        speed,
        recording.wheels,
        channel=even.names.index(line.channel),
        order=line.order,
        name=line.name,
        circumference_m=known_m or orders.circumference.metres,
        known=known_m is not None,
    )


def _over_speed(even: EvenRecording, orders: Orders, line: Line) -> tuple[SpeedPoint, ...]:
    return amplitude_over_speed(
        _trial_of(orders, even, line),
        stretch=line.stretch,
        amplitude=line.amplitude,
        circumference_m=orders.reckoned_m,
    )


def _at_the_mean_speed(even: EvenRecording, orders: Orders, mean_ms: float) -> Orders:
    """The same lines, the amplitude of each found one taken at the mean speed of a drive that swept."""
    lines = []
    for line in orders.lines:
        there = amplitude_at(_over_speed(even, orders, line), 3.6 * mean_ms) if line.found else None
        lines.append(line if there is None else replace(line, amplitude=there[0], interval=there[1]))
    return replace(orders, lines=tuple(lines))


def _details(
    even: EvenRecording, speed: SmoothSpeed, orders: Orders, details: int
) -> tuple[
    dict[tuple[str, str], tuple[SpeedPoint, ...]], dict[tuple[str, str], OrderOrFixed], dict[tuple[str, str], Beat]
]:
    over_speed, judged, beats = {}, {}, {}
    strongest: dict[str, Line] = {}  # by name, each on the channel that shows it best
    for line in sorted(orders.found, key=lambda line: -line.log_likelihood_ratio):
        strongest.setdefault(line.name, line)
    part = telling_part(even, speed, circumference_m=orders.reckoned_m) if orders.found else None
    for line in list(strongest.values())[:details]:
        trial = _trial_of(orders, even, line)
        key = (line.name, line.channel)
        over_speed[key] = _over_speed(even, orders, line)
        if part is not None:
            judged[key] = order_or_fixed(part, trial, stretch=line.stretch, amplitude=line.amplitude)
    swelling = orders.found[: 3 * details]
    for line in swelling:
        beat = find_beat(_trial_of(orders, even, line), stretch=line.stretch, tried=len(swelling))
        if beat is not None:
            beats[line.name, line.channel] = beat
    return over_speed, judged, beats


def _trial_of(orders: Orders, even: EvenRecording, line: Line) -> Trial:
    return next(
        trial
        for trial in orders.trials
        if trial.candidate.name == line.name and even.names[trial.channel] == line.channel
    )


def _better_delay(even: EvenRecording, track: SpeedTrack, speed: SmoothSpeed, orders: Orders) -> float | None:
    """The delay at which the surest order is sharpest; None when the usual one will do."""
    pull = np.gradient(speed.speed_ms, speed.time_s)
    if float(np.sqrt(np.mean(pull**2))) < _LEAST_PULL_MS2:
        return None
    line = max(orders.found, key=lambda each: each.log_likelihood_ratio)
    old = _trial_of(orders, even, line)
    only = replace(even, names=(line.channel,), values=even.values[old.channel][None, :])
    usual = DELAY_S[track.source]
    scores = {}
    for delay in sorted({*_DELAYS_S, usual}):
        course = course_of(even, smooth_speed(track, delay_s=delay), circumference_m=orders.reckoned_m)
        trials, _ = try_orders(only, course, [old.candidate], low=old.low, high=old.high)
        if trials:
            trial = trials[0]
            scores[delay] = float(
                trial.log_likelihood_ratio(trial.spectrum.stretch[trial.floor.peak : trial.floor.peak + 1])[0]
            )
    if not scores:
        return None
    best = max(scores, key=lambda delay: scores[delay])
    return best if scores[best] > scores.get(usual, 0.0) + 1.0 else None


def _engine(
    recording: Recording, even: EvenRecording, cylinders: int | None, alarm: float
) -> tuple[Orders | None, bool]:
    """Orders of the engine: its turns take the place of metres, so that one turn is one 'circumference'.

    Where its speed was not recorded it is traced from the shake; the firing order, which it was traced by, is then not
    looked for, because it would be found by construction.
    """
    candidates = engine_orders(cylinders=cylinders)
    track, traced = recording.engine, False
    if track is None and cylinders is not None:
        speed = smooth_speed(recording.speed) if recording.speed is not None and _moves(recording.speed) else None
        for channel, name in enumerate(even.names):
            if track is None and recording.channels[name].kind == "acceleration":
                track = trace_engine(even, channel=channel, cylinders=cylinders, speed=speed)
        traced = track is not None
        candidates = tuple(each for each in candidates if each.order != cylinders / 2.0)
    if track is None or np.count_nonzero(np.isfinite(track.rev_per_s)) < 2:
        return None, False
    turning = smooth_speed(SpeedTrack(track.time_s, track.rev_per_s, "obd"), delay_s=0.0 if traced else None)
    found = find_orders(even, turning, candidates, circumference_m=(0.985, 1.015), alarm=alarm)
    return replace(found, circumference=None), traced


def _moves(track: SpeedTrack) -> bool:
    return int(np.count_nonzero(np.isfinite(track.speed_ms) & np.isfinite(track.time_s) & (track.speed_ms >= 0.0))) >= 2
