"""Saying how far a long job has come, to whoever asked to be told."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Tell", "part", "untold"]

Tell = Callable[[float], None]
"""Takes the share that is done, 0 to 1."""


def untold(share: float) -> None:
    """For a job that nobody watches."""


def part(tell: Tell, begin: float, end: float) -> Tell:
    """Tell of a part of a job as the whole's share from begin to end.

    >>> part(print, 0.5, 1.0)(0.5)
    0.75
    """
    return lambda share: tell(begin + (end - begin) * share)
