"""Readings round a part as a picture in text: a look from the side on which the person stands.

The readings lie about a middle ring that stands for their mean; outward is outward on the part, stretched so
that the largest departure fills the room. `+` is the middle, `.` the mean ring, `-` the fitted curve, `o` a
reading, `^` the highest point of the curve; hours stand at the rim, the stem at twelve. No colour: the last line
says the signs in words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from vibdiag.measure.clock import Turning

__all__ = ["polar_picture"]

_SMALLEST: Final = (17, 9)
_LARGEST: Final = (121, 61)
_RING: Final = 0.5  # of the room from the centre to the hours is where the mean lies
_STRETCH: Final = 0.3  # of the room is filled by the largest departure, inward or outward
_HOURS_AT: Final = 0.98


def polar_picture(
    angles_deg: Sequence[float],
    values: Sequence[float],
    *,
    coefficients: Sequence[float] = (),
    columns: int = 41,
    rows: int = 21,
    turning: Turning = "clockwise",
) -> tuple[str, ...]:
    """Rows of text, each `columns` wide at most, `rows` of them with the line that explains the signs at the end.

    angles_deg, values: the readings, as many of each, at least one; any unit. coefficients: of the fitted curve,
    mean, cos t, sin t, cos 2t ... as in `HarmonicFit.coefficients`; without them no curve and no high point.
    columns 17 to 121, rows 9 to 61 (41 by 21 fits beside a form; a character is taken as twice as high as
    wide). turning: as `clock_hour`; angles run round the picture as the part turns.

    >>> print("\\n".join(polar_picture([0, 90, 180, 270], [1, 0, -1, 0], coefficients=[0, 1, 0], columns=21, rows=11)))
             12
         11---^---1
     10  ---.....---  2
         -...   ...-
         -o   +   o-   3
     9    ----o----
          ...   ...
      8     .....     4
          7       5
              6
      o reading  ^ high

    Raises ValueError for a size out of range or numbers that do not agree.
    """
    if not (_SMALLEST[0] <= columns <= _LARGEST[0] and _SMALLEST[1] <= rows <= _LARGEST[1]):
        raise ValueError(f"The picture can be 17 to 121 columns by 9 to 61 rows, not {columns} by {rows}.")
    if not values or len(values) != len(angles_deg):
        raise ValueError(f"There are {len(values)} readings at {len(angles_deg)} angles; give one each, at least one.")
    if not all(math.isfinite(number) for number in (*angles_deg, *values, *coefficients)):
        raise ValueError("Every angle, reading and coefficient must be a finite number.")
    if coefficients and len(coefficients) % 2 == 0:
        raise ValueError(f"A curve has a mean and two coefficients per harmonic, not {len(coefficients)} in all.")
    paper = _Paper(columns, rows - 1, turning)
    mean = coefficients[0] if coefficients else sum(values) / len(values)
    paper.put(0.0, 0.0, "+")
    steps = [360.0 * step / 720 for step in range(720)]
    curve = [_curve(coefficients, angle) - mean for angle in steps] if coefficients else []
    largest = max(abs(departure) for departure in (*curve, *(value - mean for value in values)))
    scale = _STRETCH / largest if largest > 0.0 else 0.0
    for angle in steps:
        paper.put(angle, _RING, ".")
    for angle, departure in zip(steps, curve, strict=False):
        paper.put(angle, _RING + scale * departure, "-")
    for angle, value in zip(angles_deg, values, strict=True):
        paper.put(angle, _RING + scale * (value - mean), "o")
    if curve and max(curve) > 0.0:
        highest = max(range(len(curve)), key=lambda step: curve[step])
        paper.put(steps[highest], _RING + scale * curve[highest], "^")
    for hour in range(1, 13):
        paper.put_hour(hour)
    signs = "o reading  ^ high" if curve else "o reading"
    if curve and columns >= 37:
        signs = "o reading  - fit  . mean  ^ high point"[: columns - 1]
    return (*paper.lines(), signs.center(columns).rstrip())


def _curve(coefficients: Sequence[float], angle_deg: float) -> float:
    total = coefficients[0]
    for order in range(1, (len(coefficients) + 1) // 2):
        turn = math.radians(order * angle_deg)
        total += coefficients[2 * order - 1] * math.cos(turn) + coefficients[2 * order] * math.sin(turn)
    return total


class _Paper:
    """A grid of characters addressed by angle and by the part of the way from the centre to the edge."""

    def __init__(self, columns: int, rows: int, turning: Turning) -> None:
        self._cells = [[" "] * columns for _ in range(rows)]
        self._middle = ((columns - 1) / 2.0, (rows - 1) / 2.0)
        # A character is about twice as high as wide; keep the ring round and inside on both axes.
        self._reach = min(self._middle[0] - 1.0, 2.0 * self._middle[1])
        self._handed = 1.0 if turning == "clockwise" else -1.0

    def put(self, angle_deg: float, part: float, sign: str) -> None:
        column, row = self._at(angle_deg, part)
        self._cells[row][column] = sign

    def put_hour(self, hour: int) -> None:
        """Hours are for whoever looks: they run clockwise whichever way the part turns."""
        column, row = self._at(self._handed * 30.0 * hour, _HOURS_AT)
        text = str(hour)
        start = min(max(0, column - len(text) // 2), len(self._cells[row]) - len(text))
        for offset, character in enumerate(text):
            self._cells[row][start + offset] = character

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self._cells]

    def _at(self, angle_deg: float, part: float) -> tuple[int, int]:
        part = part if math.isfinite(part) else 0.5  # readings too small to scale lie on the middle ring
        turn = math.radians(angle_deg)
        across = self._handed * math.sin(turn) * part * self._reach
        down = -math.cos(turn) * part * self._reach / 2.0
        return round(self._middle[0] + across), round(self._middle[1] + down)
