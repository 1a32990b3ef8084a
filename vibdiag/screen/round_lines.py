"""A round of readings as a picture of the size there is room for, and in words."""

from __future__ import annotations

from vibdiag.advice.measured import HalfTurn
from vibdiag.measure import polar_picture
from vibdiag.rotation import Interval
from vibdiag.screen.units_view import UnitChoice
from vibdiag.work.phrases import said
from vibdiag.work.rounds import RoundSeen, high_words

__all__ = ["BRIEF_CAUTION", "CAUTION", "picture_lines", "picture_size", "round_lines"]

CAUTION = (
    "! Turn it by hand, out of gear and secured, on a lift or stands at the maker's points, never on a jack alone; "
    "hands clear of the dial and of all that turns."
)
BRIEF_CAUTION = "! Turn it by hand, secured, on lift or stands; hands clear of what turns."
_FEWEST_ROWS, _MOST_ROWS, _FEWEST_COLUMNS = 9, 61, 17
_WORDS_CELLS = 38  # what the words beside the picture need at least
_STUDS = {
    "with-hub": "Nearly all of it stays with the hub.",
    "with-wheel": "Nearly all of it travels with the wheel.",
    "neither": "Neither outweighs the other.",
    None: "Which of the two it is, cannot be told from these readings.",
}


def picture_size(cells: int, rows: int) -> tuple[int, int] | None:
    """Columns and rows of a round picture in a room of so many cells, words beside it; None where there is no room.

    >>> picture_size(76, 17), picture_size(114, 33), picture_size(76, 8)
    ((33, 17), (65, 33), None)
    """
    columns = min(2 * min(rows, _MOST_ROWS) - 1, cells - _WORDS_CELLS)
    tall = min(rows, (columns + 1) // 2)
    return (columns, tall) if columns >= _FEWEST_COLUMNS and tall >= _FEWEST_ROWS else None


def picture_lines(seen: RoundSeen, columns: int, rows: int) -> tuple[str, ...]:
    """The readings and the curve through them; no curve where nothing may rest on it."""
    fit = seen.fit
    return polar_picture(
        fit.angles_deg,
        fit.corrected,
        coefficients=fit.coefficients if fit.trusted else (),
        columns=columns,
        rows=rows,
        turning=seen.turning,
    )


def round_lines(seen: RoundSeen, turned: HalfTurn | None, units: UnitChoice) -> list[str]:
    """The verdict, the numbers behind it in the chosen units, why, and what moving the wheel on its studs told."""
    places = seen.one.places
    lines = [f"{said(seen.sign).upper()}   {places} places read"]
    if seen.total is None:
        lines.append(f"Total reading at least {units.show(seen.at_least, seen.unit)}.")
    else:
        lines.append(f"Total reading {_shown(seen.total, seen.unit, units)}.")
    if seen.first is not None:
        amount = _shown(seen.first.amount, seen.unit, units)
        lines.append(f"First harmonic ({seen.first_is}) {amount}, {high_words(seen.first, seen.turning)}.")
    if turned is not None:
        hub, wheel = turned.found.hub.amount, turned.found.wheel.amount
        lines.append(
            f"Moved on the studs: {_shown(hub, 'mm', units)} stays with the hub, {_shown(wheel, 'mm', units)} travels "
            f"with the wheel. {_STUDS[turned.word]}"
        )
    lines += seen.because
    lines.append(
        "It proves the repair and does not count in the ranking." if seen.one.taken == "after" else _weighs(seen)
    )
    return lines


def _weighs(seen: RoundSeen) -> str:
    if seen.sign == "cannot-tell":
        return "It does not count in the ranking."
    return "It counts in the ranking, together with others of its kind."


def _shown(value: Interval, unit: str, units: UnitChoice) -> str:
    best, low, high = (units.show(each, unit) for each in (value.best, value.low, value.high))
    return f"{best} ({low.rpartition(' ')[0]} to {high.rpartition(' ')[0]})"
