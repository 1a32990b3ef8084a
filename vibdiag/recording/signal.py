"""A road-test recording in memory: when, what was felt on which axis, how fast the car went, where the sensor sat.

A reader fills it, already in SI units (m/s2, rad/s, m/s, s); nothing is smoothed, resampled or repaired here. Faults
the reader saw (lost lines, units guessed, axes guessed) travel along in `notes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

__all__ = [
    "Axis",
    "Channel",
    "EngineTrack",
    "FloatArray",
    "Kind",
    "Place",
    "Recording",
    "SpeedSource",
    "SpeedTrack",
    "Unit",
]

FloatArray = npt.NDArray[np.float64]

Axis = Literal["x", "y", "z", "unknown"]
Kind = Literal["acceleration", "rotation"]
Unit = Literal["m/s2", "rad/s"]
Place = Literal["seat-rail", "floor", "steering-column", "steering-wheel", "unknown"]
SpeedSource = Literal["gps", "wheel-speed", "obd", "cruise", "unknown"]

_HOLE_S = 1.0  # a longer step is a hole
UNIT_OF: Mapping[str, Unit] = MappingProxyType({"acceleration": "m/s2", "rotation": "rad/s"})


def _column(values: object, what: str) -> FloatArray:
    array = np.ascontiguousarray(values, dtype=np.float64)
    if array.ndim != 1:
        raise ValueError(f"{what} must be one column of numbers, not an array of shape {array.shape}.")
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One sensor axis.

    values: (N,), in `unit`; not-a-number where the sensor gave none. axis: x forward, y to the left, z up, as the
    sensor sat in the car (ISO 8855); "unknown" where nobody said. kind: what it measures; unit follows from it.

    Raises ValueError when unit and kind do not belong together, or a word is not one of the known ones.
    """

    values: FloatArray
    unit: Unit
    axis: Axis
    kind: Kind

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", _column(self.values, "A channel"))
        if self.kind not in UNIT_OF or UNIT_OF[self.kind] != self.unit:
            raise ValueError(
                f"A channel of kind {self.kind!r} in {self.unit!r} is not known; "
                "write acceleration in m/s2 or rotation in rad/s."
            )
        if self.axis not in get_args(Axis):
            raise ValueError(f"axis is {self.axis!r}, but must be one of {', '.join(get_args(Axis))}.")


@dataclass(frozen=True, slots=True, eq=False)
class SpeedTrack:
    """Road speed on a clock of its own.

    time_s: (M,) on the recording's time axis; need not be even, and need not cover all of it. speed_ms: (M,), m/s.
    source: who measured it; decides the noise and latency to expect. A held speed that somebody wrote down is
    "cruise" with two points. Engine speed has a track of its own, `EngineTrack`. turn_m: where turns of a wheel were
    recorded, what one turn was reckoned as to make a speed of them; else None.
    """

    time_s: FloatArray
    speed_ms: FloatArray
    source: SpeedSource = "unknown"
    turn_m: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "time_s", _column(self.time_s, "The time of a speed"))
        object.__setattr__(self, "speed_ms", _column(self.speed_ms, "A speed"))
        if self.time_s.size != self.speed_ms.size:
            raise ValueError(f"The speed has {self.time_s.size} times but {self.speed_ms.size} values.")
        if self.source not in get_args(SpeedSource):
            raise ValueError(f"source is {self.source!r}, but must be one of {', '.join(get_args(SpeedSource))}.")


@dataclass(frozen=True, slots=True, eq=False)
class EngineTrack:
    """Engine speed. time_s: (M,) on the recording's time axis. rev_per_s: (M,), turns of the crankshaft per second."""

    time_s: FloatArray
    rev_per_s: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "time_s", _column(self.time_s, "The time of an engine speed"))
        object.__setattr__(self, "rev_per_s", _column(self.rev_per_s, "An engine speed"))
        if self.time_s.size != self.rev_per_s.size:
            raise ValueError(f"The engine speed has {self.time_s.size} times but {self.rev_per_s.size} values.")


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Everything one road test left behind.

    time_s: (N,), as stamped: it may jitter, repeat, run backwards and have gaps; `clean.py` puts it right.
    channels: name -> channel, each (N,). speed: None when there is none. engine: None when there is none.
    sensor_place: where the sensor sat. notes: one line each, what the reader had to guess or leave out. wheels: the
    speed of each wheel by name, where each was recorded; `speed` is then their mean. unit_doubt: in words, why the unit
    of the acceleration is in doubt; "" where it is not.

    Raises ValueError, naming the channel, when lengths do not match or nothing was measured.

    >>> import numpy as np
    >>> shake = Channel(np.zeros(3), "m/s2", "z", "acceleration")
    >>> Recording(np.array([0.0, 0.01, 0.02]), {"az": shake}).duration_s
    0.02
    """

    time_s: FloatArray
    channels: Mapping[str, Channel]
    speed: SpeedTrack | None = None
    engine: EngineTrack | None = None
    sensor_place: Place = "unknown"
    notes: tuple[str, ...] = field(default=())
    wheels: Mapping[str, SpeedTrack] = field(default_factory=dict)
    unit_doubt: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "time_s", _column(self.time_s, "The time"))
        object.__setattr__(self, "wheels", MappingProxyType(dict(self.wheels)))
        object.__setattr__(self, "channels", MappingProxyType(dict(self.channels)))
        if self.sensor_place not in get_args(Place):
            raise ValueError(f"sensor_place is {self.sensor_place!r}, but must be one of {', '.join(get_args(Place))}.")
        if not self.channels:
            raise ValueError("A recording needs at least one channel of acceleration or rotation; this one has none.")
        for name, channel in self.channels.items():
            if channel.values.size != self.time_s.size:
                raise ValueError(
                    f"Channel {name!r} has {channel.values.size} values, but there are {self.time_s.size} times."
                )

    @property
    def duration_s(self) -> float:
        """Seconds from the earliest to the latest stamp; 0 when there is none."""
        finite = self.time_s[np.isfinite(self.time_s)]
        return float(finite.max() - finite.min()) if finite.size else 0.0

    @property
    def recorded_s(self) -> float:
        """Seconds from the earliest to the latest stamp, without the holes in which nothing was recorded."""
        finite = self.time_s[np.isfinite(self.time_s)]
        steps = np.diff(finite)
        if steps.size == 0:
            return 0.0
        if float(steps.min()) < 0.0:
            steps = np.diff(np.sort(finite))
        usual = float(np.median(steps[:: max(1, steps.size // 50_000)]))
        return float(steps.sum() - steps[steps > max(_HOLE_S, 5.0 * usual)].sum())

    def channels_of(self, kind: Kind) -> dict[str, Channel]:
        """The channels of one kind, in the order given."""
        return {name: channel for name, channel in self.channels.items() if channel.kind == kind}
