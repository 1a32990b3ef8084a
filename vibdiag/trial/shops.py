"""Four ways to look for the cause of a shake, and this tool's own.

Each takes a car on the bench and works until the shake is gone or it has nothing left to try. The three others know the
trade's checks and what each finding points to, and nothing of probabilities.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from vibdiag.advice.danger import find_dangers, stands_still
from vibdiag.advice.evidence import Findings
from vibdiag.advice.next_step import next_steps, repair_order
from vibdiag.case.model import StepResult
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Belief, Evidence
from vibdiag.trial.bench import Bench, Visit
from vibdiag.trial.cars import drawn_findings

__all__ = ["MOST_REPAIRS", "Shop", "checklist", "points_to", "random_order", "this_tool", "usual_order"]

Shop = Callable[[Bench], Visit]

# A finding points to a cause that it makes at least so probable and at least twice as probable as it was.
_LEAST_POINTED = 0.04
# Nobody pays for more attempts than these (common practice).
MOST_REPAIRS = 12

_TYRES = (
    "tyre-runout",
    "tyre-force-variation",
    "tyre-belt-damage",
    "tyre-flat-spot",
    "tyre-uneven-wear",
    "tyre-mismatch",
)
# All four wheels off, balanced and put back (common practice): minutes, and what that cures on the way.
_BALANCE = (60.0, ("residual-imbalance", "debris-in-wheel", "loose-wheel"))
_ROTATE_MINUTES = 30.0
_NEW_TYRES_MINUTES = 90.0
_THEN_LOOK = (
    "bay-alignment",
    "bay-steering-play",
    "bay-bearing",
    "bay-damper",
    "bay-disc",
    "bay-rim-runout",
    "bay-seat-face",
    "bay-hub-runout",
    "bay-remount",
    "bay-brake-heat",
    "bay-inner-joint",
    "bay-outer-joint",
    "bay-halfshaft",
    "bay-propshaft-joints",
    "bay-centre-bearing",
    "bay-propshaft-runout",
    "bay-axle-play",
    "bay-mounts",
    "bay-misfire",
    "bay-exhaust",
    "road-lock-up",
    "road-windows",
    "road-smooth",
)
_WHEELS = (
    "bay-fasteners",
    "bay-sizes-and-pressures",
    "bay-dirt",
    "bay-lost-weight",
    "bay-feel-tyres",
    "bay-balance-audit",
    "bay-tread-radial",
    "bay-rim-runout",
    "bay-seat-face",
    "bay-remount",
    "bay-hub-runout",
    "bay-bearing",
    "bay-steering-play",
    "bay-damper",
    "bay-force-variation",
    "bay-alignment",
)
_BRAKES = ("bay-brake-heat", "bay-disc")
_DRIVELINE = (
    "bay-propshaft-look",
    "bay-propshaft-joints",
    "bay-centre-bearing",
    "bay-propshaft-runout",
    "bay-inner-joint",
    "bay-outer-joint",
    "bay-halfshaft",
    "bay-axle-play",
    "bay-mounts",
    "road-lock-up",
)
_ENGINE = ("bay-misfire", "bay-mounts", "bay-exhaust")
_OUTSIDE = ("road-smooth", "road-windows")


def points_to(base: RuleBase, step: str, word: str) -> tuple[str, ...]:
    """The causes that a finding points to by itself, the one that gains most first; none where it tells nothing."""
    sign = base.signs[base.steps[step].sign]
    before = base.model.believe(()).by_cause()
    after = base.model.believe([Evidence(sign.id, word, base.settings.trust.measured)]).by_cause()
    pointed = [cause for cause, chance in after.items() if chance >= max(_LEAST_POINTED, 2.0 * before[cause])]
    return tuple(sorted(pointed, key=lambda cause: before[cause] - after[cause]))


def usual_order(bench: Bench) -> Visit:
    """Balance all four, rotate, replace the tyres, then look (as the trade often does)."""
    minutes, cures = _BALANCE
    if bench.mend(cures, minutes) == "gone":
        return bench.visit()
    bench.minutes += _ROTATE_MINUTES
    if bench.mend(_TYRES, _NEW_TYRES_MINUTES) == "gone":
        return bench.visit()
    return _look_and_mend(bench, _THEN_LOOK)


def checklist(bench: Bench) -> Visit:
    """A good fixed list: four questions choose which part comes first, then every finding is mended as it comes."""
    first: list[str] = []
    if bench.ask("ask-braking") == "brings":
        first += _BRAKES
    if bench.ask("ask-idle") == "yes":
        first += _ENGINE
    if bench.ask("ask-power") == "brings":
        first += _DRIVELINE
    if bench.ask("ask-roads") == "yes":
        first += _OUTSIDE
    everything = dict.fromkeys([*first, *_WHEELS, *_BRAKES, *_DRIVELINE, *_ENGINE, *_OUTSIDE])
    return _look_and_mend(bench, list(everything))


def random_order(random: np.random.Generator) -> Shop:
    """All checks of the good list, in an order drawn for each car."""

    def shop(bench: Bench) -> Visit:
        checks = sorted({*_WHEELS, *_BRAKES, *_DRIVELINE, *_ENGINE, *_OUTSIDE})
        return _look_and_mend(bench, [checks[index] for index in random.permutation(len(checks))])

    return shop


def _look_and_mend(bench: Bench, checks: Iterable[str]) -> Visit:
    """Mend what each finding points to first; when all is looked at, what the findings may mean besides."""
    tried: set[str] = set()
    besides: list[str] = []
    for check in checks:
        word = bench.ask(check)
        causes = () if word is None else points_to(bench.base, check, word)
        besides += causes[1:]
        if _mended(bench, causes[:1], tried):
            return bench.visit()
    _mended(bench, besides, tried)
    return bench.visit()


def _mended(bench: Bench, causes: Iterable[str], tried: set[str]) -> bool:
    """Mend one after the other what was not tried; whether that ends the visit."""
    for cause in causes:
        if cause not in tried:
            tried.add(cause)
            if bench.mend([cause]) == "gone" or bench.repairs >= MOST_REPAIRS:
                return True
    return False


def this_tool(known: Sequence[Evidence] = (), *, repair_above: float | None = None) -> Shop:
    """The tool: its next step, until one cause is certain enough to mend; `known`: what was told before."""

    def shop(bench: Bench) -> Visit:
        return _Consultation(bench, known, repair_above or bench.base.settings.repair_above).work()

    return shop


class _Consultation:
    def __init__(self, bench: Bench, known: Sequence[Evidence], repair_above: float) -> None:
        self.bench, self.base = bench, bench.base
        self.evidence = {item.sign: item for item in known}
        self.results: dict[str, StepResult] = {}
        self.unanswered: set[str] = set()
        self.excluded: set[str] = set()
        self.mended: set[str] = set()
        self.repair_above = repair_above

    def work(self) -> Visit:
        while self.bench.left and self.bench.repairs < MOST_REPAIRS:
            belief = self.believe()
            cause = self.certain(belief)
            if cause is None:
                step = self.next_step(belief)
                if step is not None:
                    self.take(step)
                    continue
                cause = self.best_bet(belief)
            if cause is None:
                break
            effect = self.bench.mend([cause])
            (self.excluded if effect == "none" else self.mended).add(cause)
        return self.bench.visit()

    def believe(self) -> Belief:
        """What was mended and helped in part is one of two: only pairs with it are left, if there are any."""
        belief = self.base.model.believe(self.evidence.values(), excluded=self.excluded)
        if not self.mended:
            return belief
        left = np.array([self.mended < set(one.causes) for one in self.base.model.hypotheses])
        posterior = np.where(left, belief.posterior, 0.0)
        if posterior.sum() == 0.0:
            return self.base.model.believe(self.evidence.values(), excluded=self.excluded | self.mended)
        return Belief(
            belief.model,
            belief.evidence,
            posterior / posterior.sum(),
            belief.log_columns,
            belief.log_evidence,
            belief.excluded,
        )

    def findings(self) -> Findings:
        return drawn_findings(self.evidence.values(), self.results, self.unanswered, self.excluded)

    def certain(self, belief: Belief) -> str | None:
        chances = {cause: belief.of_cause(cause) for cause in belief.model.causes if cause not in self.mended}
        best = max(chances, key=lambda cause: chances[cause])
        dangers = find_dangers(self.findings(), belief, self.base)
        waits = any(danger.status == "open" and danger.cause not in (best, *self.mended) for danger in dangers)
        return None if waits or best == "not-in-rule-base" or chances[best] < self.repair_above else best

    def next_step(self, belief: Belief) -> str | None:
        findings = self.findings()
        dangers = find_dangers(findings, belief, self.base)
        steps = next_steps(belief, findings, dangers, self.base, count=1, still=stands_still(dangers))
        return steps[0].step.id if steps else None

    def take(self, step: str) -> None:
        word = self.bench.ask(step)
        text = self.base.steps[step]
        if word is None:
            self.unanswered.add(step)
            return
        trust = self.base.settings.trust
        sure = trust.complaint if text.kind == "question" else trust.measured
        self.evidence[text.sign] = Evidence(text.sign, word, sure)
        self.results[step] = StepResult(step=step, outcome=word)

    def best_bet(self, belief: Belief) -> str | None:
        order = repair_order(belief, self.base, least=0.0)
        gone = self.excluded | self.mended | {"not-in-rule-base"}
        return next((item.cause for item in order if item.cause not in gone and item.probability > 0.0), None)
