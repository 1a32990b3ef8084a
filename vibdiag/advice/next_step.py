"""The next step: what clears a danger first, then what tells most per minute, then the repair."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vibdiag.advice.danger import Danger
from vibdiag.advice.evidence import Findings
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import StepText
from vibdiag.reasoning.belief import Belief
from vibdiag.reasoning.inquiry import Gain, gain_of, prospects
from vibdiag.reasoning.repair import order_by_probability_over_cost

__all__ = [
    "Outcome",
    "RepairAdvice",
    "Shop",
    "StepAdvice",
    "asks_on",
    "for_car",
    "next_steps",
    "possible",
    "repair_order",
]

# What a step may need and the fact that says whether the car has it.
_NEEDS = {
    "propshaft": "propshaft-in-car",
    "engine": "engine-in-car",
    "clutch-or-converter": "clutch-or-converter-in-car",
}
_SHOWN_CAUSES = 3


@dataclass(frozen=True)
class Shop:
    """Who is there (desk, road, bay) and which tools; None means all of them."""

    who: frozenset[str] | None = None
    tools: frozenset[str] | None = None

    def can(self, step: StepText) -> bool:
        people = self.who is None or bool(self.who & set(step.who))
        return people and (self.tools is None or set(step.tools) <= self.tools)


@dataclass(frozen=True)
class Outcome:
    """One possible outcome: its probability now, and the likeliest causes it would leave, with their probabilities."""

    word: str
    says: str
    probability: float
    leaves: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class StepAdvice:
    """`gain_bits`: expected entropy drop over cause and axle; `worth_bits`: what it counts for in the order of steps.

    Both are already times the share of usable answers. `clears`: the open danger that this step would clear.
    """

    step: StepText
    gain_bits: float
    worth_bits: float
    clears: str | None
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True)
class RepairAdvice:
    """A repair worth trying now: probability over minutes orders repairs best when one fault is to be found
    (Heckerman, Breese and Rommelse 1995)."""

    cause: str
    probability: float
    minutes: float
    does: str
    proof: str
    caution: str


def has(needs: Iterable[str], findings: Findings) -> bool:
    """Whether the car has these parts, as far as is known."""
    return all(findings.facts.get(_NEEDS[need]) != "no" for need in needs if need in _NEEDS)


def for_car(step: StepText, findings: Findings) -> StepText:
    """The step with those of its outcomes alone that this car can have."""
    outcomes = {word: outcome for word, outcome in step.outcomes.items() if has(outcome.needs, findings)}
    return step if len(outcomes) == len(step.outcomes) else step.model_copy(update={"outcomes": outcomes})


def possible(step: StepText, findings: Findings) -> bool:
    """Whether the car has what the step looks at, as far as is known, and what was told leaves room for it."""
    fits = has(step.needs, findings)
    fits = fits and not any(f"{item.sign} is {item.word}" in step.not_where for item in findings.evidence)
    return fits and (not step.only_where or any(asks_on(step, item.sign, item.word) for item in findings.evidence))


def asks_on(step: StepText, sign: str, word: str) -> bool:
    """Whether the step is one that is offered only where this (or another) word of a sign is known, and it is so."""
    return f"{sign} is {word}" in step.only_where


def next_steps(
    belief: Belief,
    findings: Findings,
    dangers: Iterable[Danger],
    base: RuleBase,
    *,
    shop: Shop = Shop(),
    count: int = 3,
    still: bool = False,
) -> tuple[StepAdvice, ...]:
    """The best `count` steps for these people and tools, best first.

    A step is left out when it was measured, when its sign is known as surely as the step would know it, when it was
    tried and gave no answer, when the car lacks what it looks at, or when it is expected to tell less than the rule
    base's least gain. A step that clears an open danger comes first whatever it tells and whatever was told of it.
    still: the car must not be driven, so nothing that drives it is offered.
    """
    known = dict.fromkeys(findings.no_news, 1.0) | {item.sign: item.trust for item in belief.evidence}
    clearing = {danger.clear_with: danger.cause for danger in dangers if danger.status == "open" and danger.clear_with}
    trust = base.settings.trust
    gains: dict[str, Gain] = {}
    candidates: list[tuple[StepText, Gain, float, str | None]] = []
    for step in base.steps.values():
        sure = trust.complaint if step.kind == "question" else trust.measured
        done = step.id in findings.results and findings.results[step.id].how == "measured"
        settled = step.id in findings.unanswered or known.get(step.sign, 0.0) >= min(sure, trust.complaint)
        if done or (settled and step.id not in clearing):
            continue
        if not (shop.can(step) and possible(step, findings)) or (still and (step.drives or step.kind == "road")):
            continue
        if step.sign not in gains:
            gains[step.sign] = gain_of(belief, step.sign)
        clears = clearing.get(step.id)
        worth = gains[step.sign].worth(base.settings.axle_worth) * step.answered
        if clears or worth >= base.settings.least_gain_bits:
            candidates.append((step, gains[step.sign], worth, clears))
    candidates.sort(key=lambda item: (item[3] is None, -item[2] / item[0].minutes, item[0].id))
    chosen: dict[str, StepAdvice] = {}
    for step, gain, worth, clears in candidates:
        if len(chosen) == count:
            break
        if step.sign not in chosen:
            offered = for_car(step, findings)
            outcomes = _outcomes(belief, offered)
            chosen[step.sign] = StepAdvice(offered, gain.all_bits * step.answered, worth, clears, outcomes)
    return tuple(chosen.values())


def _outcomes(belief: Belief, step: StepText) -> tuple[Outcome, ...]:
    found = []
    for prospect in prospects(belief, step.sign):
        if prospect.word not in step.outcomes:
            continue
        leading = tuple(prospect.after.by_cause().items())[:_SHOWN_CAUSES]
        found.append(Outcome(prospect.word, step.outcomes[prospect.word].says, prospect.probability, leading))
    return tuple(found)


def repair_order(belief: Belief, base: RuleBase, *, least: float = 0.02) -> tuple[RepairAdvice, ...]:
    """Repairs of causes that are at work with at least probability `least`, by probability per minute."""
    at_work = {cause: belief.of_cause(cause) for cause in belief.model.causes}
    chances = {cause: chance for cause, chance in at_work.items() if chance >= least}
    repairs = {cause: base.causes[cause].repair for cause in chances}
    order = order_by_probability_over_cost(chances, {cause: text.minutes for cause, text in repairs.items()})
    return tuple(
        RepairAdvice(cause, chances[cause], text.minutes, text.does, text.proof, text.caution)
        for cause, text in ((cause, repairs[cause]) for cause in order)
    )
