"""Repeated mountings on the balancing shaft: the wheel's own imbalance, the mounting's, and the repeatability.

The wheel is loosened, turned on the shaft and measured again. What travels with it is its own; what stays at one
place of the shaft comes from the shaft, flange or cone; the scatter is the repeatability of centring. A zero
that was reached in a bad mounting is no zero on the car.

A scatter no larger than a step of the display is known only roughly, because few different figures can show.
With two mountings there is no scatter to see: then the error of the display, and of seating where stated,
must stand for it. Three at least are wanted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from vibdiag.measure.judgement import Judgement, Limit, judge
from vibdiag.measure.quantiles import chi_square_quantile
from vibdiag.measure.separation import Mounting, separate
from vibdiag.measure.uncertain import UncertainVector
from vibdiag.rotation import Interval, Polar

__all__ = ["WheelOrMounting", "wheel_or_mounting"]


@dataclass(frozen=True, slots=True)
class WheelOrMounting:
    """wheel: the wheel's own, at its angle from the stem. mounting: the shaft's, at its angle on the shaft; the unit
    of the readings. repeatability: standard deviation of one mounting in each direction with its 95 %
    interval, None from two mountings. repeats: `within` when the repeatability is surely under the limit
    asked for. because: one sentence.
    """

    wheel: UncertainVector
    mounting: UncertainVector
    repeatability: Interval | None
    repeats: Judgement
    because: str


def wheel_or_mounting(
    readings: Sequence[tuple[float, Polar]],
    *,
    display_step: float,
    repeats_within: float | None = None,
    angles_from: Literal["wheel", "shaft"] = "wheel",
    seating_error: float = 0.0,
    unit: str = "g",
) -> WheelOrMounting:
    """Separate wheel and mounting in one plane (or in the static part) from n mountings, n >= 2.

    readings: for each mounting, how far the wheel was turned on the shaft in the direction of turning, degrees,
    and what the machine showed: an unbalance, or a correction throughout (then both results are corrections).
    display_step: its smallest step, above zero. repeats_within: largest standard deviation accepted (half a
    step unless given). angles_from: whether the angles are counted from the valve stem or from the shaft.

    >>> shown = [(0, Polar(24, 90)), (120, Polar(16.4, 97)), (240, Polar(17.3, 69)), (0, Polar(23.8, 91))]
    >>> found = wheel_or_mounting(shown, display_step=0.3)
    >>> f"wheel {found.wheel.value.amount:.0f} g at {found.wheel.value.angle_deg:.0f}"
    'wheel 20 g at 87'

    Raises ValueError as `separate` does, and for a step that is not above zero.
    """
    if not (math.isfinite(display_step) and display_step > 0.0):
        raise ValueError(f"The step of the display must be above zero, not {display_step}.")
    if angles_from not in ("wheel", "shaft"):
        raise ValueError(f"angles_from is {angles_from!r}, but must be wheel or shaft.")
    rounding = display_step / math.sqrt(12.0)
    mountings = []
    for turned, shown in readings:
        vector = UncertainVector.even(shown, rounding)
        mountings.append(Mounting(turned, vector.turned(turned) if angles_from == "wheel" else vector))
    found = separate(mountings, seating_error=seating_error, errors_from="spread")
    limit = display_step / 2.0 if repeats_within is None else repeats_within
    source = "half a step of the display" if repeats_within is None else "as asked for"
    if found.repeatability is None:
        spread = None
        repeats = Judgement("cannot-tell", "Two mountings show no scatter; mount a third time.")
    else:
        spread = _spread(max(found.repeatability, rounding), found.dof)
        repeats = judge(spread, Limit(limit, limit, unit, source), what="The scatter from mounting to mounting")
    because = f"Wheel {found.travelling.amount:.1f} {unit}, mounting {found.fixed.amount:.1f} {unit}. {repeats.because}"
    return WheelOrMounting(found.travelling, found.fixed, spread, repeats, because)


def _spread(standard_deviation: float, dof: int) -> Interval:
    """95 % interval of a standard deviation from dof degrees of freedom (chi-square)."""
    high = math.sqrt(dof / chi_square_quantile(0.025, dof))
    low = math.sqrt(dof / chi_square_quantile(0.975, dof))
    return Interval(standard_deviation * low, standard_deviation, standard_deviation * high)
