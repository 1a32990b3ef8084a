"""The four wheels seen from above, front on top, as the driver sits: one quantity's readings at each."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from vibdiag.case.model import Measurement
from vibdiag.case.vocabulary import Wheel

__all__ = ["corner_lines"]

_SIDE, _NONE = 8, "·"
Pair = tuple[Measurement | None, Measurement | None]


def corner_lines(readings: Mapping[Wheel, Pair], say: Callable[[Measurement], str], *, cells: int) -> list[str]:
    """Lines of `cells` columns; `readings` has before and after the repair for each wheel, `say` words one reading."""
    half = (cells - _SIDE) // 2
    lines = [f"{'':{_SIDE}}{'left':{half}}right"]
    for end in ("front", "rear"):
        left, right = (_corner(readings.get(wheel, (None, None)), say) for wheel in _wheels(end))
        for side, a, b in zip((end, ""), left, right, strict=True):
            lines.append(f"{side:{_SIDE}}{a:{half}.{half}}{b:{half}.{half}}".rstrip())
    elsewhere = [text for text in _corner(readings.get("unknown", (None, None)), say) if text not in ("", _NONE)]
    return [*lines, f"at no wheel: {'; '.join(elsewhere)}"] if elsewhere else lines


def _wheels(end: str) -> tuple[Wheel, Wheel]:
    return ("front-left", "front-right") if end == "front" else ("rear-left", "rear-right")


def _corner(pair: Pair, say: Callable[[Measurement], str]) -> list[str]:
    before, after = pair
    return [say(before) if before else _NONE, f"after: {say(after)}" if after else ""]
