"""Correction weights in two planes: static and couple, and the same correction in other places.

Positions along the axis are in mm from any one point of the wheel, growing towards the outboard side; radii in
mm; weights in g. A weight w at radius r is an unbalance w * r (g.mm); force and moment follow from that, so a
clip-on pair on the rim flanges and a pair of adhesive weights inside the disc can do the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vibdiag.rotation import (
    Polar,
    StaticAndCouple,
    mass_at_radius_g,
    resolve_into_planes,
    resultant,
    static_and_couple,
    unbalance_gmm,
)
from vibdiag.units import to_grams

__all__ = ["Plane", "TwoPlanes", "couple_and_static_to_planes", "move_correction", "to_static_and_couple", "weight"]


@dataclass(frozen=True, slots=True)
class Plane:
    """Where weights sit: position_mm along the axis, radius_mm of the weight's centre of mass, above zero.

    name: as said to the person ("inner clip-on", "outer adhesive"). Raises ValueError for an impossible radius.
    """

    name: str
    position_mm: float
    radius_mm: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.position_mm):
            raise ValueError(f"The position of the {self.name} plane must be a number of mm, not {self.position_mm}.")
        if not 20.0 <= self.radius_mm <= 700.0:
            raise ValueError(
                f"The radius of the {self.name} plane is {self.radius_mm:g} mm, but must be 20 to 700 mm (half the "
                "diameter on which the weights sit)."
            )


@dataclass(frozen=True, slots=True)
class TwoPlanes:
    """A weight (g, degrees) in each of two planes: corrections to fit, or an unbalance expressed as weights.

    Raises ValueError when the planes coincide.
    """

    inner: Plane
    outer: Plane
    inner_g: Polar
    outer_g: Polar

    def __post_init__(self) -> None:
        if self.inner.position_mm == self.outer.position_mm:
            raise ValueError(f"The two planes must lie apart, but both are at {self.inner.position_mm:g} mm.")

    @property
    def inner_gmm(self) -> Polar:
        """Unbalance of the inner plane, g.mm."""
        return Polar(unbalance_gmm(self.inner_g.amount, self.inner.radius_mm), self.inner_g.angle_deg)

    @property
    def outer_gmm(self) -> Polar:
        """Unbalance of the outer plane, g.mm."""
        return Polar(unbalance_gmm(self.outer_g.amount, self.outer.radius_mm), self.outer_g.angle_deg)


def weight(amount: float, angle_deg: float, *, unit: str = "g") -> Polar:
    """A weight at an angle, in g, from grams or ounces.

    >>> round(weight(0.25, 90, unit="oz").amount, 2)
    7.09

    Raises ValueError for an unknown unit or a negative amount.
    """
    return Polar(to_grams(amount, unit), angle_deg)


def to_static_and_couple(planes: TwoPlanes) -> StaticAndCouple:
    """Static part in g.mm; the couple's pair in g.mm and its moment in g.mm2 over the distance of the planes.

    >>> p = TwoPlanes(Plane("inner", 0, 200), Plane("outer", 150, 200), Polar(30, 0), Polar(20, 90))
    >>> f"{to_static_and_couple(p).static.amount:.1f}"
    '7211.1'
    """
    distance = abs(planes.outer.position_mm - planes.inner.position_mm)
    return static_and_couple(planes.inner_gmm, planes.outer_gmm, plane_distance_mm=distance)


def couple_and_static_to_planes(static_gmm: Polar, pair_gmm: Polar, *, inner: Plane, outer: Plane) -> TwoPlanes:
    """Back again: weights in two planes whose sum is static_gmm and whose couple is pair_gmm, in and against.

    The static part is shared by halves: it acts half-way between the planes, as `to_static_and_couple` takes it.
    """
    return TwoPlanes(
        inner,
        outer,
        _as_weight(static_gmm.times(0.5) + pair_gmm, inner),
        _as_weight(static_gmm.times(0.5) - pair_gmm, outer),
    )


def move_correction(planes: TwoPlanes, *, inner: Plane, outer: Plane) -> TwoPlanes:
    """The same correction from weights in other planes: force and moment on the wheel are kept.

    Planes closer together need larger weights; planes that both lie on one side of the old ones can need very
    large ones: compare the sum before choosing.

    >>> clip = TwoPlanes(Plane("inner", 0, 200), Plane("outer", 150, 200), Polar(0, 0), Polar(30, 0))
    >>> moved = move_correction(clip, inner=clip.inner, outer=Plane("adhesive", 100, 180))
    >>> f"{moved.inner_g.amount:.1f} at {moved.inner_g.angle_deg:.0f}, {moved.outer_g.amount:.1f}"
    '15.0 at 180, 50.0'

    Raises ValueError when the new planes coincide.
    """
    inner_parts, outer_parts = [], []
    for moved, at in ((planes.inner_gmm, planes.inner), (planes.outer_gmm, planes.outer)):
        to_inner, to_outer = resolve_into_planes(
            moved, at=at.position_mm, plane_1=inner.position_mm, plane_2=outer.position_mm
        )
        inner_parts.append(to_inner)
        outer_parts.append(to_outer)
    return TwoPlanes(inner, outer, _as_weight(resultant(inner_parts), inner), _as_weight(resultant(outer_parts), outer))


def _as_weight(unbalance: Polar, plane: Plane) -> Polar:
    return Polar(mass_at_radius_g(unbalance.amount, plane.radius_mm), unbalance.angle_deg)
