"""What a tyre's marking says about its shape."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from vibdiag.rotation.tyre.ratings import load_capacity_kg, speed_limit_kmh
from vibdiag.units import MM_PER_INCH

__all__ = ["Construction", "Tyre"]

Construction = Literal["radial", "diagonal", "bias-belted", "unstated"]


@dataclass(frozen=True, slots=True)
class Tyre:
    """A tyre as its marking describes it; made by `parse_tyre`.

    width_mm: nominal section width. aspect_percent: section height over width; where the marking does not
    state it, the value assumed, with `aspect_spread_percent` saying how far it may be off (zero when marked).
    rim_in: nominal rim diameter in inches. overall_diameter_mm: only where the marking itself states it
    (`31x10.50R15LT`). service: `P`, `LT`, `ST`, `T` (temporary spare), `C`, `CP` or empty. dual_load_index:
    the second of `121/118S`, for twin wheels. size: the marking without its service description.
    """

    size: str
    width_mm: float
    aspect_percent: float
    rim_in: float
    construction: Construction
    aspect_spread_percent: float = 0.0
    overall_diameter_mm: float | None = None
    service: str = ""
    load_index: int | None = None
    dual_load_index: int | None = None
    speed_symbol: str | None = None
    extra_load: bool = False

    @property
    def aspect_is_assumed(self) -> bool:
        """Whether the marking leaves the aspect ratio out."""
        return self.aspect_spread_percent > 0.0

    @property
    def section_height_mm(self) -> float:
        """Height of the sidewall from rim to tread, mm."""
        return self.width_mm * self.aspect_percent / 100.0

    @property
    def free_diameter_mm(self) -> float:
        """Overall diameter of the new, unloaded tyre, mm: rim plus two section heights (UN R30, 6.1.2).

        >>> from vibdiag.rotation.tyre import parse_tyre
        >>> round(parse_tyre("205/55R16").free_diameter_mm, 1)
        631.9
        """
        if self.overall_diameter_mm is not None:
            return self.overall_diameter_mm
        return MM_PER_INCH * self.rim_in + 2.0 * self.section_height_mm

    @property
    def design_diameter_mm(self) -> int:
        """Overall diameter as UN R30, 6.1.2 computes it (from memory): rim and section height in whole mm."""
        return _whole(MM_PER_INCH * self.rim_in) + 2 * _whole(self.section_height_mm)

    @property
    def design_diameter_limits_mm(self) -> tuple[float, float]:
        """Smallest and largest overall diameter UN R30, 6.1.5 allows a new radial (from memory), mm.

        A tyre for snow may be 1 % larger than the second.
        """
        rim, height = _whole(MM_PER_INCH * self.rim_in), _whole(self.section_height_mm)
        return rim + 2 * height * 0.97, rim + 2 * height * 1.04

    @property
    def load_capacity_kg(self) -> float | None:
        """Load of the single tyre by its load index, kg; None when not marked."""
        return None if self.load_index is None else load_capacity_kg(self.load_index)

    @property
    def speed_limit_kmh(self) -> int | None:
        """Speed of its speed symbol, km/h; None when not marked."""
        return None if self.speed_symbol is None else speed_limit_kmh(self.speed_symbol)

    @property
    def marking(self) -> str:
        """The marking written out in the usual way; `parse_tyre` reads it back to an equal tyre."""
        index = "" if self.load_index is None else str(self.load_index)
        if self.dual_load_index is not None:
            index += f"/{self.dual_load_index}"
        description = index + (self.speed_symbol or "")
        return " ".join(part for part in (self.size, description, "XL" if self.extra_load else "") if part)


def _whole(value: float) -> int:
    """Nearest whole number, halves up, as regulations round."""
    return math.floor(value + 0.5)
