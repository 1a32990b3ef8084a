"""How far a tyre rolls in one turn: an interval, because wear, pressure and maker all move it.

The centre is C = 3.05 * D for a radial (ETRTO, at 60 km/h, from memory; the factor in use was worked back
from 19 published pairs of diameter and revolutions per mile) and 2.99 * D for diagonal and bias-belted tyres
(ETRTO, from memory). It is less than pi * D because the belt, not the tread, sets the rolling length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vibdiag.rotation.interval import Interval
from vibdiag.rotation.tyre.size import Tyre
from vibdiag.units import METRES_PER_MILE

__all__ = [
    "Contribution",
    "circumference_contributions",
    "free_circumference_m",
    "revolutions_per_km",
    "revolutions_per_mile",
    "rolling_circumference",
]

_FACTOR: Final = {"radial": 3.05, "unstated": 3.05, "diagonal": 2.99, "bias-belted": 2.99}
_WORN_OUT_MM: Final = 1.6  # legal minimum in most of Europe (Directive 89/459/EEC)
_NEW_TREAD_MM: Final = 8.0  # summer car tyre (common practice)
_GAUGE_MM: Final = 0.5  # a tread gauge and the choice of groove (common practice)


@dataclass(frozen=True, slots=True)
class Contribution:
    """One reason why the circumference may lie below or above its centre, as fractions of it."""

    reason: str
    down: float
    up: float
    source: str


def free_circumference_m(tyre: Tyre) -> float:
    """pi * D of the unloaded new tyre, m: the length once round the tread, not what it rolls."""
    return math.pi * tyre.free_diameter_mm / 1000.0


def circumference_contributions(
    tyre: Tyre,
    *,
    tread_mm: float | None = None,
    new_tread_mm: float = _NEW_TREAD_MM,
    pressure_checked: bool = False,
    measured_diameter_mm: float | None = None,
) -> tuple[Contribution, ...]:
    """The reasons for the width of `rolling_circumference`, each with its source; they are added up."""
    diameter = measured_diameter_mm or tyre.free_diameter_mm
    pressure = 0.002 if pressure_checked else 0.006
    found = [
        Contribution(
            "load and speed, pressure checked" if pressure_checked else "pressure, load and speed",
            pressure,
            pressure,
            "from memory; unchecked it makes the whole enclose published revolutions that differ by 2 %",
        )
    ]
    if measured_diameter_mm is not None:
        spread = "min and max of the factor over 19 published pairs, 3.046 and 3.062"
        return (*found, Contribution("factor of this tyre", 0.0015, 0.004, spread))
    maker = "19 published diameters stand -0.2 to +1.3 % from the marking; +/-1.5 % when only the size is known"
    found.append(Contribution("maker's diameter for this size", 0.015, 0.015, maker))
    if tyre.aspect_is_assumed:
        assumed = 2.0 * tyre.width_mm * tyre.aspect_spread_percent / 100.0 / diameter
        found.append(Contribution("aspect ratio not marked", assumed, assumed, "see the assumed ratios in shape.py"))
    if tread_mm is None:
        worn = 2.0 * (new_tread_mm - _WORN_OUT_MM) / diameter
        found.append(Contribution("tread anywhere from new to worn out", worn, 0.0, "geometry: twice the tread over D"))
    else:
        gauge = 2.0 * _GAUGE_MM / diameter
        found.append(Contribution("reading of the tread gauge", gauge, gauge, "common practice: 0.5 mm"))
    return tuple(found)


def rolling_circumference(
    tyre: Tyre,
    *,
    tread_mm: float | None = None,
    new_tread_mm: float = _NEW_TREAD_MM,
    pressure_checked: bool = False,
    measured_diameter_mm: float | None = None,
    circumference_m: float | None = None,
) -> Interval:
    """Metres rolled per turn.

    tread_mm: depth measured now, 0 to 30; without it the tyre may be new or worn out, and the best value is
    that of the new tyre the marking describes. new_tread_mm: depth when new. pressure_checked: set to the
    placard. measured_diameter_mm: overall diameter of this very tyre, in place of the marking's.
    circumference_m: roll-out measured on the ground (one turn, loaded), which overrides everything else and
    is trusted to 0.5 % (common practice: a centimetre on two metres).

    >>> from vibdiag.rotation.tyre import parse_tyre
    >>> f"{rolling_circumference(parse_tyre('225/45R17')):.2f}"
    '1.93 (1.85 to 1.98)'

    Raises ValueError for a tread, diameter or roll-out that no road tyre has.
    """
    if circumference_m is not None:
        _require("roll-out of one turn", circumference_m, 0.8, 5.0, "m")
        return Interval.around_fraction(circumference_m, 0.005)
    _require("new tread depth", new_tread_mm, _WORN_OUT_MM, 30.0, "mm")
    if tread_mm is not None:
        _require("tread depth", tread_mm, 0.0, 30.0, "mm")
    if measured_diameter_mm is not None:
        _require("overall diameter", measured_diameter_mm, 250.0, 1600.0, "mm")
    diameter = measured_diameter_mm or tyre.free_diameter_mm
    if tread_mm is not None and measured_diameter_mm is None:
        diameter -= 2.0 * max(0.0, new_tread_mm - tread_mm)
    best = _FACTOR[tyre.construction] * diameter / 1000.0
    contributions = circumference_contributions(
        tyre,
        tread_mm=tread_mm,
        new_tread_mm=new_tread_mm,
        pressure_checked=pressure_checked,
        measured_diameter_mm=measured_diameter_mm,
    )
    down, up = sum(each.down for each in contributions), sum(each.up for each in contributions)
    return Interval(best * (1.0 - down), best, best * (1.0 + up))


def revolutions_per_km(circumference_m: Interval) -> Interval:
    """Turns of the wheel per kilometre."""
    return Interval.exact(1000.0).divide(circumference_m)


def revolutions_per_mile(circumference_m: Interval) -> Interval:
    """Turns of the wheel per mile.

    >>> from vibdiag.rotation.tyre import parse_tyre
    >>> round(revolutions_per_mile(rolling_circumference(parse_tyre("205/55R16"))).best)
    835
    """
    return Interval.exact(METRES_PER_MILE).divide(circumference_m)


def _require(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise ValueError(f"A {what} of {value:g} {unit} is not possible here; it must be {low:g} to {high:g} {unit}.")
