"""Amounts that point somewhere: unbalance, a weight at a clock position, a vibration with its phase.

Angles are in degrees, counted one way round throughout; which way does not matter as long as it is always the
same.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = [
    "Polar",
    "StaticAndCouple",
    "correction_weight",
    "influence_coefficient",
    "resolve_into_planes",
    "resultant",
    "static_and_couple",
]


@dataclass(frozen=True, slots=True)
class Polar:
    """An amount >= 0 (any unit) at an angle, kept in 0 <= angle_deg < 360.

    >>> Polar(30, 0) + Polar(40, 90)
    Polar(amount=50.0, angle_deg=53.13010235415598)
    """

    amount: float
    angle_deg: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.amount) and math.isfinite(self.angle_deg)):
            raise ValueError(f"An amount at an angle needs two finite numbers, not {self.amount} at {self.angle_deg}.")
        if self.amount < 0.0:
            raise ValueError(
                f"An amount must be zero or more, not {self.amount}; turn the angle by 180 degrees instead."
            )
        angle = self.angle_deg % 360.0
        object.__setattr__(self, "angle_deg", 0.0 if angle == 360.0 else angle)  # -1e-20 % 360 is 360.0

    @classmethod
    def from_complex(cls, value: complex) -> Polar:
        """The amount and angle of a complex number."""
        # Not cmath.phase: it raises OverflowError where the angle is smaller than any normal number.
        return cls(math.hypot(value.real, value.imag), math.degrees(math.atan2(value.imag, value.real)))

    def to_complex(self) -> complex:
        """The same as a complex number."""
        return cmath.rect(self.amount, math.radians(self.angle_deg))

    def __add__(self, other: Polar) -> Polar:
        return Polar.from_complex(self.to_complex() + other.to_complex())

    def __sub__(self, other: Polar) -> Polar:
        return Polar.from_complex(self.to_complex() - other.to_complex())

    def times(self, factor: float) -> Polar:
        """The amount times a factor; a negative factor turns it half-way round."""
        return Polar(abs(factor) * self.amount, self.angle_deg + (180.0 if factor < 0.0 else 0.0))

    def opposite(self) -> Polar:
        """The same amount half a turn further: what cancels it."""
        return Polar(self.amount, self.angle_deg + 180.0)


@dataclass(frozen=True, slots=True)
class StaticAndCouple:
    """Two planes seen as one static part and one couple.

    static: the vector sum, in the unit given. pair: the couple's part in the first plane; the second has its
    opposite. moment: pair times plane distance (unit given times mm); None when the distance is not known.
    """

    static: Polar
    pair: Polar
    moment: float | None


def resultant(vectors: Iterable[Polar]) -> Polar:
    """Vector sum.

    >>> resultant([Polar(10, 0), Polar(10, 120), Polar(10, 240)]).amount < 1e-9
    True
    """
    return Polar.from_complex(sum((vector.to_complex() for vector in vectors), 0j))


def static_and_couple(first: Polar, second: Polar, *, plane_distance_mm: float | None = None) -> StaticAndCouple:
    """Split the unbalance of two planes into its static part and its couple.

    The static part shakes up and down and fore and aft, the couple shakes the steering. first = static / 2 +
    pair, second = static / 2 - pair.
    """
    if plane_distance_mm is not None and not plane_distance_mm > 0.0:
        raise ValueError(f"The distance between the planes must be above zero, not {plane_distance_mm} mm.")
    pair = (first - second).times(0.5)
    moment = None if plane_distance_mm is None else pair.amount * plane_distance_mm
    return StaticAndCouple(first + second, pair, moment)


def resolve_into_planes(unbalance: Polar, *, at: float, plane_1: float, plane_2: float) -> tuple[Polar, Polar]:
    """The two unbalances, one in each plane, that act on the bearings as this one does; their opposites
    correct it.

    at, plane_1, plane_2: positions along the axis in one unit. Force and moment are kept.

    >>> [part.opposite() for part in resolve_into_planes(Polar(4, 0), at=1, plane_1=0, plane_2=4)]
    [Polar(amount=3.0, angle_deg=180.0), Polar(amount=1.0, angle_deg=180.0)]
    """
    if plane_1 == plane_2:
        raise ValueError(f"The two planes must lie apart, but both are at {plane_1}.")
    span = plane_2 - plane_1
    return unbalance.times((plane_2 - at) / span), unbalance.times((at - plane_1) / span)


def influence_coefficient(before: Polar, with_trial: Polar, trial: Polar) -> complex:
    """Vibration per unit of weight: (after - before) / trial, all at one speed (single-plane balancing).

    Raises ValueError when the trial weight is zero.
    """
    if trial.amount == 0.0:
        raise ValueError("The trial weight must be above zero.")
    return (with_trial.to_complex() - before.to_complex()) / trial.to_complex()


def correction_weight(before: Polar, with_trial: Polar, trial: Polar) -> Polar:
    """The weight, in the unit of the trial weight and at its radius, that cancels the vibration before the
    trial.

    The trial weight is taken off first. Raises ValueError when it changed nothing: then it tells nothing.

    >>> found = correction_weight(Polar(4, 0), Polar(2, 0), Polar(10, 30))
    >>> f"{found.amount:.1f} at {found.angle_deg:.1f}"
    '20.0 at 30.0'
    """
    coefficient = influence_coefficient(before, with_trial, trial)
    if coefficient == 0:
        raise ValueError("The trial weight did not change the vibration, so no correction follows; use a larger one.")
    return Polar.from_complex(-before.to_complex() / coefficient)
