"""Lines folded to a width, continued under their text."""

from __future__ import annotations

import textwrap

__all__ = ["fitted", "hanging"]


def hanging(line: str, columns: int, *, indent: int = 2) -> list[str]:
    """`line` folded at `columns`; what goes on stands `indent` cells further in.

    >>> hanging("  felt at: steering wheel", 16)
    ['  felt at:', '    steering', '    wheel']
    """
    further = " " * (len(line) - len(line.lstrip()) + indent)
    together = line.replace(" %", "\u00a0%")  # a number stays with its per cent sign
    folded = textwrap.wrap(together, columns, subsequent_indent=further, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in folded] or [""]


def fitted(text: str, cells: int) -> str:
    """`text` in at most `cells` columns, cut with a sign that it goes on.

    >>> fitted("Rock the wheel", 9)
    'Rock the…'
    """
    return text if len(text) <= cells else f"{text[: cells - 1].rstrip()}…"
