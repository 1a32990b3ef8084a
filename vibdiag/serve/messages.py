"""What a page may send over its websocket: known kinds, sizes within reason, nothing else."""

from __future__ import annotations

import json
from dataclasses import dataclass

__all__ = ["LARGEST_MESSAGE", "Focus", "Ping", "Resize", "Typed", "UnknownMessageError", "clamp_size", "read_message"]

# A long paste; the terminal widget escapes it, so it may grow on the way.
LARGEST_MESSAGE = 256 * 1024
_COLUMNS = (20, 400)
_ROWS = (8, 150)


class UnknownMessageError(ValueError):
    """The page sent what no page of ours sends."""


@dataclass(frozen=True)
class Typed:
    """Keys, mouse or pasted text, as a terminal sends them."""

    text: str


@dataclass(frozen=True)
class Resize:
    """The page's terminal has this size, in cells."""

    width: int
    height: int


@dataclass(frozen=True)
class Ping:
    """To be sent back as it is."""

    text: str


@dataclass(frozen=True)
class Focus:
    """The page was entered or left."""

    gained: bool


def clamp_size(width: object, height: object) -> tuple[int, int]:
    """Columns and rows within what a screen can have; 80 x 24 for what is no number.

    >>> clamp_size("120", "99999")
    (120, 150)
    """
    return _within(width, 80, _COLUMNS), _within(height, 24, _ROWS)


def _within(value: object, otherwise: int, limits: tuple[int, int]) -> int:
    if isinstance(value, str) and len(value) < 10 and value.isascii() and value.isdigit():
        value = int(value)
    if not isinstance(value, int) or isinstance(value, bool):
        return otherwise
    return max(limits[0], min(limits[1], value))


def read_message(text: str) -> Typed | Resize | Ping | Focus:
    """One message of the terminal widget: a JSON list of kind and content. Raises UnknownMessageError."""
    try:
        envelope = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise UnknownMessageError(str(error)) from error
    match envelope:
        case ["stdin", str(typed)]:
            return Typed(typed)
        case ["resize", {"width": int(width), "height": int(height)}]:
            return Resize(*clamp_size(width, height))
        case ["ping", str(stamp)] if len(stamp) < 40:
            return Ping(stamp)
        case ["focus"] | ["blur"]:
            return Focus(envelope[0] == "focus")
    raise UnknownMessageError("not a message of the terminal")
