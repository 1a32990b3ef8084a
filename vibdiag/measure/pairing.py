"""Which tyre on which rim, and which assembly where on the car.

The figure that is made smallest is the sum of the squares of what is left: force goes with the amount, and a
large remainder is felt out of proportion. Leaving every tyre where it is and turned as it is stays among the
choices, so no plan is predicted to be worse than doing nothing (in that figure; one wheel may get worse so that another
gets much better, which `worst_mm` shows). The assignment is solved exactly by scipy (Hungarian method).

First harmonics only; that tyres and rims fit each other, are of one construction and may turn either way is for
`allowed` to say.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vibdiag.measure.match_mounting import TURN_ERROR_DEG, match_mount, predicted_left, tyre_of
from vibdiag.measure.quantiles import NORMAL_95
from vibdiag.measure.uncertain import UncertainVector
from vibdiag.rotation import Interval

__all__ = ["FELT_AT", "Pair", "Pairing", "Placing", "pair_tyres_with_rims", "place_on_axles"]

_Array = npt.NDArray[np.float64]
_NEVER = 1e9
# How much of a wheel's shake is felt, by axle: the order is common practice (the steering wheel tells of the
# front), the numbers are ours. With all places alike allowed, only the order matters.
FELT_AT: Mapping[str, float] = {"front-left": 1.0, "front-right": 1.0, "rear-left": 0.6, "rear-right": 0.6}


@dataclass(frozen=True, slots=True)
class Pair:
    """One tyre on one rim (numbers from 0, as they were given: tyre n came with rim n).

    turn_deg: by how much to turn the tyre on its rim, 0 to 360, from how it sat on its own rim (0 at that valve to
    0 at this one); None when the tyre stays on its rim unturned. left_mm: first harmonic left, 95 %.
    """

    tyre: int
    rim: int
    turn_deg: float | None
    left_mm: Interval


@dataclass(frozen=True, slots=True)
class Pairing:
    """The best plan. before_rms_mm, left_rms_mm: root mean square over the wheels now and as planned (points).

    worst_before_mm, worst_mm: the largest first harmonic now and as planned. beads_to_break: tyres that must
    come off or be turned.
    """

    pairs: tuple[Pair, ...]
    before_rms_mm: float
    left_rms_mm: float
    worst_before_mm: Interval
    worst_mm: Interval
    beads_to_break: int


@dataclass(frozen=True, slots=True)
class Placing:
    """Which assembly (number from 0) goes to which place; felt: sum of squares of amount times weight."""

    at: Mapping[str, int]
    felt: float


def pair_tyres_with_rims(
    assemblies: Sequence[UncertainVector],
    rims: Sequence[UncertainVector],
    *,
    allowed: Sequence[Sequence[bool]] | None = None,
    turn_error_deg: float = TURN_ERROR_DEG,
    seating_error_mm: float = 0.0,
) -> Pairing:
    """The best tyre for every rim, each tyre then turned to its best angle.

    assemblies, rims: first harmonics in mm of wheels 0, 1, 2 ... (1 to 50), each counted from its valve.
    allowed[tyre][rim]: whether the tyre may go on the rim; its own is always allowed, unturned.
    Tyres change rims only where the plan beats turning each on its own rim by more than two standard
    deviations, and one is turned only where that surely gains: a bead is not broken for a figure that the
    readings cannot tell.

    Raises ValueError when the numbers do not agree.
    """
    count = len(assemblies)
    if not 1 <= count <= 50 or len(rims) != count:
        raise ValueError(f"There are {count} assemblies and {len(rims)} rims; give 1 to 50 and as many of each.")
    if allowed is not None and (len(allowed) != count or any(len(row) != count for row in allowed)):
        raise ValueError(f"`allowed` must have {count} rows (tyres) of {count} entries (rims).")
    tyres = [tyre_of(assembly, rim) for assembly, rim in zip(assemblies, rims, strict=True)]
    choices: dict[tuple[int, int], Pair] = {}
    for t, tyre in enumerate(tyres):
        for r, rim in enumerate(rims):
            if t == r:
                choices[t, r] = _on_its_own(
                    t, assemblies[t], rim, turn_error_deg, seating_error_mm, _may(allowed, t, r)
                )
            elif _may(allowed, t, r):
                turn, left = predicted_left(rim, tyre, turn_error_deg=turn_error_deg, seating_error_mm=seating_error_mm)
                choices[t, r] = Pair(t, r, turn, left.amount_to_expect)
    cost = np.full((count, count), _NEVER)
    for (t, r), pair in choices.items():
        cost[t, r] = pair.left_mm.best**2
    pairs = tuple(choices[t, r] for t, r in _assign(cost))
    stay = tuple(choices[number, number] for number in range(count))
    if not _surely_better(pairs, stay):
        pairs = stay
    before = [each.amount for each in assemblies]
    return Pairing(
        pairs,
        _rms([each.best for each in before]),
        _rms([pair.left_mm.best for pair in pairs]),
        max(before, key=lambda each: each.best),
        max((pair.left_mm for pair in pairs), key=lambda each: each.best),
        sum(pair.turn_deg is not None for pair in pairs),
    )


def place_on_axles(
    amounts: Sequence[float],
    *,
    felt_at: Mapping[str, float] = FELT_AT,
    allowed: Sequence[Sequence[bool]] | None = None,
) -> Placing:
    """Put the assemblies where they are felt least: sum of (amount * weight)^2 made smallest.

    amounts: one figure per assembly, zero or more (mm of first harmonic, N, g.mm; one kind for all).
    felt_at: place and its weight, as many places as assemblies. allowed[assembly][place in the order of
    felt_at]: staggered sizes, directional tyres; all unless given. Where the maker forbids exchanging axles,
    say so there.

    >>> dict(place_on_axles([0.4, 0.1, 0.2], felt_at={"steered": 1.0, "middle": 0.7, "rearmost": 0.5}).at)
    {'steered': 1, 'middle': 2, 'rearmost': 0}

    Raises ValueError when numbers do not agree, or no placing is allowed.
    """
    places = list(felt_at)
    if not amounts or len(amounts) != len(places):
        raise ValueError(f"There are {len(amounts)} assemblies for {len(places)} places; give as many of each.")
    if any(not (math.isfinite(amount) and amount >= 0.0) for amount in amounts):
        raise ValueError("Every amount must be a number of zero or more.")
    if allowed is not None and (len(allowed) != len(places) or any(len(row) != len(places) for row in allowed)):
        raise ValueError(f"`allowed` must have {len(places)} rows (assemblies) of {len(places)} entries (places).")
    cost = np.square(np.outer(amounts, [felt_at[place] for place in places]))
    for a in range(len(places)):
        for p in range(len(places)):
            if not _may(allowed, a, p):
                cost[a, p] = _NEVER
    chosen = _assign(cost)
    felt = float(sum(cost[a, p] for a, p in chosen))
    if felt >= _NEVER:
        raise ValueError("No placing is allowed in which every assembly has a place; check `allowed`.")
    at = {places[p]: a for a, p in chosen}
    return Placing({place: at[place] for place in places}, felt)


def _on_its_own(
    number: int,
    assembly: UncertainVector,
    rim: UncertainVector,
    turn_error_deg: float,
    seating_error_mm: float,
    may_turn: bool,
) -> Pair:
    """A tyre on its own rim: turned when that surely gains, else as it is."""
    plan = match_mount(assembly, rim, turn_error_deg=turn_error_deg, seating_error_mm=seating_error_mm)
    if may_turn and plan.gain.low > 0.0:
        return Pair(number, number, plan.turn_deg, plan.left)
    return Pair(number, number, None, plan.before)


def _surely_better(plan: Sequence[Pair], stay: Sequence[Pair]) -> bool:
    """Whether the sum of squares falls by more than two standard deviations (the two taken as independent)."""
    gain = sum(pair.left_mm.best**2 for pair in stay) - sum(pair.left_mm.best**2 for pair in plan)
    variance = sum((2.0 * pair.left_mm.best * pair.left_mm.width / (2.0 * NORMAL_95)) ** 2 for pair in (*plan, *stay))
    return gain > 2.0 * math.sqrt(variance)


def _may(allowed: Sequence[Sequence[bool]] | None, row: int, column: int) -> bool:
    return allowed is None or bool(allowed[row][column])


def _rms(amounts: Sequence[float]) -> float:
    return math.sqrt(sum(amount**2 for amount in amounts) / len(amounts))


def _assign(cost: _Array) -> list[tuple[int, int]]:
    from scipy.optimize import linear_sum_assignment  # late: it takes some 200 ms to import

    rows, columns = linear_sum_assignment(cost)
    return [(int(row), int(column)) for row, column in zip(rows, columns, strict=True)]
