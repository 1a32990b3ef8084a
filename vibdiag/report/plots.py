"""Small pictures as SVG text: the same input gives the same bytes, and a table of the numbers stands beside each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape

__all__ = ["Line", "bars_before_after", "lines_over_stages"]

_WIDTH, _HEIGHT = 640, 260
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 190, 12, 34
# Lines are told apart by their dashes and by the name at their end, never by colour alone.
_DASHES = ("", "7 3", "2 3", "10 3 2 3", "4 6")


@dataclass(frozen=True)
class Line:
    """One named series of values between 0 and 1."""

    name: str
    values: tuple[float, ...]


def _svg(body: Sequence[str], height: int, title: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" width="{_WIDTH}" height="{height}" '
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
    return _svg(body, _HEIGHT, title)


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
    return _svg(body, max(1, len(rows)) * row_height + 8, title)
