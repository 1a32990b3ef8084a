"""Which orders are looked for, by name, and how much of the allowed false alarm each may spend.

Orders are counted per turn of the wheel and written as ISO 13373 does. A halfshaft turns with its wheel, so its
tripod joint (three thrusts a turn; Sugiura et al., J. System Design and Dynamics 3, 2009) is the same order as 3x
wheel; what it does under power tells them apart, not its frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Candidate", "engine_orders", "wheel_orders"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """name: as shown. order: per turn of the wheel. part: "wheel", "halfshaft", "propshaft" or "engine". share: of the
    false alarms allowed to all orders together, more for what is common."""

    name: str
    order: float
    part: str
    share: float


def wheel_orders(
    *, highest: int = 4, propshaft_ratio: float | None = None, halfshafts: bool = True
) -> tuple[Candidate, ...]:
    """1x to 4x wheel, and 1x and 2x propshaft where its ratio to the wheel is known.

    highest: of the wheel orders, 1 to 6. propshaft_ratio: turns of the propshaft per turn of the wheel. halfshafts: the
    car may have jointed ones. Raises ValueError for other numbers.

    >>> [c.name for c in wheel_orders(highest=3, propshaft_ratio=3.07)]
    ['1x wheel', '2x wheel', '3x wheel or halfshaft', '1x propshaft', '2x propshaft']
    """
    if not 1 <= highest <= 6:
        raise ValueError(f"The highest wheel order is {highest}, but must be 1 to 6.")
    if propshaft_ratio is not None and not 1.0 <= propshaft_ratio <= 15.0:
        raise ValueError(f"The propshaft's ratio is {propshaft_ratio:g}, but must be 1 to 15.")
    found = []
    for order in range(1, highest + 1):
        both = order == 3 and halfshafts
        found.append(
            Candidate(
                f"{order}x wheel or halfshaft" if both else f"{order}x wheel",
                float(order),
                "wheel",
                0.5 if order == 1 else 0.3 / max(highest - 1, 1),
            )
        )
    if propshaft_ratio is not None:
        found += [
            Candidate("1x propshaft", propshaft_ratio, "propshaft", 0.1),
            Candidate("2x propshaft", 2.0 * propshaft_ratio, "propshaft", 0.1),
        ]
    total = sum(each.share for each in found)
    return tuple(Candidate(each.name, each.order, each.part, each.share / total) for each in found)


def engine_orders(*, cylinders: int | None = None, strokes: int = 4) -> tuple[Candidate, ...]:
    """Orders per turn of the engine: 0.5 (misfire), 1 (imbalance), firing, and twice it.

    >>> [c.name for c in engine_orders(cylinders=6)]
    ['0.5x engine', '1x engine', '3x engine']
    """
    orders = [0.5, 1.0, 2.0] if strokes == 4 else [1.0, 2.0]
    if cylinders is not None:
        firing = cylinders * 2.0 / strokes
        orders = sorted({0.5, 1.0, firing} if strokes == 4 else {1.0, firing})
    return tuple(Candidate(f"{order:g}x engine", order, "engine", 1.0 / len(orders)) for order in orders)
