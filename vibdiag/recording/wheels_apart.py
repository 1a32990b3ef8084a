"""How much of an order each wheel gives, where every wheel's own speed was recorded.

Wheels of one car differ in circumference by some tenths of a per cent, so their pointers turn against each other, and
over a few such turns (beats) the sum comes apart by least squares on each wheel's own angle. A pulse of a wheel says
how far it turned and not where its mark is, so the answer is an amplitude a wheel, in the unit of the channel.

What it cannot do: tell two wheels apart that turned alike; then the equations are nearly the same one twice (their
condition number says so), and nothing is told. Nor tell which of them shakes while nobody knows what one turn was
reckoned as: one line fits every wheel then, at another circumference each. It does not give grams: the same gram pushes
more on one axis than on another.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from vibdiag.recording.alarm import any_of
from vibdiag.recording.angle import course_of
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.demodulate import ComplexArray, demodulate
from vibdiag.recording.signal import FloatArray, SpeedTrack
from vibdiag.recording.speed import SmoothSpeed, smooth_speed

__all__ = ["WheelShare", "WheelsApart", "end_of", "wheels_apart"]

_MOST_CONDITION = 3.0
_LEAST_BEATS = 3.0
_REACH = 0.01  # of the common scale about the circumference that was found
_KNOWN_REACH = 0.0003
_STEP_TURNS = 0.08  # of the last turn from one scale to the next
_LONGEST_S = 180.0
_DECISIVE = 3.0  # natural log
_SURE = 1.645


@dataclass(frozen=True, slots=True)
class WheelShare:
    """name: of the wheel's speed. amplitude (zero to peak, the channel's unit) with its 90 % interval. alarm: chance
    that the others and noise alone show as much."""

    name: str
    amplitude: float
    interval: tuple[float, float]
    alarm: float


@dataclass(frozen=True, slots=True)
class WheelsApart:
    """shares: one a wheel, the strongest first; () when refused. condition: of the equations, 1 at best. beats: between
    the two wheels that turned most alike. refused: one sentence, or None."""

    channel: str
    order: str
    shares: tuple[WheelShare, ...]
    condition: float
    beats: float
    refused: str | None


def wheels_apart(
    even: EvenRecording,
    mean_speed: SmoothSpeed,
    wheels: Mapping[str, SpeedTrack],
    *,
    channel: int,
    order: float,
    name: str,
    circumference_m: float,
    known: bool,
) -> WheelsApart | None:
    """Part one order on one channel among the wheels.

    channel: index into the even recording. name: of the order. circumference_m: what one turn of a wheel was
    reckoned as in its speed, where that is known, else what the orders gave by the wheels' mean speed.
    Returns None when fewer than two wheels have a usable speed or the order cannot be seen.
    """
    size = int(_LONGEST_S * even.rate_hz)
    start = max((even.good.size - size) // 2, 0)
    part = slice(start, start + size)
    only = replace(
        even,
        names=(even.names[channel],),
        start_s=even.start_s + start / even.rate_hz,
        values=even.values[channel, part][None, :],
        good=even.good[part],
    )
    course = course_of(only, mean_speed, circumference_m=circumference_m)
    envelope = demodulate(only, course, order=order)
    speeds = {key: smooth_speed(track) for key, track in wheels.items() if np.isfinite(track.speed_ms).sum() >= 8}
    if envelope is None or len(speeds) < 2:
        return None
    place = np.interp(envelope.turns, course.turns, np.arange(course.turns.size, dtype=np.float64))
    index = np.arange(course.turns.size, dtype=np.float64)
    own_turns = np.stack(
        [
            np.interp(place, index, course_of(only, each, circumference_m=circumference_m).turns)
            for each in speeds.values()
        ]
    )
    usable = np.isfinite(envelope.spread[0])
    weight = np.where(usable, 1.0 / np.where(usable, envelope.spread[0], 1.0), 0.0)
    growth = (envelope.rotation_hz / envelope.mean_rotation_hz) ** 2
    beats = _fewest_beats(own_turns[:, usable], order)
    reach = _KNOWN_REACH if known else _REACH
    turned = float(order * (envelope.turns[-1] - envelope.turns[0]))
    fits = [
        _fit(envelope.pointer[0], own_turns, envelope.turns, weight, growth, order, scale)
        for scale in np.linspace(-reach, reach, 2 * int(np.ceil(reach * turned / _STEP_TURNS)) + 1)
    ]
    best = min(fits, key=lambda fit: fit.left)
    refused = None
    if best.condition > _MOST_CONDITION or beats < _LEAST_BEATS:
        longer = max(np.ceil(_LEAST_BEATS / max(beats, 0.1)), 2.0)
        refused = (
            f"Two of the wheels turned too nearly alike to be told apart: {beats:.1f} beats of {_LEAST_BEATS:.0f} that "
            f"are needed. Record {longer:.0f} times as long."
        )
    else:
        others = {fit.strongest for fit in fits if best.looks * np.log(fit.left / best.left) < _DECISIVE}
        if len(others) > 1:
            either = " or ".join(list(speeds)[index] for index in sorted(others))
            refused = (
                f"It may be {either}: which, only the circumference tells that the wheel speeds were reckoned with "
                "(--wheel-circumference)."
            )
    if refused is not None:
        return WheelsApart(even.names[channel], name, (), best.condition, beats, refused)
    shares = []
    for key, amplitude, error in zip(speeds, np.abs(best.pointers), best.errors, strict=True):
        chance = any_of(float(np.exp(-((amplitude / error) ** 2) / 2.0)), float(len(speeds)))
        spread = _SURE * error
        shares.append(
            WheelShare(key, float(amplitude), (max(float(amplitude - spread), 0.0), float(amplitude + spread)), chance)
        )
    shares.sort(key=lambda share: -share.amplitude)
    return WheelsApart(even.names[channel], name, tuple(shares), best.condition, beats, refused)


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """errors: standard deviation of each amplitude. left: weighted power that is not explained; looks: how many
    independent values that is."""

    pointers: ComplexArray
    errors: FloatArray
    condition: float
    left: float
    looks: float

    @property
    def strongest(self) -> int:
        """Index of the wheel with the largest amplitude."""
        return int(np.argmax(np.abs(self.pointers)))


def _fit(
    pointer: ComplexArray,
    own_turns: FloatArray,
    turns: FloatArray,
    weight: FloatArray,
    growth: FloatArray,
    order: float,
    scale: float,
) -> _Fit:
    """Weighted least squares of the pointer on each wheel's own, at one common scale of the turns."""
    columns = growth * np.exp((2j * np.pi * order) * ((1.0 + scale) * own_turns - turns))
    normal = (columns.conj() * weight) @ columns.T
    answer = np.linalg.pinv(normal, hermitian=True) @ ((columns.conj() * weight) @ pointer)
    left = pointer - answer @ columns
    rest = float(weight @ np.abs(left) ** 2)
    # the road's noise about the order is not white: neighbours in a row agree, and count for less
    together = _together(left * np.sqrt(weight))
    count = int(np.count_nonzero(weight))
    one_point = rest / max(count - together * len(own_turns), 1.0)
    variance = one_point * together * np.linalg.pinv(normal, hermitian=True).diagonal().real
    # half of a complex variance lies along the amplitude
    condition = float(np.sqrt(np.linalg.cond(normal)))
    return _Fit(answer, np.sqrt(0.5 * variance), condition, max(rest, 1e-300), count / together)


