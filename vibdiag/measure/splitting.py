"""One correction as several weights: behind two spokes, or in the sizes that lie in the drawer.

Two weights at two given angles make any correction between them exactly; in stock sizes they come near, and
what is left is told. All weights sit at one radius in one plane.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.rotation import Polar, resultant

__all__ = ["Fitted", "Pieces", "best_pieces", "split_in_stock", "split_over_angles", "spread_two_equal"]


@dataclass(frozen=True, slots=True)
class Pieces:
    """Weights from stock, the largest first, g; together_g: their sum."""

    each_g: tuple[float, ...]
    together_g: float


@dataclass(frozen=True, slots=True)
class Fitted:
    """What to stick on at each angle, and the weight vector (g) that is still missing afterwards."""

    at: tuple[tuple[float, Pieces], ...]
    missing: Polar


def split_over_angles(correction: Polar, first_deg: float, second_deg: float) -> tuple[Polar, Polar]:
    """The two weights at two given angles whose vector sum is the correction.

    >>> [round(part.amount, 1) for part in split_over_angles(Polar(30, 0), -36, 36)]
    [18.5, 18.5]

    Raises ValueError when the correction does not lie between the two angles (a weight would be negative) or
    they are half a turn apart or the same.
    """
    span = (second_deg - first_deg + 180.0) % 360.0 - 180.0
    sine = math.sin(math.radians(span))
    if abs(sine) < 1e-6:
        raise ValueError(
            f"The angles {first_deg:g} and {second_deg:g} are in one line with the axis; choose two others."
        )
    inside = correction.angle_deg - first_deg
    first = correction.amount * math.sin(math.radians(span - inside)) / sine
    second = correction.amount * math.sin(math.radians(inside)) / sine
    smallest = -1e-9 * max(1.0, correction.amount)
    if first < smallest or second < smallest:
        raise ValueError(
            f"The correction at {correction.angle_deg:g} degrees does not lie between {first_deg:g} and "
            f"{second_deg:g}; take the two hidden places next to it on either side."
        )
    return Polar(max(0.0, first), first_deg), Polar(max(0.0, second), second_deg)


def spread_two_equal(correction: Polar, each_g: float) -> tuple[Polar, Polar]:
    """Two equal weights spread apart so that together they make exactly the correction: cos(half angle) = c / 2w.

    >>> [round(part.angle_deg) for part in spread_two_equal(Polar(30, 90), 20)]
    [49, 131]

    Raises ValueError when the two together are too light, or have no weight.
    """
    if not (each_g > 0.0 and 2.0 * each_g >= correction.amount):
        raise ValueError(f"Two weights of {each_g:g} g cannot make {correction.amount:g} g; take heavier ones.")
    half = math.degrees(math.acos(correction.amount / (2.0 * each_g)))
    return Polar(each_g, correction.angle_deg - half), Polar(each_g, correction.angle_deg + half)


def best_pieces(amount_g: float, stock_g: Sequence[float], *, most: int = 3) -> Pieces:
    """At most `most` pieces (0 to 6) from stock, each size as often as wanted, nearest to the amount; fewer at a tie.

    >>> best_pieces(37, [5, 10, 20, 30]).each_g
    (30, 5)

    Raises ValueError for an empty stock, a size that is not above zero, or `most` out of range.
    """
    return min(_combinations(stock_g, most), key=lambda each: (abs(each.together_g - amount_g), len(each.each_g)))


def split_in_stock(
    correction: Polar, angles_deg: Sequence[float], stock_g: Sequence[float], *, most_each: int = 2
) -> Fitted:
    """Pieces at one or two given angles that leave the smallest vector missing; fewer pieces at a tie.

    Unlike `split_over_angles` the correction may lie anywhere: what cannot be made is in `missing`.

    >>> found = split_in_stock(Polar(30, 0), [-36, 36], [5, 10, 15, 20])
    >>> [pieces.together_g for _, pieces in found.at], round(found.missing.amount, 1)
    ([20, 20], 2.4)

    Raises ValueError for other than one or two angles, and as `best_pieces`.
    """
    if not 1 <= len(angles_deg) <= 2:
        raise ValueError(f"Give one or two angles, not {len(angles_deg)}.")
    sums = {each.together_g: each for each in _combinations(stock_g, most_each)}  # fewest pieces win: sorted so
    target = correction.to_complex()
    units = [Polar(1.0, angle).to_complex() for angle in angles_deg]

    def cost(choice: tuple[Pieces, ...]) -> tuple[float, int]:
        made = sum((unit * each.together_g for unit, each in zip(units, choice, strict=True)), 0j)
        return round(abs(target - made), 9), sum(len(each.each_g) for each in choice)

    best = min(itertools.product(sums.values(), repeat=len(units)), key=cost)
    made = resultant(Polar(each.together_g, angle) for angle, each in zip(angles_deg, best, strict=True))
    return Fitted(tuple(zip(angles_deg, best, strict=True)), correction - made)


def _combinations(stock_g: Sequence[float], most: int) -> list[Pieces]:
    """Every choice of up to `most` pieces, those with most pieces first."""
    sizes = sorted(set(stock_g), reverse=True)
    if not sizes or any(not (math.isfinite(size) and size > 0.0) for size in sizes):
        raise ValueError("The stock must hold at least one size, each above zero grams.")
    if not 0 <= most <= 6 or len(sizes) > 60:
        raise ValueError("Up to 6 pieces from up to 60 sizes can be combined.")
    return [
        Pieces(chosen, sum(chosen))
        for number in range(most, -1, -1)
        for chosen in itertools.combinations_with_replacement(sizes, number)
    ]
