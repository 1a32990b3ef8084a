"""A universal (Hooke's) joint at an angle: its output runs fast and slow twice per turn.

With input at steady speed the output follows cos b / (1 - sin^2 b cos^2 t), b the angle and t the input's
position (textbook kinematics; Shigley, Theory of Machines, from memory). The unevenness is of order 2 of the
shaft.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["SpeedRatio", "equivalent_joint_angle_deg", "joint_ratio_at", "joint_speed_ratio"]


@dataclass(frozen=True, slots=True)
class SpeedRatio:
    """Output over input speed of one joint at its fastest and slowest, and the larger error in per cent."""

    fastest: float
    slowest: float
    peak_error_percent: float


def joint_speed_ratio(angle_deg: float) -> SpeedRatio:
    """Extremes of the output speed: 1 / cos b and cos b.

    angle_deg: 0 up to, not including, 90.

    >>> round(joint_speed_ratio(10).peak_error_percent, 2)
    1.54
    """
    cosine = math.cos(_radians(angle_deg))
    return SpeedRatio(1.0 / cosine, cosine, 100.0 * (1.0 / cosine - 1.0))


def joint_ratio_at(angle_deg: float, position_deg: float) -> float:
    """Output over input speed at one position of the input fork; fastest at 0 and 180 degrees."""
    angle = _radians(angle_deg)
    position = math.radians(position_deg)
    return math.cos(angle) / (1.0 - (math.sin(angle) * math.cos(position)) ** 2)


def equivalent_joint_angle_deg(first_deg: float, second_deg: float, *, in_phase: bool = True) -> float:
    """The angle of the one joint that would be as uneven as two in a row with all shafts in one plane.

    in_phase: the forks at both ends of the middle shaft stand alike, as they should: equal angles then
    cancel. sqrt(|b1^2 -/+ b2^2|), good for small angles (drive-shaft design practice, from memory).

    >>> equivalent_joint_angle_deg(4, 4)
    0.0
    """
    first, second = math.degrees(_radians(first_deg)), math.degrees(_radians(second_deg))
    return math.sqrt(abs(first**2 - second**2) if in_phase else first**2 + second**2)


def _radians(angle_deg: float) -> float:
    if not 0.0 <= angle_deg < 90.0:
        raise ValueError(f"A joint's working angle must be 0 up to 90 degrees, not {angle_deg}.")
    return math.radians(angle_deg)