def _together(left: ComplexArray) -> float:
    """How many neighbouring points say one thing: the sum of the correlation over short lags, 1 for white noise."""
    power = float(np.vdot(left, left).real)
    lags = min(12, left.size // 4)
    near = [float(np.vdot(left[:-lag], left[lag:]).real) / max(power, 1e-300) for lag in range(1, lags)]
    return max(1.0 + 2.0 * float(np.sum(near)), 1.0)


def end_of(name: str) -> Literal["front", "rear"] | None:
    """Which axle a wheel's name speaks of.

    >>> end_of("front-left"), end_of("wheel_RR_kmh"), end_of("wheel2")
    ('front', 'rear', None)
    """
    words = re.split(r"[^a-z]+", name.casefold())
    if any(word.startswith("front") or word in ("fl", "fr", "lf", "rf") for word in words):
        return "front"
    if any(word.startswith("rear") or word in ("rl", "rr", "lr") for word in words):
        return "rear"
    return None


def _fewest_beats(own_turns: FloatArray, order: float) -> float:
    """Turns of the two most alike wheels against each other."""
    made = own_turns[:, -1] - own_turns[:, 0]
    apart = np.abs(made[:, None] - made[None, :]) + np.where(np.eye(made.size) > 0.0, np.inf, 0.0)
    return float(apart.min() * order)
