"""Angles for people: the valve stem at twelve, hours counted as a clock's seen from where the person stands."""

from __future__ import annotations

from typing import Literal

__all__ = ["Turning", "clock_hour", "clock_text"]

Turning = Literal["clockwise", "counter-clockwise"]


def clock_hour(angle_deg: float, *, turning: Turning = "clockwise") -> int:
    """The hour, 1 to 12, nearest to an angle counted from the stem in the direction of turning.

    turning: how the part turns for whoever looks at it, when the car drives forward. A wheel on the right
    side of the car seen from outside turns clockwise, one on the left counter-clockwise.

    >>> clock_hour(95), clock_hour(95, turning="counter-clockwise"), clock_hour(-10)
    (3, 9, 12)

    Raises ValueError for another word.
    """
    if turning not in ("clockwise", "counter-clockwise"):
        raise ValueError(f"turning is {turning!r}, but must be clockwise or counter-clockwise.")
    hours = round((angle_deg % 360.0) / 30.0) % 12
    if turning == "counter-clockwise":
        hours = -hours % 12
    return hours or 12


def clock_text(angle_deg: float, *, turning: Turning = "clockwise") -> str:
    """The hour as said aloud, with the stem at twelve.

    >>> clock_text(119)
    "4 o'clock"
    """
    return f"{clock_hour(angle_deg, turning=turning)} o'clock"
