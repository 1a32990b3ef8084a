"""What a display that rounds hides, in each plane and as force at the speed of the complaint.

A display that shows zero hides up to half a step in each plane (more when the machine is set to show nothing
below a threshold), at an angle of its own in each. In the worst case both point the same way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vibdiag.measure.planes import Plane
from vibdiag.rotation import Interval, imbalance_force_n, mass_at_radius_g, unbalance_gmm

__all__ = ["Hidden", "hidden_by_rounding"]


@dataclass(frozen=True, slots=True)
class Hidden:
    """per_plane_g: up to so much in each plane. static_gmm, static_g, force_n (amplitude): from none over a usual
    to the worst case; static_g is at the mean radius. couple_gmm2: worst case, both planes against each other.
    """

    per_plane_g: float
    static_gmm: Interval
    static_g: Interval
    couple_gmm2: float
    force_n: Interval


def hidden_by_rounding(
    step_g: float, inner: Plane, outer: Plane, *, rotation_hz: float, blind_below_g: float = 0.0
) -> Hidden:
    """What zeros in both planes can hide.

    Steps of 1/4 oz (7 g) are common on cars, of 1/2 oz (14 g) on heavy assemblies (common practice).
    step_g: smallest step of the display, above zero (convert ounces with `weight`). blind_below_g: threshold
    below which it shows zero. The usual value takes each hidden amount as evenly likely up to its limit and the
    two angles as independent: root mean square, limit * sqrt(2 / 3) for equal radii.

    >>> rim = Plane("inner", 0, 200), Plane("outer", 150, 200)
    >>> f"{hidden_by_rounding(7.087, *rim, rotation_hz=14.4).force_n:.1f}"
    '4.7 (0.0 to 11.6)'

    Raises ValueError unless step and rotation frequency are above zero.
    """
    if not (math.isfinite(step_g) and step_g > 0.0 and blind_below_g >= 0.0):
        raise ValueError(f"The step of the display must be above zero, not {step_g} g.")
    if not rotation_hz > 0.0:
        raise ValueError(f"The rotation frequency must be above zero, not {rotation_hz} Hz.")
    limit = max(step_g / 2.0, blind_below_g)
    at_inner, at_outer = unbalance_gmm(limit, inner.radius_mm), unbalance_gmm(limit, outer.radius_mm)
    static = Interval(0.0, math.hypot(at_inner, at_outer) / math.sqrt(3.0), at_inner + at_outer)
    mean_radius = (inner.radius_mm + outer.radius_mm) / 2.0
    distance = abs(outer.position_mm - inner.position_mm)
    return Hidden(
        limit,
        static,
        static.increasing(lambda gmm: mass_at_radius_g(gmm, mean_radius)),
        (at_inner + at_outer) / 2.0 * distance,
        static.increasing(lambda gmm: imbalance_force_n(gmm, rotation_hz)),
    )
