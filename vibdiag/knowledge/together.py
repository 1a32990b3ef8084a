"""What is seen of two causes at once, from what is seen of each alone.

Where a sign has a quiet word, each cause may bring another word by itself, and the quiet one is seen only if neither
does: a noisy-OR with a leak (Henrion 1989, "Some practical issues in constructing belief networks"; formula from
memory). Where it has none, the sign is that of the one or of the other cause, whichever is felt more.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

__all__ = ["Row", "either", "mixed", "quiet_leak"]

Row = NDArray[np.float64]


def quiet_leak(rows: Iterable[Row], quiet: int) -> float | None:
    """P(quiet word) when nothing brings another: the most that any cause leaves of it; None without rows."""
    return max((float(row[quiet]) for row in rows), default=None)


def either(first: Row, second: Row, quiet: int, leak: float) -> Row:
    """The row of both: the quiet word with `first * second / leak`, the others as often as the two bring them.

    All rows have shape (words,) and sum to one; `leak` in (0, 1] is at least the quiet share of both rows.

    >>> either(np.array([0.8, 0.2]), np.array([0.1, 0.9]), quiet=1, leak=0.9)
    array([0.8, 0.2])
    >>> either(np.array([0.5, 0.5]), np.array([0.5, 0.5]), quiet=1, leak=1.0)
    array([0.75, 0.25])
    """
    stays = min(float(first[quiet] * second[quiet] / leak), float(first[quiet]), float(second[quiet]))
    brought = first + second
    brought[quiet] = 0.0
    row: Row = brought * ((1.0 - stays) / brought.sum())
    row[quiet] = stays
    return row


def mixed(first: Row, second: Row, share: float) -> Row:
    """The row of both where the sign is the first cause's with probability `share`, else the second's."""
    row: Row = share * first + (1.0 - share) * second
    return row
