"""The picture of the readings in text."""

from __future__ import annotations

import math
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.measure import evenly_spaced_deg, polar_picture

SIZES = st.tuples(st.integers(17, 80), st.integers(9, 40))
VALUES = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60)


def find(rows: tuple[str, ...], sign: str) -> tuple[int, int]:
    """Column and row of the first such sign above the line of explanations."""
    return next((row.index(sign), number) for number, row in enumerate(rows[:-1]) if sign in row)


@settings(deadline=None)
@given(VALUES, SIZES, st.lists(st.floats(-1e3, 1e3), min_size=7, max_size=7) | st.just([]))
def test_it_fits_its_frame_and_shows_every_hour(
    values: list[float], size: tuple[int, int], coefficients: list[float]
) -> None:
    columns, rows = size
    shown = polar_picture(evenly_spaced_deg(len(values)), values, coefficients=coefficients, columns=columns, rows=rows)
    assert len(shown) == rows
    assert all(len(row) <= columns and row == row.rstrip() and row.isascii() for row in shown)
    body = " ".join(shown[:-1])
    for hour in range(1, 13):
        assert str(hour) in body
    assert "reading" in shown[-1]


@pytest.mark.parametrize("turning", ["clockwise", "counter-clockwise"])
@pytest.mark.parametrize("high", [0.0, 90.0, 180.0, 270.0, 45.0])
def test_the_high_point_lies_where_it_is(high: float, turning: Literal["clockwise", "counter-clockwise"]) -> None:
    angles = evenly_spaced_deg(12)
    values = [math.cos(math.radians(a - high)) for a in angles]
    wave = [0.0, math.cos(math.radians(high)), math.sin(math.radians(high))]
    column, row = find(polar_picture(angles, values, coefficients=wave, turning=turning), "^")
    side = 1 if turning == "clockwise" else -1
    across, up = side * (column - 20), (9.5 - row) * 2
    seen = math.degrees(math.atan2(across, up)) % 360.0
    assert abs((seen - high + 180.0) % 360.0 - 180.0) < 8.0
    assert 14.0 < math.hypot(across, up) < 17.0


def test_a_reading_stands_outside_the_mean_ring_when_it_is_high() -> None:
    rows = polar_picture([90.0, 270.0], [1.0, -1.0])
    row = rows[find(rows, "o")[1]]
    right, left = row.rindex("o"), row.index("o")
    assert right - 20 > 20 - left > 0


def test_a_perfect_part_is_a_ring() -> None:
    rows = polar_picture(evenly_spaced_deg(12), [0.25] * 12)
    assert sum(row.count("o") for row in rows[:-1]) == 12
    assert "^" not in "".join(rows)


def test_impossible_pictures_are_refused() -> None:
    with pytest.raises(ValueError, match="17 to 121"):
        polar_picture([0.0], [1.0], columns=10)
    with pytest.raises(ValueError, match="one each"):
        polar_picture([0.0], [])
    with pytest.raises(ValueError, match="finite"):
        polar_picture([0.0], [math.nan])
    with pytest.raises(ValueError, match="two coefficients"):
        polar_picture([0.0], [1.0], coefficients=[0.0, 1.0])
