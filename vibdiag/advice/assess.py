"""One assessment of one case: everything a screen, a command or a report shows comes from here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from vibdiag.advice.danger import Danger, find_dangers, stands_still
from vibdiag.advice.evidence import Clash, Findings, RuleEngine, find_evidence
from vibdiag.advice.facts import FACTS
from vibdiag.advice.next_step import RepairAdvice, Shop, StepAdvice, next_steps, repair_order
from vibdiag.advice.place import at_wheels, wheels_of
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import Wheel
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.reasoning.belief import Belief, Evidence
from vibdiag.reasoning.engine import Engine
from vibdiag.reasoning.surprise import Surprise, surprise_of
from vibdiag.reasoning.weight import weight_matrix, weights_for

__all__ = ["Adviser", "Assessment", "RankedCause", "Reason"]


@dataclass(frozen=True)
class Reason:
    """One sign's weight for a cause (decibans, positive for), with the rule's `because`.

    `doubted`: it is trusted less than what a customer tells of the shake itself.
    """

    sign: str
    word: str
    name: str
    decibans: float
    because: str
    trust: float
    doubted: bool


@dataclass(frozen=True)
class RankedCause:
    """`probability`: the cause's share of the belief; the ranking sums to one, and a pair counts half for each.

    `at_work`: that it is at work, alone or with another. `together`: the causes that may be at work with it, and how
    probable that is, if it is worth a word. `axles`: how `probability` splits between front and rear; empty for a
    cause of the whole car. `wheels`: which wheel it is, given that it is this cause; empty until something is known of
    single wheels.
    """

    id: str
    name: str
    short: str
    probability: float
    at_work: float
    together: tuple[tuple[str, float], ...]
    axles: dict[str, float]
    wheels: dict[Wheel, float]
    speaks_for: tuple[Reason, ...]
    speaks_against: tuple[Reason, ...]

    @property
    def axle(self) -> str | None:
        """The likelier axle, or None for a cause of the whole car."""
        return max(self.axles, key=lambda axle: self.axles[axle]) if self.axles else None

    @property
    def wheel(self) -> Wheel | None:
        """The wheel that stands out, or None while none does."""
        best = max(self.wheels, key=lambda wheel: self.wheels[wheel], default=None)
        return best if best is not None and self.wheels[best] >= _STANDS_OUT else None


@dataclass(frozen=True)
class Assessment:
    """`repair` is set when one cause is certain enough that mending pays more than looking on.

    `undecided`: the first cause leads by so little that the honest word is "cannot tell yet". `stands_still`: a danger
    is open, so the car is not driven and no step that drives it is among `next`.
    """

    case: Case
    findings: Findings
    belief: Belief
    causes: tuple[RankedCause, ...]
    dangers: tuple[Danger, ...]
    clashes: tuple[Clash, ...]
    next: tuple[StepAdvice, ...]
    repair: RepairAdvice | None
    surprise: Surprise
    undecided: bool
    stands_still: bool


# A wheel more probable than this stands out from the three others.
_STANDS_OUT = 0.6
# A pair less probable than this is not worth a word.
_LEAST_TOGETHER = 0.05
# A reason below half a deciban is not worth a line.
_LEAST_DECIBANS = 0.5


class Adviser:
    """A rule base made ready; safe to keep and to ask as often as wanted."""

    def __init__(self, base: RuleBase, engine: RuleEngine | None = None) -> None:
        self.base = base
        self.engine: RuleEngine = engine if engine is not None else Engine(base.rule_set)

    @classmethod
    def shipped(cls, folder: Path | None = None) -> Adviser:
        """With the rule base in `folder`, or the one shipped with the program."""
        return cls(load_rule_base(folder or shipped_folder("rules"), FACTS))

    def believe(self, case: Case) -> tuple[Findings, Belief]:
        """Facts, rules and posterior alone."""
        findings = find_evidence(case, self.base, self.engine)
        return findings, self.base.model.believe(findings.evidence, excluded=findings.excluded)

    def assess(self, case: Case, *, shop: Shop = Shop(), steps: int = 3) -> Assessment:
        """The whole answer; raises InputError for a case that names unknown steps, outcomes or an impossible tyre."""
        findings, belief = self.believe(case)
        read = {one.danger for one in case.acknowledged}
        dangers = find_dangers(findings, belief, self.base, shown=read | set(case.dangers_shown))
        still = stands_still(dangers, read=read)
        upcoming = next_steps(belief, findings, dangers, self.base, shop=shop, count=steps, still=still)
        causes = tuple(self.rank(findings, belief, at_wheels(case, self.base, self.engine)))
        return Assessment(
            case,
            findings,
            belief,
            causes,
            dangers,
            findings.clashes,
            upcoming,
            self.repair(belief, causes[0], dangers),
            surprise_of(belief),
            self.undecided(belief),
            still,
        )

    def undecided(self, belief: Belief) -> bool:
        """Whether no cause is at work probably enough to be named."""
        return max(belief.of_cause(cause) for cause in belief.model.causes) < self.base.settings.tell_above

    def repair(self, belief: Belief, best: RankedCause, dangers: tuple[Danger, ...]) -> RepairAdvice | None:
        """The repair of the first cause, if it is certain enough and no other danger must be cleared before."""
        waits = any(danger.status == "open" and danger.cause != best.id for danger in dangers)
        if waits or best.id == "not-in-rule-base" or best.at_work < self.base.settings.repair_above:
            return None
        return next(item for item in repair_order(belief, self.base) if item.cause == best.id)

    def rank(
        self, findings: Findings, belief: Belief, known: Mapping[Wheel, tuple[Evidence, ...]] | None = None
    ) -> list[RankedCause]:
        """The causes that are possible, most probable first; `known`: what is known of single wheels."""
        ranked = []
        matrix = weight_matrix(belief)
        pairs = [(pair, chance) for pair, chance in belief.by_explanation().items() if len(pair) == 2]
        for cause, probability in belief.by_cause().items():
            if cause in belief.excluded:
                continue
            reasons = [
                Reason(
                    weight.evidence.sign,
                    weight.evidence.word,
                    self.base.signs[weight.evidence.sign].name,
                    weight.decibans,
                    findings.because[weight.evidence.sign],
                    weight.evidence.trust,
                    weight.evidence.trust < self.base.settings.trust.complaint,
                )
                for weight in weights_for(belief, cause, matrix)
                if abs(weight.decibans) >= _LEAST_DECIBANS
            ]
            wheels = wheels_of(cause, belief, known, self.base) if known else {}
            axles = belief.of_axle(cause)
            if wheels:
                axles = {
                    axle: probability * sum(chance for wheel, chance in wheels.items() if wheel.startswith(axle))
                    for axle in axles
                }
            ranked.append(
                RankedCause(
                    cause,
                    self.base.causes[cause].name,
                    self.base.causes[cause].short,
                    probability,
                    belief.of_cause(cause),
                    tuple(
                        (other, chance)
                        for pair, chance in pairs
                        if chance >= _LEAST_TOGETHER and cause in pair
                        for other in pair
                        if other != cause
                    ),
                    axles,
                    wheels,
                    tuple(reason for reason in reasons if reason.decibans > 0),
                    tuple(reason for reason in reversed(reasons) if reason.decibans < 0),
                )
            )
        return ranked
