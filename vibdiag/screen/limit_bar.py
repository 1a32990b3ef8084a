"""A reading drawn against limits: one bar, and under it a sign for each number it is compared with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.screen.causes_panel import meter

__all__ = ["Mark", "limit_bar"]

# Room beyond the largest number, so that a reading just over its limit is seen to be over.
_HEADROOM = 1.2


@dataclass(frozen=True)
class Mark:
    """A number on the bar's scale (above zero) and what it means."""

    at: float
    says: str


def limit_bar(size: float, marks: Sequence[Mark], *, cells: int) -> list[str]:
    """The bar of `size` (zero or more) in `cells` columns, then a line for each mark; bar and marks share one scale."""
    full = _HEADROOM * max([size, *(mark.at for mark in marks)], default=0.0) or 1.0
    lines = [meter(size / full, cells)]
    for mark in marks:
        column = min(cells - 1, round(mark.at / full * cells))
        right = f"{' ' * column}▲ {mark.says}"
        lines.append(right if len(right) <= cells else f"{mark.says} ▲".rjust(column + 1))
    return lines
