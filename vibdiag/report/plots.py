"""Small pictures as SVG text: the same input gives the same bytes, and a table of the numbers stands beside each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape

from vibdiag.measure import Turning, clock_text, wave_columns

__all__ = ["Line", "bars_before_after", "drawn", "lines_over_stages", "polar_plot"]

_WIDTH, _HEIGHT = 640, 260
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 190, 12, 34
# Lines are told apart by their dashes and by the name at their end, never by colour alone.
_DASHES = ("", "7 3", "2 3", "10 3 2 3", "4 6")

# A round of readings: the middle of the picture, the ring of the mean, the largest departure, the hours.
_CENTRE, _RING, _STRETCH, _HOURS = 130, 70, 34.0, 120


@dataclass(frozen=True)
class Line:
    """One named series of values between 0 and 1."""

    name: str
    values: tuple[float, ...]


def drawn(body: Sequence[str], height: int, title: str, *, width: int = _WIDTH) -> str:
    """The picture of these parts; no script, nothing from outside."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" font-family="DejaVu Sans, Verdana, sans-serif" font-size="11"><title>{escape(title)}</title>'
        + "".join(body)
        + "</svg>"
    )


def lines_over_stages(lines: Sequence[Line], stages: Sequence[str], *, title: str) -> str:
    """Probabilities over the stages of a case; `stages` are numbered below, their names stand in the table beside."""
    width, height = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _BOTTOM
    step = width / max(1, len(stages) - 1)
    body = []
    for percent in (0, 25, 50, 75, 100):
        y = _TOP + height * (1 - percent / 100)
        body.append(f'<path d="M{_LEFT} {y:.1f}H{_LEFT + width}" stroke="#ccc"/>')
        body.append(f'<text x="{_LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{percent} %</text>')
    for place in range(len(stages)):
        body.append(
            f'<text x="{_LEFT + place * step:.1f}" y="{_TOP + height + 18}" text-anchor="middle">{place + 1}</text>'
        )
    labels = _spread([_TOP + height * (1 - line.values[-1]) for line in lines])
    for number, (line, label_y) in enumerate(zip(lines, labels, strict=True)):
        points = " ".join(
            f"{_LEFT + place * step:.1f},{_TOP + height * (1 - value):.1f}" for place, value in enumerate(line.values)
        )
        dash = _DASHES[number % len(_DASHES)]
        body.append(
            f'<polyline points="{points}" fill="none" stroke="#1d1d1b" stroke-width="1.6" stroke-dasharray="{dash}"/>'
        )
        body.append(f'<text x="{_LEFT + width + 8}" y="{label_y + 4:.1f}">{escape(line.name)}</text>')
    return drawn(body, _HEIGHT, title)


def _spread(heights: Sequence[float], *, gap: float = 14.0) -> list[float]:
    """Heights pushed apart so that labels do not lie on each other; order is kept, and none leaves the picture."""
    order = sorted(range(len(heights)), key=lambda index: heights[index])
    placed = list(heights)
    for earlier, later in pairwise(order):
        placed[later] = max(placed[later], placed[earlier] + gap)
    floor = float(_HEIGHT - _BOTTOM)
    for index in reversed(order):
        placed[index] = min(placed[index], floor)
        floor = placed[index] - gap
    return placed


def bars_before_after(rows: Sequence[tuple[str, float | None, float | None, str]], *, title: str) -> str:
    """One pair of bars for each (name, before, after, unit); open for before, filled for after."""
    body = []
    row_height = 44
    for place, (name, before, after, unit) in enumerate(rows):
        largest = max(abs(before or 0.0), abs(after or 0.0)) or 1.0
        top = place * row_height + 6
        body.append(f'<text x="0" y="{top + 11}">{escape(name)}</text>')
        for offset, value, fill, word in ((0, before, "none", "before"), (16, after, "#1d1d1b", "after")):
            if value is None:
                continue
            length = 300 * abs(value) / largest
            y = top + offset
            body.append(
                f'<rect x="200" y="{y}" width="{length:.1f}" height="12" fill="{fill}" stroke="#1d1d1b"/>'
                f'<text x="{206 + length:.1f}" y="{y + 10}">{word} {value:.3g} {escape(unit)}</text>'
            )
    return drawn(body, max(1, len(rows)) * row_height + 8, title)


