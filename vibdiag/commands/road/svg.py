"""The same pictures as SVG: orders as bars with their intervals, amplitude over speed as a line with its intervals."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from vibdiag.commands.road.ask import Judged
from vibdiag.commands.road.picture import map_shades, strongest_lines
from vibdiag.recording.amplitude import SpeedPoint
from vibdiag.recording.order_map import OrderMap
from vibdiag.recording.orders import Line

__all__ = ["as_svg"]

_WIDTH, _LEFT, _LONG = 640, 190, 300
_ROW, _HIGH = 26, 200
_EDGE = 14
_CELL_WIDE, _CELL_HIGH, _MAP_LEFT = 12, 16, 70
_OPACITY = (0.0, 0.15, 0.35, 0.65, 1.0)
_INK = "#1d1d1b"


def as_svg(judged: Judged, *, title: str) -> str:
    """One picture, the same bytes for the same recording."""
    found = judged.analysis
    channels = judged.reading.recording.channels
    lines = strongest_lines(found)
    body, top = [f'<text x="0" y="14" font-weight="bold">{escape(title)}</text>'], 30
    if not lines:
        body.append(f'<text x="0" y="{top + 12}">No order was found.</text>')
        top += 24
    for unit in dict.fromkeys(channels[line.channel].unit for line in lines):
        rows = [line for line in lines if channels[line.channel].unit == unit]
        body += _bars(rows, unit, top)
        top += _ROW * len(rows) + 16
    if found.order_map is not None:
        body += _map(found.order_map, top)
        top += _CELL_HIGH * found.order_map.speeds_kmh.size + 60
    for line in lines:
        points = found.over_speed.get((line.name, line.channel), ())
        if len(points) >= 2:
            body += _over_speed(line, points, channels[line.channel].unit, top)
            top += _HIGH + 60
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-{_EDGE} -{_EDGE} {_WIDTH + 2 * _EDGE} {top + _EDGE}" '
        f'width="{_WIDTH + 2 * _EDGE}" height="{top + _EDGE}" '
        f'role="img" font-family="DejaVu Sans, Verdana, sans-serif" font-size="11"><title>{escape(title)}</title>'
        + "".join(body)
        + "</svg>\n"
    )


def _bars(lines: Sequence[Line], unit: str, top: int) -> list[str]:
    scale = _LONG / max(max(line.interval[1], line.amplitude) for line in lines)
    body = []
    for place, line in enumerate(lines):
        y = top + place * _ROW
        low, high = _LEFT + scale * line.interval[0], _LEFT + scale * line.interval[1]
        body.append(
            f'<text x="0" y="{y + 12}">{escape(line.name)}, {line.frequency_hz:.1f} Hz</text>'
            f'<rect x="{_LEFT}" y="{y + 2}" width="{scale * line.amplitude:.1f}" height="12" fill="#bbb" '
            f'stroke="{_INK}"/><path d="M{low:.1f} {y + 8}H{high:.1f}" stroke="{_INK}" stroke-width="2"/>'
            f'<text x="{_LEFT + _LONG + 10}" y="{y + 12}">{line.amplitude:.3f} {escape(unit)}, '
            f"{escape(line.channel)}</text>"
        )
    return body


def _map(found: OrderMap, top: int) -> list[str]:
    body = [
        f'<text x="0" y="{top + 10}">Order map of {escape(found.channel)}: km/h against turns of the wheel; darker '
        "stands more above the road</text>"
    ]
    rows = found.speeds_kmh.size
    for row, (speed, shades) in enumerate(zip(found.speeds_kmh, map_shades(found), strict=True)):
        y = top + 20 + _CELL_HIGH * (rows - 1 - row)
        body.append(f'<text x="{_MAP_LEFT - 6}" y="{y + 12}" text-anchor="end">{speed:.0f}</text>')
        body += [
            f'<rect x="{_MAP_LEFT + _CELL_WIDE * column}" y="{y}" width="{_CELL_WIDE}" height="{_CELL_HIGH}" '
            f'fill="{_INK}" fill-opacity="{_OPACITY[shade]:g}"/>'
            for column, shade in enumerate(shades)
            if shade
        ]
    base = top + 20 + _CELL_HIGH * rows
    body.append(f'<path d="M{_MAP_LEFT} {base}H{_MAP_LEFT + _CELL_WIDE * found.orders.size}" stroke="#ccc"/>')
    for whole in range(1, int(found.orders[-1]) + 1):
        x = _MAP_LEFT + _CELL_WIDE * (int(abs(found.orders - whole).argmin()) + 0.5)
        body.append(f'<text x="{x:.1f}" y="{base + 14}" text-anchor="middle">{whole}x</text>')
    return body


def _over_speed(line: Line, points: Sequence[SpeedPoint], unit: str, top: int) -> list[str]:
    slow, fast = points[0].speed_kmh, points[-1].speed_kmh
    most = max(point.interval[1] for point in points) or 1.0
    base = top + 20 + _HIGH

    def at(speed_kmh: float, value: float) -> tuple[float, float]:
        across = (speed_kmh - slow) / max(fast - slow, 1e-9)
        return 50.0 + across * (_WIDTH - 80.0), base - _HIGH * value / most

    body = [
        f'<text x="0" y="{top + 10}">{escape(line.name)} on {escape(line.channel)} over speed, km/h; '
        f"zero to peak, {escape(unit)}; upright lines hold 90 %</text>",
        f'<path d="M50 {base}H{_WIDTH - 30}" stroke="#ccc"/>',
        f'<text x="44" y="{base + 4}" text-anchor="end">0</text>',
        f'<text x="44" y="{base - _HIGH + 4}" text-anchor="end">{most:.3g}</text>',
    ]
    for point in points:
        x, y = at(point.speed_kmh, point.amplitude)
        low, high = (at(point.speed_kmh, each)[1] for each in point.interval)
        body.append(
            f'<path d="M{x:.1f} {low:.1f}V{high:.1f}" stroke="{_INK}"/><circle cx="{x:.1f}" cy="{y:.1f}" r="3"/>'
            f'<text x="{x:.1f}" y="{base + 16}" text-anchor="middle">{point.speed_kmh:.0f}</text>'
        )
    track = " ".join("{:.1f},{:.1f}".format(*at(point.speed_kmh, point.amplitude)) for point in points)
    body.append(f'<polyline points="{track}" fill="none" stroke="{_INK}" stroke-width="1.5"/>')
    return body
