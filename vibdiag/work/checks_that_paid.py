"""Which checks moved the cause that was confirmed in the end, and how far, when they were done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import GONE, Case
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Belief
from vibdiag.reasoning.weight import decibans

__all__ = ["CheckPaid", "Weighed", "checks_that_paid", "gains", "weigh"]

# A change smaller than this is rounding, not evidence.
_LEAST_DECIBANS = 1e-6


@dataclass(frozen=True)
class CheckPaid:
    """One step over all cases. `done`: how often; `weighed`: in how many results of closed cases the confirmed cause
    was known and the answer too; `moved_up`: how many of these moved it up. `mean_decibans` (positive: towards the
    confirmed cause) is None where none was weighed; `minutes` are those of one time, by the rule base.
    """

    step: str
    title: str
    kind: str
    done: int
    weighed: int
    moved_up: int
    mean_decibans: float | None
    minutes: float


@dataclass(frozen=True)
class Weighed:
    """A case, and what each of its steps gave the confirmed cause, so that it is reckoned once for every table."""

    case: Case
    gains: tuple[tuple[str, float], ...]


def weigh(cases: Iterable[Case], adviser: Adviser) -> tuple[Weighed, ...]:
    """Every case with its gains; raises InputError for a case that names unknown steps or outcomes."""
    return tuple(Weighed(case, tuple(gains(case, adviser))) for case in cases)


def checks_that_paid(cases: Iterable[Weighed], base: RuleBase) -> tuple[CheckPaid, ...]:
    """Every step that was done, the most decibans a minute first, those that were never weighed last."""
    steps = base.steps
    done: dict[str, int] = {}
    gained: dict[str, list[float]] = {}
    for one in cases:
        for result in one.case.steps:
            done[result.step] = done.get(result.step, 0) + 1
        for step, value in one.gains:
            gained.setdefault(step, []).append(value)
    found = []
    for step, count in done.items():
        values = gained.get(step, [])
        text = steps[step]
        up = sum(value > _LEAST_DECIBANS for value in values)
        mean = fmean(values) if values else None
        found.append(CheckPaid(step, text.title, text.kind, count, len(values), up, mean, text.minutes))
    return tuple(sorted(found, key=_order))


def _order(check: CheckPaid) -> tuple[bool, float, str]:
    mean = check.mean_decibans
    return mean is None, -(mean or 0.0) / check.minutes, check.step


def gains(case: Case, adviser: Adviser) -> Iterator[tuple[str, float]]:
    """Decibans that each step's result gave the confirmed cause when it was done, in the order of the case's steps.

    10*log10 of its odds with the result over its odds just before it. What was measured beside the steps is left out
    of both, or it would take the credit of the check that measured it. Nothing for an open case, for answers that were
    not known, and for what was seen after the repair.
    """
    if case.outcome is None:
        return
    cause = case.outcome.confirmed_cause
    tried = [repair for repair in case.history.repairs if repair.effect != "cured"]
    bare: dict[str, object] = {"outcome": None, "measurements": [], "readings": [], "balance_readings": []}
    bare["history"] = case.history.model_copy(update={"repairs": tried})
    results = [result for result in case.steps if result.taken == "before"]
    before = _log_odds(adviser.believe(case.model_copy(update={**bare, "steps": []}))[1], cause)
    for place, result in enumerate(results, 1):
        if result.outcome in ("unknown", GONE):
            continue
        _, belief = adviser.believe(case.model_copy(update={**bare, "steps": results[:place]}))
        after = _log_odds(belief, cause)
        yield result.step, _limited(after - before)
        before = after


def _limited(change: float) -> float:
    """A change of natural log odds in decibans, kept within the limits that decibans have everywhere."""
    return decibans(float(np.exp(np.clip(change, -20.0, 20.0))))


def _log_odds(belief: Belief, cause: str) -> float:
    """Natural logarithm of the odds of a cause, from the logarithms, so that nothing vanishes.

    An excluded cause has the odds of the least number: a check that excludes it speaks as strongly as one can.
    """
    model = belief.model
    joint = np.where(model.banned(belief.excluded), -np.inf, model.log_prior + belief.log_columns.sum(axis=0))
    mine = model.members(cause)
    inside = float(np.logaddexp.reduce(joint[mine]))
    outside = float(np.logaddexp.reduce(joint[~mine]))
    return float(np.clip(inside - outside, -700.0, 700.0))
