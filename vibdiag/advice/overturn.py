"""What would change this: the single results that would put another cause first."""

from __future__ import annotations

from dataclasses import dataclass

from vibdiag.advice.evidence import Findings
from vibdiag.advice.next_step import Shop, for_car, possible
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import StepText
from vibdiag.reasoning.belief import Belief
from vibdiag.reasoning.inquiry import prospects

__all__ = ["Overturn", "overturns"]


@dataclass(frozen=True)
class Overturn:
    """If `step` came out as `word` (probability now), `cause` would be first with `would_be`."""

    step: StepText
    word: str
    probability: float
    cause: str
    would_be: float


def overturns(
    belief: Belief, findings: Findings, base: RuleBase, *, shop: Shop = Shop(), count: int = 5
) -> tuple[Overturn, ...]:
    """The likeliest results of steps not yet done that would put another cause first, one for each new first cause."""
    first = next(iter(belief.by_cause()))
    known = findings.no_news | {item.sign for item in belief.evidence}
    found: dict[str, Overturn] = {}
    seen: set[str] = set()
    for step in base.steps.values():
        if step.sign in known or step.sign in seen or not shop.can(step) or not possible(step, findings):
            continue
        seen.add(step.sign)
        offered = for_car(step, findings).outcomes
        for prospect in (one for one in prospects(belief, step.sign) if one.word in offered):
            cause, would_be = next(iter(prospect.after.by_cause().items()))
            better = cause not in found or prospect.probability > found[cause].probability
            if cause != first and better:
                found[cause] = Overturn(step, prospect.word, prospect.probability, cause, would_be)
    return tuple(sorted(found.values(), key=lambda item: (-item.probability, item.cause))[:count])
