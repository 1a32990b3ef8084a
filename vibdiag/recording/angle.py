"""How far the wheel has turned at each moment, reckoned from the speed and a first circumference.

The angle may be wrong by a constant stretch (the tyre is not what was thought, or the speed reads high) and by a slow
walk (noise of the speed; the wheel's own slip and the longer way round a bend). The order search finds the first and
allows for the second.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.speed import SmoothSpeed

__all__ = ["SLOWEST_MS", "Course", "course_of"]

SLOWEST_MS = 3.0  # below walking pace a satellite speed is mostly noise
# A wheel's own way against the car's: 0.1 % for some 5 s at a time (bends of 700 m, slip under power; from memory)
_OWN_WAY_S = 2.0 * 0.001**2 * 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The wheel's turning on the grid of an even recording.

    turns: (N,), turns since the start by circumference_m. speed_ms: (N,). usable: (N,), False where the car stands,
    the speed is unknown or the recording has a gap. walk_m2_per_s, memory_s: see SmoothSpeed.
    """

    turns: FloatArray
    speed_ms: FloatArray
    usable: npt.NDArray[np.bool_]
    circumference_m: float
    walk_m2_per_s: float
    memory_s: float

    def diffusion(self, order: float, rotation_hz: float) -> float:
        """How fast the variance of the phase of an order grows, rad2 per turn of the wheel."""
        from_speed = (2.0 * np.pi * order / self.circumference_m) ** 2 * self.walk_m2_per_s
        own_way = (2.0 * np.pi * order * rotation_hz) ** 2 * _OWN_WAY_S
        return float((from_speed + own_way) / rotation_hz)

    def at_speed(self, speed_ms: FloatArray, *, rate_hz: float, walk_m2_per_s: float) -> Course:
        """The same grid turned through at another speed, (N,) m/s, whose distance errs by another walk."""
        turns = _integral(speed_ms, rate_hz) / self.circumference_m
        return replace(self, turns=turns, speed_ms=speed_ms, walk_m2_per_s=walk_m2_per_s)


def course_of(even: EvenRecording, speed: SmoothSpeed, *, circumference_m: float) -> Course:
    """Integrate the speed to turns of the wheel.

    circumference_m: the first idea of it, above zero. Raises ValueError otherwise.
    """
    if not circumference_m > 0.0:
        raise ValueError(f"The circumference must be above zero, not {circumference_m} m.")
    time = even.time_s
    speed_ms = speed.at(time)
    turns = _integral(speed_ms, even.rate_hz) / circumference_m
    usable = even.good & (speed_ms >= SLOWEST_MS) & (speed.known_at(time) > 0.5)
    return Course(turns, speed_ms, usable, circumference_m, speed.walk_m2_per_s, speed.memory_s)


def _integral(speed_ms: FloatArray, rate_hz: float) -> FloatArray:
    """Metres since the first sample, by trapezia."""
    steps = np.empty_like(speed_ms)
    steps[0] = 0.0
    np.add(speed_ms[1:], speed_ms[:-1], out=steps[1:])
    return np.asarray(np.cumsum(steps) * (0.5 / rate_hz), dtype=np.float64)
