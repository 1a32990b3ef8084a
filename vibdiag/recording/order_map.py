"""The order map: how much stands above the road at each order of the wheel, at each speed.

Pieces of four seconds are laid out over the turns of the wheel, so that what turns with it stays in its column at every
speed, and what has a frequency of its own slants across. Each row is whitened by its own running median, so that a row
on a rough road is not brighter than one on a smooth one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.angle import Course
from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.interpolate import cubic
from vibdiag.recording.signal import FloatArray

__all__ = ["OrderMap", "order_map"]

_PIECE_S = 4.0
_MOST_PIECES = 200
_ROW_KMH = 5.0
_COLUMN = 0.1
_FIRST, _LAST = 0.5, 5.0
_AROUND = 8  # columns to either side that a column is compared with
_LEAST_PIECES = 2


@dataclass(frozen=True, slots=True, eq=False)
class OrderMap:
    """orders: (M,), middles of the columns, per turn of the wheel. speeds_kmh: (S,), rising. above: (S, M), power over
    what surrounds it in its row; not-a-number where the recording's rate cannot show it."""

    channel: str
    orders: FloatArray
    speeds_kmh: FloatArray
    above: FloatArray


def order_map(even: EvenRecording, course: Course, *, channel: int) -> OrderMap | None:
    """The map of one channel, by the angle of this course (with the circumference that was found).

    Returns None when no speed was held for two pieces of four seconds.
    """
    size = int(_PIECE_S * even.rate_hz)
    count = even.good.size - size + 1
    hop = max(size // 2, count // _MOST_PIECES, 1)
    edges = np.arange(_FIRST - _COLUMN / 2.0, _LAST + _COLUMN, _COLUMN)
    rows: dict[int, list[FloatArray]] = {}
    for start in range(0, max(count, 0), hop):
        piece = slice(start, start + size)
        if course.usable[piece].all():
            row = round(3.6 * float(course.speed_ms[piece].mean()) / _ROW_KMH)
            rows.setdefault(row, []).append(_powers(even.values[channel, piece], course.turns[piece], edges))
    kept = sorted(row for row, pieces in rows.items() if len(pieces) >= _LEAST_PIECES)
    if not kept:
        return None
    above = np.stack([_above(np.mean(rows[row], axis=0)) for row in kept])
    return OrderMap(even.names[channel], (edges[:-1] + edges[1:]) / 2.0, _ROW_KMH * np.array(kept, dtype=float), above)


def _powers(values: FloatArray, turns: FloatArray, edges: FloatArray) -> FloatArray:
    """Mean power between these orders, not-a-number above 0.45 of the rate."""
    per_turn = values.size / float(turns[-1] - turns[0])
    grid = np.linspace(turns[0], turns[-1], values.size)
    even = cubic(values, np.interp(grid, turns, np.arange(values.size, dtype=np.float64)))
    padded = 1 << int(2 * values.size - 1).bit_length()
    power = np.abs(np.fft.rfft(np.hanning(values.size) * even, padded)) ** 2
    order = np.fft.rfftfreq(padded, 1.0 / per_turn)
    total = np.concatenate(([0.0], np.cumsum(power)))
    at = np.searchsorted(order, edges)
    mean = (total[at[1:]] - total[at[:-1]]) / np.maximum(at[1:] - at[:-1], 1)
    return np.where(edges[1:] <= 0.45 * per_turn, mean, np.nan)


def _above(power: FloatArray) -> FloatArray:
    out = np.full(power.size, np.nan)
    seen = int(np.count_nonzero(np.isfinite(power)))
    for column in range(seen):
        around = np.concatenate(
            (power[max(column - _AROUND, 0) : max(column - 1, 0)], power[column + 2 : seen][:_AROUND])
        )
        if around.size:
            out[column] = power[column] / max(float(np.median(around)), 1e-300)
    return out