def polar_plot(
    angles_deg: Sequence[float],
    values: Sequence[float],
    *,
    coefficients: Sequence[float] = (),
    unit: str,
    turning: Turning = "clockwise",
    title: str,
) -> str:
    """Readings round a part as dots, the fitted curve as a line, its high point marked and named by the clock.

    angles_deg: from the valve or mark, which stands at twelve, as the part turns; values: as many, outward positive,
    in `unit`. coefficients: mean, cos t, sin t, cos 2t ... as in `HarmonicFit.coefficients`; without them neither curve
    nor high point. The dashed ring is the mean; departures from it are stretched, and the legend gives the scale.

    Raises ValueError when angles and values are not as many, or there are none.
    """
    if not values or len(values) != len(angles_deg):
        raise ValueError(f"There are {len(values)} readings at {len(angles_deg)} angles; give one each, at least one.")
    mean = coefficients[0] if coefficients else sum(values) / len(values)
    steps = [float(step) for step in range(0, 360, 2)]
    waves = wave_columns(steps, len(coefficients) // 2) if coefficients else ()
    curve = [float(row @ coefficients) - mean for row in waves]
    largest = max(abs(each) for each in (*curve, *(value - mean for value in values)))
    stretch = _STRETCH / largest if largest > 0.0 else 0.0

    def at(angle_deg: float, radius: float) -> tuple[float, float]:
        turn = math.radians(angle_deg if turning == "clockwise" else -angle_deg)
        return _CENTRE + radius * math.sin(turn), _CENTRE - radius * math.cos(turn)

    body = [
        f'<circle cx="{_CENTRE}" cy="{_CENTRE}" r="{_RING}" fill="none" stroke="#777" stroke-dasharray="3 3"/>',
        f'<path d="M{_CENTRE - 4} {_CENTRE}h8M{_CENTRE} {_CENTRE - 4}v8" stroke="#777"/>',
    ]
    for hour in range(1, 13):  # hours are for whoever looks: they run clockwise whichever way the part turns
        x, y = _CENTRE + _HOURS * math.sin(math.pi * hour / 6), _CENTRE - _HOURS * math.cos(math.pi * hour / 6)
        body.append(f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" fill="#555">{hour}</text>')
    if curve:
        points = [at(angle, _RING + stretch * each) for angle, each in zip(steps, curve, strict=True)]
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        body.append(f'<polygon points="{line}" fill="none" stroke="#1d1d1b" stroke-width="1.4"/>')
    for angle, value in zip(angles_deg, values, strict=True):
        x, y = at(angle, _RING + stretch * (value - mean))
        body.append(f'<circle class="reading" cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#1d1d1b"/>')
    legend = ["dots: readings", "dashed: their mean", f"farthest from it: {largest:.3g} {unit}"]
    if curve and max(curve) > 0.0:
        high = max(range(len(steps)), key=lambda step: curve[step])
        x, y = at(steps[high], _RING + stretch * curve[high] + 9.0)
        body.append(
            f'<path class="high" d="M{x:.1f} {y - 5:.1f}l5 9h-10z" fill="#fff" stroke="#1d1d1b" stroke-width="1.4"/>'
        )
        where = clock_text(steps[high], turning=turning)
        legend = [f"triangle: high point, {where}", f"({steps[high]:.0f} degrees)", "line: fitted curve", *legend]
    else:
        legend.append("no curve: nothing may rest on it")
    body += [
        f'<text x="{2 * _CENTRE + 6}" y="{40 + 17 * row}">{escape(text)}</text>' for row, text in enumerate(legend)
    ]
    return drawn(body, 2 * _CENTRE, title, width=2 * _CENTRE + 190)
