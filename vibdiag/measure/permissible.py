"""Permissible residual unbalance of a wheel by ISO 21940-11, shared between two planes, against what is left.

The grade for car wheels, G 40, is far looser than what is felt or than a shop accepts: `within` here is no proof
that the wheel will not shake.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vibdiag.measure.judgement import Judgement, Limit, judge
from vibdiag.measure.planes import Plane, TwoPlanes
from vibdiag.rotation import (
    CAR_WHEEL_GRADE,
    Interval,
    allocate_to_planes,
    mass_at_radius_g,
    permissible_residual_gmm,
    resultant,
    unbalance_gmm,
)

__all__ = ["Permissible", "ResidualJudged", "judge_residual", "permissible_residual"]

# ISO 21940-11 keeps each plane's share between these parts of the whole (from memory).
_SMALLEST_SHARE: Final = 0.3


@dataclass(frozen=True, slots=True)
class Permissible:
    """total_gmm by the grade, and its share in each plane as g.mm and as grams there; source: standard and grade."""

    total_gmm: float
    inner: Plane
    outer: Plane
    inner_gmm: float
    outer_gmm: float
    source: str

    @property
    def inner_g(self) -> float:
        """Share of the inner plane as a weight there, g."""
        return mass_at_radius_g(self.inner_gmm, self.inner.radius_mm)

    @property
    def outer_g(self) -> float:
        """Share of the outer plane as a weight there, g."""
        return mass_at_radius_g(self.outer_gmm, self.outer.radius_mm)


@dataclass(frozen=True, slots=True)
class ResidualJudged:
    """Each plane's residual against its share, and the static sum against the whole."""

    inner: Judgement
    outer: Judgement
    static: Judgement


def permissible_residual(
    mass_kg: float,
    rotation_hz: float,
    *,
    inner: Plane,
    outer: Plane,
    centre_mm: float,
    grade_mm_per_s: float = CAR_WHEEL_GRADE,
) -> Permissible:
    """U_per = 1000 G m / w, shared by lever arms from the centre of mass at centre_mm (positions as the planes').

    Each share is kept between 0.3 and 0.7 of the whole. rotation_hz at the highest speed in service.

    >>> rim = Plane("inner", 0, 203.2), Plane("outer", 150, 203.2)
    >>> found = permissible_residual(20, 120 / 3.6 / (2 * 3.14159265 * 0.305), inner=rim[0], outer=rim[1], centre_mm=75)
    >>> f"{found.total_gmm:.0f} g.mm, {found.inner_g:.1f} g in each plane"
    '7320 g.mm, 18.0 g in each plane'

    Raises ValueError when the centre of mass does not lie between the planes, or a quantity is not above zero.
    """
    total = permissible_residual_gmm(mass_kg, rotation_hz, grade_mm_per_s=grade_mm_per_s)
    facing = 1.0 if outer.position_mm >= inner.position_mm else -1.0
    to_inner, _ = allocate_to_planes(
        1.0,
        distance_a_mm=facing * (centre_mm - inner.position_mm),
        distance_b_mm=facing * (outer.position_mm - centre_mm),
    )
    share = min(1.0 - _SMALLEST_SHARE, max(_SMALLEST_SHARE, to_inner))
    source = f"ISO 21940-11, G {grade_mm_per_s:g}"
    return Permissible(total, inner, outer, share * total, (1.0 - share) * total, source)


def judge_residual(residual: TwoPlanes, permissible: Permissible, *, step_g: float) -> ResidualJudged:
    """Whether what is left is within the permissible residual; step_g: the display's, which hides half of it.

    residual must be expressed in the planes of the permissible one (`move_correction` moves it there).
    Raises ValueError when the planes differ or the step is negative.
    """
    if (residual.inner, residual.outer) != (permissible.inner, permissible.outer):
        raise ValueError("The residual and the permissible residual are in different planes; move one of them first.")
    if not (math.isfinite(step_g) and step_g >= 0.0):
        raise ValueError(f"The step of the display must be zero or more, not {step_g} g.")
    hidden_inner = unbalance_gmm(step_g / 2.0, residual.inner.radius_mm)
    hidden_outer = unbalance_gmm(step_g / 2.0, residual.outer.radius_mm)
    static = resultant([residual.inner_gmm, residual.outer_gmm]).amount
    judged = [
        judge(_around(amount, hidden), Limit(limit, limit, "g.mm", permissible.source), what=what)
        for amount, hidden, limit, what in (
            (residual.inner_gmm.amount, hidden_inner, permissible.inner_gmm, "What is left in the inner plane"),
            (residual.outer_gmm.amount, hidden_outer, permissible.outer_gmm, "What is left in the outer plane"),
            (static, hidden_inner + hidden_outer, permissible.total_gmm, "The static sum of what is left"),
        )
    ]
    return ResidualJudged(*judged)


def _around(amount: float, hidden: float) -> Interval:
    return Interval(max(0.0, amount - hidden), amount, amount + hidden)
