"""The numbers of a tyre's size, judged and turned into its shape.

What is impossible is refused with the part that is wrong; what the marking leaves out is assumed, with the
spread the assumption has.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vibdiag.rotation.tyre.size import Tyre
from vibdiag.units import MM_PER_INCH

__all__ = ["TyreMarkingError", "is_flotation", "rim_inches", "shape_of"]


class TyreMarkingError(ValueError):
    """The marking cannot be a tyre's; the message is one sentence: which part, and what would be right."""


@dataclass(frozen=True, slots=True)
class _AssumedAspect:
    percent: float
    spread_percent: float


# Unmarked aspect ratios. Metric: 80 fits the diameters of UN R30 Annex 5 (185R14: 650 mm) better than the 82
# of inspection texts. Inch widths: worked back from the diameters of common sizes in UN R30 and R54 Annex 5
# (from memory: 11R22.5 1050 mm, 9.5R17.5 842 mm, 8.75R16.5 749 mm, 7.50R16 802 mm, 5.60-15 656 mm).
_METRIC: Final = _AssumedAspect(80.0, 2.0)
_INCH_TAPERED_TRUCK_RIM: Final = _AssumedAspect(86.0, 4.0)
_INCH_TAPERED_LIGHT_RIM: Final = _AssumedAspect(74.0, 5.0)
_INCH: Final = _AssumedAspect(100.0, 10.0)


def is_flotation(first: float, second: float | None) -> bool:
    """Whether the two numbers are overall diameter and width in inches, as in 31x10.50R15LT."""
    return second is not None and 20 <= first <= 60 and second <= 20


def shape_of(first: float, second: float | None, rim_in: float) -> Tyre:
    """A radial of these numbers; `size` is left empty. Raises TyreMarkingError for an impossible one."""
    if second is not None and is_flotation(first, second):
        return _flotation(first, second, rim_in)
    if first < 20:
        return _inch_width(first, second, rim_in)
    return _metric_width(first, second, rim_in)


def rim_inches(rim: float) -> float:
    """Rim diameter in inches from a code in inches or a diameter in mm. Raises TyreMarkingError."""
    if 315 <= rim <= 560:
        return rim / MM_PER_INCH
    if 8 <= rim <= 30 and (2 * rim).is_integer():
        return rim
    raise TyreMarkingError(
        f"A rim diameter of {rim:g} does not exist; rims are 8 to 30 inches, such as the 17 in 225/45R17, "
        "or 315 to 560 mm."
    )


def _check_aspect(aspect: float) -> None:
    if not 20 <= aspect <= 105:
        raise TyreMarkingError(
            f"An aspect ratio of {aspect:g} % does not exist; it is 20 to 105, such as the 45 in 225/45R17."
        )


def _flotation(diameter_in: float, width_in: float, rim_in: float) -> Tyre:
    height_in = (diameter_in - rim_in) / 2.0
    if not 5 <= width_in <= 20 or not 0.2 <= height_in / width_in <= 1.2:
        raise TyreMarkingError(
            f"A {diameter_in:g} inch tyre, {width_in:g} wide, does not fit a rim of {rim_in:g} inches; "
            "this form is diameter x width R rim, as in 31x10.50R15LT."
        )
    return Tyre(
        size="",
        width_mm=width_in * MM_PER_INCH,
        aspect_percent=100.0 * height_in / width_in,
        rim_in=rim_in,
        construction="radial",
        overall_diameter_mm=diameter_in * MM_PER_INCH,
    )


def _inch_width(width_in: float, aspect: float | None, rim_in: float) -> Tyre:
    if width_in < 3:
        raise TyreMarkingError(
            f"A width of {width_in:g} does not exist; tyres are 3 to 20 inches wide, as in 7.00-15, "
            "or 80 to 455 mm, as in 225/45R17."
        )
    if rim_in.is_integer():
        assumed = _INCH
    else:
        assumed = _INCH_TAPERED_TRUCK_RIM if rim_in >= 17.5 else _INCH_TAPERED_LIGHT_RIM
    return _section(width_in * MM_PER_INCH, aspect, rim_in, assumed)


def _metric_width(width_mm: float, aspect: float | None, rim_in: float) -> Tyre:
    if not 80 <= width_mm <= 455:
        raise TyreMarkingError(
            f"A width of {width_mm:g} mm does not exist; tyres are 80 to 455 mm wide, as in 225/45R17."
        )
    return _section(width_mm, aspect, rim_in, _METRIC)


def _section(width_mm: float, aspect: float | None, rim_in: float, assumed: _AssumedAspect) -> Tyre:
    if aspect is not None:
        _check_aspect(aspect)
    return Tyre(
        size="",
        width_mm=width_mm,
        aspect_percent=assumed.percent if aspect is None else aspect,
        rim_in=rim_in,
        construction="radial",
        aspect_spread_percent=assumed.spread_percent if aspect is None else 0.0,
    )
