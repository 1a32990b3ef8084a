"""Rounds of readings for a report: the numbers, the verdict and the picture of each."""

from __future__ import annotations

from dataclasses import dataclass

from vibdiag.case.model import ReadingSet
from vibdiag.measure import clock_text
from vibdiag.report.plots import polar_plot
from vibdiag.work.rounds import RoundSeen, high_words, name_of, see_round

__all__ = ["PlaceRow", "RoundRow", "round_row"]


@dataclass(frozen=True)
class PlaceRow:
    """One reading, drift taken out: where, what was read and what the curve is there (None without one), in words."""

    degrees: str
    hour: str
    read: str
    curve: str | None


@dataclass(frozen=True)
class RoundRow:
    """One round: what is said of it in words with units, its picture as SVG and the numbers in the picture."""

    seen: RoundSeen
    name: str
    total: str
    first: str
    svg: str
    places: tuple[PlaceRow, ...]


def round_row(one: ReadingSet) -> RoundRow:
    """Raises ValueError for readings that cannot be fitted."""
    seen = see_round(one)
    fit, unit, digits = seen.fit, seen.unit, 0 if seen.unit == "N" else 3
    total = f"at least {seen.at_least:.{digits}f} {unit}"
    if seen.total is not None:
        total = f"{seen.total:.{digits}f} {unit}"
    first = "nothing may rest on it"
    if seen.first is not None:
        high = high_words(seen.first, seen.turning)
        first = f"{seen.first_is} {seen.first.amount:.{digits}f} {unit}, {high}"
    places = tuple(
        PlaceRow(
            f"{angle % 360.0:.0f}",
            clock_text(angle, turning=seen.turning),
            f"{value:.{digits}f}",
            f"{value - remainder:.{digits}f}" if fit.trusted else None,
        )
        for angle, value, remainder in zip(fit.angles_deg, fit.corrected, fit.remainders, strict=True)
    )
    svg = polar_plot(
        fit.angles_deg,
        fit.corrected,
        coefficients=fit.coefficients if fit.trusted else (),
        unit=unit,
        turning=seen.turning,
        title=f"Readings: {name_of(one)}",
    )
    return RoundRow(seen, name_of(one), total, first, svg, places)
