"""A wheel that does not sit in the middle: from a gap between bore and pilot to imbalance and runout, and back.

With a gap g (bore less pilot, diameters) the wheel can lie up to g / 2 off the axis before the pilot stops it;
studs with tapered seats may centre it better than that. An assembly of mass m off by e is out of balance by
m * e, and every radial reading on it shows up to 2 e more or less of total runout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vibdiag.rotation import Interval, mass_at_radius_g, off_centre_unbalance_gmm

__all__ = ["OffCentre", "gap_for_unbalance", "off_centre"]


@dataclass(frozen=True, slots=True)
class OffCentre:
    """gap_mm: bore less pilot. offset_mm, unbalance_gmm, weight_g (at the rim radius), runout_mm (total): each
    from none to the most that the gap allows; best is the most, because a wheel hangs down into its gap.
    """

    gap_mm: float
    offset_mm: Interval
    unbalance_gmm: Interval
    weight_g: Interval
    runout_mm: Interval


def off_centre(bore_mm: float, pilot_mm: float, *, mass_kg: float, rim_radius_mm: float) -> OffCentre:
    """What a gap can do.

    >>> found = off_centre(57.1, 56.9, mass_kg=20, rim_radius_mm=203.2)
    >>> f"{found.unbalance_gmm.high:.0f} g.mm, {found.weight_g.high:.1f} g, {found.runout_mm.high:.1f} mm of runout"
    '2000 g.mm, 9.8 g, 0.2 mm of runout'

    Raises ValueError when the pilot is larger than the bore, or a size is not above zero.
    """
    for what, value in (("bore", bore_mm), ("pilot", pilot_mm), ("mass", mass_kg)):
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"The {what} must be above zero, not {value}.")
    if pilot_mm > bore_mm:
        raise ValueError(f"A pilot of {pilot_mm:g} mm does not go into a bore of {bore_mm:g} mm; measure both again.")
    gap = bore_mm - pilot_mm
    offset = Interval(0.0, gap / 2.0, gap / 2.0)
    unbalance = offset.increasing(lambda e: off_centre_unbalance_gmm(mass_kg, e))
    return OffCentre(
        gap, offset, unbalance, unbalance.increasing(lambda u: mass_at_radius_g(u, rim_radius_mm)), offset.scale(2.0)
    )


def gap_for_unbalance(unbalance_gmm: float, *, mass_kg: float) -> float:
    """The gap between bore and pilot, mm, that could explain an unbalance in g.mm: 2 U / m.

    >>> round(gap_for_unbalance(2000, mass_kg=20), 3)
    0.2

    Raises ValueError for a negative unbalance or a mass that is not above zero.
    """
    if not (unbalance_gmm >= 0.0 and mass_kg > 0.0):
        raise ValueError(
            f"Needs an unbalance of zero or more and a mass above zero, not {unbalance_gmm} and {mass_kg}."
        )
    return 2.0 * unbalance_gmm / off_centre_unbalance_gmm(mass_kg, 1.0)
