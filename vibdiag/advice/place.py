"""Which wheel: from what was read, seen or measured at each wheel by itself.

Given a cause, one wheel has it. At that wheel the signs are as the cause's rows say, at the others as on a sound
wheel: there the quiet word is seen as often as any cause leaves it, and the other words share the rest as in the
background. So a rim over its limit at one wheel and three within point to that wheel, and clear readings elsewhere
point to the one not read yet. The axles follow from the wheels.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

import numpy as np

from vibdiag.advice.evidence import RuleEngine, find_evidence
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import Wheel
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Belief, Evidence

__all__ = ["WHEELS", "at_wheels", "wheels_of"]

WHEELS: tuple[Wheel, ...] = tuple(wheel for wheel in get_args(Wheel) if wheel != "unknown")


def at_wheels(case: Case, base: RuleBase, engine: RuleEngine) -> dict[Wheel, tuple[Evidence, ...]]:
    """What is known of each wheel by itself; wheels of which nothing is known are left out.

    The rules judge each wheel's readings as if there were no others.
    """
    found: dict[Wheel, tuple[Evidence, ...]] = {}
    bare = Case(vibdiag_case=case.vibdiag_case, id=case.id, vehicle=case.vehicle)
    of_the_car: frozenset[str] | None = None
    for wheel in WHEELS:
        mine = {
            name: [one for one in getattr(case, name) if one.wheel == wheel]
            for name in ("steps", "measurements", "readings", "balance_readings")
        }
        if not any(mine.values()):
            continue
        if of_the_car is None:
            of_the_car = frozenset(item.sign for item in find_evidence(bare, base, engine).evidence)
        evidence = find_evidence(bare.model_copy(update=mine), base, engine).evidence
        here = tuple(item for item in evidence if item.sign not in of_the_car)
        if here:
            found[wheel] = here
    return found


def wheels_of(
    cause: str, belief: Belief, known: Mapping[Wheel, tuple[Evidence, ...]], base: RuleBase
) -> dict[Wheel, float]:
    """P(wheel | cause), summing to one; empty for a cause of the whole car, and when no wheel is known by itself."""
    axles = belief.of_axle(cause)
    total = sum(axles.values())
    if not known or total <= 0.0:
        return {}
    weights = np.array([axles.get(_axle(wheel), 0.0) / total / 2.0 for wheel in WHEELS])
    for place, wheel in enumerate(WHEELS):
        row = _row_of(cause, _axle(wheel), belief)
        for other, evidence in known.items():
            for item in evidence:
                weights[place] *= _chance(item, base, row if other == wheel else None)
    if weights.sum() <= 0.0:
        return {}
    return dict(zip(WHEELS, (weights / weights.sum()).tolist(), strict=True))


def _axle(wheel: Wheel) -> str:
    return wheel.split("-")[0]


def _row_of(cause: str, axle: str, belief: Belief) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """How probable each of the cause's hypotheses on that axle is among them, shape (hypotheses,)."""
    mine = np.array([one.causes == (cause,) and one.axle == axle for one in belief.model.hypotheses])
    weight = np.where(mine, belief.posterior, 0.0)
    if weight.sum() <= 0.0:
        weight = np.where(mine, belief.model.prior, 0.0)
    share: np.ndarray[tuple[int], np.dtype[np.float64]] = weight / weight.sum()
    return share


def _chance(item: Evidence, base: RuleBase, share: np.ndarray[tuple[int], np.dtype[np.float64]] | None) -> float:
    """P(report | this wheel has the cause), or on a sound wheel where `share` is None."""
    table = base.model.tables[item.sign]
    place = table.words.index(item.word)
    if share is not None:
        true = float(share @ table.rows[:, place])
    else:
        quiet = base.signs[item.sign].quiet
        true = float(table.background[place])
        if quiet is not None:
            calm = float(table.rows[:, table.words.index(quiet)].max())
            rest = 1.0 - float(table.background[table.words.index(quiet)])
            true = calm if item.word == quiet else (1.0 - calm) * true / rest
    return item.trust * true + (1.0 - item.trust) * float(table.noise(item.word, item.named_wrongly)[place])
