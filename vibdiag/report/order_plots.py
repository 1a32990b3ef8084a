"""Orders before and after as small pictures: bars with their intervals, and amplitude over speed as lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

from vibdiag.case.model import OrderAtSpeed
from vibdiag.report.order_pairs import OrderPair
from vibdiag.report.plots import drawn

__all__ = ["order_bars", "order_over_speed"]

_INK, _GREY = "#1d1d1b", "#ccc"
_WIDTH, _LEFT, _LONG, _ROW = 640, 150, 330, 46
_TOP, _HIGH, _SIDE, _BELOW = 24, 190, 52, 40
# Before is open and dashed, after is filled and whole: told apart without colour.
_SIDES = (("before", "none", "5 3"), ("after", _INK, ""))
_Scale = Callable[[float], float]


def order_bars(pairs: Sequence[OrderPair], *, title: str) -> str:
    """A pair of bars for each order, with its 90 % interval as a line; all bars of one unit share one scale."""
    largest: dict[str, float] = {}
    for pair in pairs:
        for one in (pair.before, pair.after):
            if one is not None:
                largest[pair.unit] = max(largest.get(pair.unit, 0.0), one.high, one.amplitude)
    body = []
    for place, pair in enumerate(pairs):
        top = place * _ROW + 4
        body.append(f'<text x="0" y="{top + 12}" font-weight="bold">{escape(pair.order)}</text>')
        body.append(f'<text x="0" y="{top + 27}" fill="#555">{escape(pair.axis)}</text>')
        scale = _LONG / (largest[pair.unit] or 1.0)
        for row, ((word, fill, _), one) in enumerate(zip(_SIDES, (pair.before, pair.after), strict=True)):
            y = top + 18 * row
            if one is None:
                body.append(f'<text x="{_LEFT}" y="{y + 11}" fill="#555">{word}: none found</text>')
                continue
            body.append(
                f'<rect class="{word}" x="{_LEFT}" y="{y}" width="{one.amplitude * scale:.1f}" height="13" '
                f'fill="{fill}" stroke="{_INK}"/>'
            )
            low, high = _LEFT + one.low * scale, _LEFT + one.high * scale
            body.append(
                f'<path class="interval" d="M{low:.1f} {y + 6.5}H{high:.1f}M{low:.1f} {y + 3}v7M{high:.1f} {y + 3}v7" '
                f'stroke="{_INK if fill == "none" else "#fff"}" stroke-width="3"/>'
                f'<path d="M{low:.1f} {y + 6.5}H{high:.1f}M{low:.1f} {y + 3}v7M{high:.1f} {y + 3}v7" stroke="#777"/>'
            )
            right = _LEFT + max(one.amplitude, one.high) * scale + 8
            body.append(f'<text x="{right:.1f}" y="{y + 11}">{word} {one.amplitude:.3g} {escape(pair.unit)}</text>')
    return drawn(body, max(1, len(pairs)) * _ROW + 4, title)


def order_over_speed(pair: OrderPair, *, title: str) -> str:
    """Amplitude over road speed of one order, with the 90 % interval of each step; empty when no line can be drawn."""
    sides = [(one.over_speed if one is not None else []) for one in (pair.before, pair.after)]
    points = [point for side in sides for point in side]
    if not any(len(side) >= 2 for side in sides):
        return ""
    slow, fast = min(point.kmh for point in points), max(point.kmh for point in points)
    largest = max(point.high for point in points) or 1.0
    width = _WIDTH - _SIDE - 70

    def x(kmh: float) -> float:
        return _SIDE + width * (kmh - slow) / ((fast - slow) or 1.0)

    def y(amplitude: float) -> float:
        return _TOP + _HIGH * (1 - amplitude / largest)

    body = [f'<text x="0" y="12">{escape(pair.axis)}, zero to peak, {escape(pair.unit)}</text>']
    for share in (0.0, 0.5, 1.0):
        level = largest * share
        body.append(f'<path d="M{_SIDE} {y(level):.1f}h{width}" stroke="{_GREY}"/>')
        body.append(f'<text x="{_SIDE - 6}" y="{y(level) + 4:.1f}" text-anchor="end">{level:.2g}</text>')
    for kmh in _ticks(slow, fast):
        body.append(f'<text x="{x(kmh):.1f}" y="{_TOP + _HIGH + 16}" text-anchor="middle">{kmh:.0f}</text>')
    body.append(f'<text x="{_SIDE + width / 2:.1f}" y="{_TOP + _HIGH + 32}" text-anchor="middle">km/h</text>')
    for (word, fill, dash), side in zip(_SIDES, sides, strict=True):
        if side:
            body += _line(side, word, fill, dash, x, y)
    return drawn(body, _TOP + _HIGH + _BELOW, title)


def _ticks(slow: float, fast: float) -> list[float]:
    """Round speeds from end to end, six at most."""
    step = next(step for step in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if (fast - slow) / step <= 5.0)
    return [step * number for number in range(math.ceil(slow / step), math.floor(fast / step) + 1)]


def _line(side: Sequence[OrderAtSpeed], word: str, fill: str, dash: str, x: _Scale, y: _Scale) -> list[str]:
    line = " ".join(f"{x(point.kmh):.1f},{y(point.amplitude):.1f}" for point in side)
    body = [
        f'<polyline class="{word}" points="{line}" fill="none" stroke="{_INK}" stroke-width="1.5" '
        f'stroke-dasharray="{dash}"/>'
    ]
    for point in side:
        body.append(f'<path d="M{x(point.kmh):.1f} {y(point.low):.1f}V{y(point.high):.1f}" stroke="#777"/>')
        body.append(
            f'<circle cx="{x(point.kmh):.1f}" cy="{y(point.amplitude):.1f}" r="3.2" '
            f'fill="{"#fff" if fill == "none" else fill}" stroke="{_INK}"/>'
        )
    last = side[-1]
    body.append(f'<text x="{x(last.kmh) + 10:.1f}" y="{y(last.amplitude) + 4:.1f}">{word}</text>')
    return body
