"""How long an interview must be until the first three causes no longer change.

The customer is drawn like the cars of `cars.py`: what a confirmed case tells is what this customer says, and what it
does not tell is drawn from the tables of the confirmed cause. (A case found in public answers four of the tool's thirty
questions, in the middle; a customer at the desk answers nearly all.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vibdiag.advice.interview import PAYS_BITS
from vibdiag.advice.next_step import Shop, next_steps
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Evidence
from vibdiag.trial.cars import Car, drawn_findings

__all__ = ["MOST_ASKED", "Interview", "Lengths", "interview", "lengths"]

# The measure ends here; nobody sits through more.
MOST_ASKED = 30
_DESK = Shop(who=frozenset({"desk"}))


@dataclass(frozen=True)
class Interview:
    """`asked`: questions until none pays any more; `until_stable`: until the first three causes are those of the end;
    `truth_in_three`: whether the true cause is among them then."""

    asked: int
    until_stable: int
    truth_in_three: bool


@dataclass(frozen=True)
class Lengths:
    """Questions until the first three causes are stable: median, quartiles; and how often the truth is among them."""

    interviews: int
    median: float
    lower_quartile: float
    upper_quartile: float
    asked_median: float
    truth_in_three: float


def interview(car: Car, base: RuleBase) -> Interview:
    """Ask as the tool asks, from nothing, until no question is expected to tell enough."""
    trust = base.settings.trust.complaint
    evidence: dict[str, Evidence] = {}
    asked: set[str] = set()
    belief = base.model.believe(())
    shown = [_first_three(belief.by_cause())]
    while len(shown) <= MOST_ASKED:
        findings = drawn_findings(evidence.values(), {}, asked)
        best = next_steps(belief, findings, (), base, shop=_DESK, count=1)
        if not best or best[0].worth_bits < PAYS_BITS:
            break
        step = best[0].step
        asked.add(step.id)
        word = car.answers[step.id]
        if word is not None:
            evidence[step.sign] = Evidence(step.sign, word, trust)
            belief = base.model.believe(evidence.values())
        shown.append(_first_three(belief.by_cause()))
    stable = next(place for place in range(len(shown)) if all(one == shown[-1] for one in shown[place:]))
    return Interview(len(shown) - 1, stable, not car.causes.isdisjoint(shown[-1]))


def lengths(cars: Sequence[Car], base: RuleBase) -> Lengths:
    """Interview the driver of every car; raises ValueError without cars."""
    if not cars:
        raise ValueError("nobody to interview: no cars")
    found = [interview(car, base) for car in cars]
    low, middle, high = np.quantile([one.until_stable for one in found], [0.25, 0.5, 0.75])
    return Lengths(
        len(found),
        float(middle),
        float(low),
        float(high),
        float(np.median([one.asked for one in found])),
        float(np.mean([one.truth_in_three for one in found])),
    )


def _first_three(ranked: dict[str, float]) -> frozenset[str]:
    return frozenset(list(ranked)[:3])
