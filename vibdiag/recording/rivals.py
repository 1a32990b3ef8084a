"""What else a found order may be, when nothing but its own frequency says how large the wheel is.

A part that turns 3.07 times a wheel's turn looks like 3x of a wheel 2.3 % smaller. Which of the two it is shows only
when another order, or a tyre that allows no such wheel, settles the circumference.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from vibdiag.recording.candidates import Candidate

__all__ = ["Rival", "rivals_of"]

_SAME = 0.006  # circumferences of the wheels of one car may differ by this much (common practice)

Rival = tuple[str, float]
"""Name of the other order, and the circumference (m) it would need."""


def rivals_of(
    orders: Mapping[str, float], candidates: Sequence[Candidate], *, metres: float, searched_m: tuple[float, float]
) -> Mapping[str, tuple[Rival, ...]]:
    """By the name of each found line: what else it may be.

    orders: found ones, by name. candidates: all that were looked for. metres: the circumference that they agree on.
    searched_m: what tyre and wear allow. A rival must be of another part or another order; it is ruled out when its
    circumference is not allowed, or when another found order would then be none of the candidates.
    """
    found: dict[str, tuple[Rival, ...]] = {}
    for name, order in orders.items():
        rivals = []
        for other in candidates:
            needed = metres * other.order / order
            if other.name in orders or not searched_m[0] <= needed <= searched_m[1] or other.order == order:
                continue
            rest = [value * other.order / order for key, value in orders.items() if key != name]
            if all(any(abs(each / c.order - 1.0) < _SAME for c in candidates) for each in rest):
                rivals.append((other.name, needed))
        if rivals:
            found[name] = tuple(rivals)
    return found
