"""Small pictures of an analysis for a terminal: a bar for each order, and one order's amplitude over speed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from vibdiag.commands.output import bar
from vibdiag.recording.amplitude import SpeedPoint
from vibdiag.recording.analyse import Analysis
from vibdiag.recording.order_map import OrderMap
from vibdiag.recording.orders import Line

__all__ = ["map_rows", "map_shades", "order_bars", "speed_bars", "strongest_lines"]

_CELLS = 24
_STEPS = (1.6, 2.5, 4.0, 8.0)  # power over its surroundings
_SHADES = " ·░▒█"


def strongest_lines(found: Analysis) -> list[Line]:
    """Of each order the line on the channel that shows it most surely, the surest order first."""
    chosen: dict[str, Line] = {}
    for line in sorted(found.lines, key=lambda line: -line.log_likelihood_ratio):
        chosen.setdefault(line.name, line)
    return list(chosen.values())


def order_bars(lines: Sequence[Line], unit_of: dict[str, str]) -> list[str]:
    """One row an order, its bar to the scale of the largest of the same unit."""
    largest: dict[str, float] = {}
    for line in lines:
        unit = unit_of[line.channel]
        largest[unit] = max(largest.get(unit, 0.0), line.amplitude)
    rows = []
    for line in lines:
        unit = unit_of[line.channel]
        share = line.amplitude / largest[unit] if largest[unit] > 0.0 else 0.0
        rows.append(
            f"  {line.name:23.23} {line.frequency_hz:5.1f} Hz {bar(share, cells=_CELLS)} {line.amplitude:6.3f} {unit}"
        )
    return rows


def map_shades(found: OrderMap) -> npt.NDArray[np.intp]:
    """0 to 4 for each cell of the map, rows by rising speed."""
    return np.digitize(np.nan_to_num(found.above, nan=0.0), _STEPS)


def map_rows(found: OrderMap) -> list[str]:
    """The order map, one row a step of speed, the fastest on top; darker is more above the road."""
    shade = map_shades(found)
    rows = [
        f"  {speed:4.0f} km/h " + "".join(_SHADES[each] for each in row)
        for speed, row in zip(found.speeds_kmh[::-1], shade[::-1], strict=True)
    ]
    scale = " " * found.orders.size
    for whole in range(1, int(found.orders[-1]) + 1):
        column = int(np.argmin(np.abs(found.orders - whole)))
        scale = scale[:column] + f"{whole}x" + scale[column + 2 :]
    return [*rows, " " * 12 + scale.rstrip()]


def speed_bars(points: Sequence[SpeedPoint], unit: str) -> list[str]:
    """One row a step of speed: the bar is the amplitude, the numbers its interval."""
    largest = max((point.amplitude for point in points), default=0.0)
    return [
        f"  {point.speed_kmh:4.0f} km/h {bar(point.amplitude / largest if largest > 0.0 else 0.0, cells=_CELLS)} "
        f"{point.amplitude:6.3f} ({point.interval[0]:.3f} to {point.interval[1]:.3f}) {unit}"
        for point in points
    ]
