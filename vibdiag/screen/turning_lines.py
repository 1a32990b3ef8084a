"""Tyres and turning parts in lines of text: what a marking means, and what turns how fast."""

from __future__ import annotations

from vibdiag.advice.turning import TurningTable
from vibdiag.rotation import Interval, Rate, TyreMarkingError, WindowHit, parse_tyre, rolling_circumference, windows_hit
from vibdiag.screen.units_view import UnitChoice

__all__ = ["speed_line", "turning_lines", "tyre_line"]

_MM_PER_INCH = 25.4
# Short words for the windows; what they mean stands below the table.
_WINDOW = {
    "body": "body",
    "seat": "seat",
    "power-train": "mounts",
    "unsprung": "wheel hop",
    "steering": "steering",
}
# From this share of its interval on, an order is said to lie in a window; below it stands in brackets.
_MOSTLY = 0.5


def tyre_line(marking: str, units: UnitChoice) -> str:
    """Size, free diameter and rolling circumference of a marking, or the sentence that says what is wrong with it."""
    try:
        tyre = parse_tyre(marking)
    except TyreMarkingError as error:
        return f"! {error}"
    rolls = rolling_circumference(tyre)
    if units.length == "mm":
        across, turn = f"{tyre.free_diameter_mm:.0f} mm", _span(rolls, ".2f", "m")
    else:
        across = f"{tyre.free_diameter_mm / _MM_PER_INCH:.1f} in"
        turn = _span(rolls.scale(1000 / _MM_PER_INCH), ".1f", "in")
    return f"{tyre.size}: {across} across, rolls {turn}"


def _span(value: Interval, form: str, unit: str) -> str:
    return f"{value.best:{form}} {unit} a turn ({value.low:{form}} to {value.high:{form}})"


def speed_line(table: TurningTable, units: UnitChoice) -> str:
    """The true speed behind the one that was read, with its limits."""
    low, high = (units.show_speed(float(f"{end:.3g}"), "km/h") for end in (table.speed_kmh.low, table.speed_kmh.high))
    return f"truly {low.split()[0]} to {high}"


def turning_lines(table: TurningTable) -> list[str]:
    """A line for each order: label, Hz, its limits, and which parts of the car would answer there; then the legend."""
    hits = windows_hit(table.rates)
    lines = [f"{'':15}{'Hz':>5}  from–to    the car answers"]
    lines += [_rate_line(rate, hits) for rate in table.rates]
    marks = []
    if any(not rate.certain for rate in table.rates):
        marks.append("? the car may not have it")
    if any(rate.assumed for rate in table.rates):
        marks.append("~ a usual ratio assumed")
    if any(hit.share < _MOSTLY for hit in hits):
        marks.append("( ) only at an end of the range")
    lines += ["", *marks]
    for window in dict.fromkeys(hit.window for hit in hits):
        reach = f"{window.low_hz:g} to {window.high_hz:g} Hz"
        lines.append(f"{_WINDOW[window.id]}: {reach}, felt in {window.felt} ({window.source})")
    return lines


def _rate_line(rate: Rate, hits: tuple[WindowHit, ...]) -> str:
    mark = "?" if not rate.certain else "~" if rate.assumed else " "
    hz = rate.frequency_hz
    form = ".0f" if hz.high >= 100 else ".1f"
    here = [hit for hit in hits if hit.rate is rate]
    answers = ", ".join(
        _WINDOW[hit.window.id] if hit.share >= _MOSTLY else f"({_WINDOW[hit.window.id]})" for hit in here
    )
    return f"{rate.label:14.14}{mark}{hz.best:5{form}}  {f'{hz.low:{form}}–{hz.high:{form}}':9}  {answers}".rstrip()
