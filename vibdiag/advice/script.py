"""The interview as a script to hold: the questions that tell most on average, in order, with branches.

The order is greedy: complaints are drawn from the rule base's own tables, and each next question is the one that tells
most per minute on average over them, given the answers before it. What a danger may hang on is asked first. For one
case the same is done from what is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.next_step import asks_on, for_car, possible
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import StepText
from vibdiag.reasoning.belief import Belief, SignTable

__all__ = ["Branch", "Script", "ScriptQuestion", "write_script"]

Array = NDArray[np.float64]

_DRAWN = 120
_LEAST_BRANCH = 0.08


@dataclass(frozen=True)
class Branch:
    """If the answer is `says`, ask this next, worth `bits` then; it is not among the questions for everybody."""

    word: str
    says: str
    then: StepText
    bits: float


@dataclass(frozen=True)
class ScriptQuestion:
    """`bits`: what it tells on average at its place in the order; 0 where it is asked whatever it tells."""

    step: StepText
    bits: float
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class Script:
    """`red_flags`: answer and what to tell the customer; `open_for`: the case it was made for, if any."""

    red_flags: tuple[tuple[str, str], ...]
    questions: tuple[ScriptQuestion, ...]
    minutes: float
    open_for: str | None


def write_script(adviser: Adviser, *, count: int = 14, assessment: Assessment | None = None, seed: int = 1) -> Script:
    """A script of `count` questions; with an `assessment` only what is still open in its case.

    Drawing is seeded, so that the same rule base gives the same script.
    """
    base = adviser.base
    start = assessment.belief if assessment is not None else base.model.believe(())
    known = {item.sign for item in start.evidence}
    asked_before = set(assessment.findings.unanswered) | set(assessment.findings.results) if assessment else set()
    candidates = [
        step if assessment is None else for_car(step, assessment.findings)
        for step in base.steps.values()
        if step.kind == "question" and "desk" in step.who and step.sign not in known and step.id not in asked_before
        if assessment is None or possible(step, assessment.findings)
    ]
    always = [step for step in candidates if step.always]
    order = [(step, 0.0) for step in always]
    free = [step for step in candidates if not step.always and (assessment is not None or not step.only_where)]
    order += _greedy(start, base, free, count - len(always), np.random.default_rng(seed))
    chosen = {step.sign for step, _ in order}
    spare = [step for step in candidates if step.sign not in chosen]
    branches = _strongest([(step, branch) for step, _ in order for branch in _branches(start, base, step, spare)])
    questions = tuple(
        ScriptQuestion(step, bits, tuple(branch for owner, branch in branches if owner is step)) for step, bits in order
    )
    flagged = [(step, word) for step in base.steps.values() if step.kind == "question" for word in step.red_flag]
    flagged.sort(key=lambda flag: flag[1] not in flag[0].stop_now)  # the gravest first, else as they are asked
    flags = tuple((f"{step.title}: {step.outcomes[word].says}", step.red_flag[word]) for step, word in flagged)
    minutes = sum(question.step.minutes for question in questions)
    return Script(flags, questions, minutes, assessment.case.id if assessment else None)


def _strongest(branches: Sequence[tuple[StepText, Branch]]) -> list[tuple[StepText, Branch]]:
    """Each follow-up question once, at the answer after which it tells most."""
    best: dict[str, tuple[StepText, Branch]] = {}
    for owner, branch in branches:
        if branch.then.id not in best or branch.bits > best[branch.then.id][1].bits:
            best[branch.then.id] = (owner, branch)
    return list(best.values())


def _greedy(
    start: Belief, base: RuleBase, candidates: Sequence[StepText], count: int, random: np.random.Generator
) -> list[tuple[StepText, float]]:
    """Pick questions one by one over drawn complaints; `beliefs` has shape (drawn, hypotheses)."""
    truths = random.choice(len(start.posterior), size=_DRAWN, p=start.posterior)
    beliefs = np.tile(start.posterior, (_DRAWN, 1))
    groups, weight = base.model.partition, base.settings.axle_worth
    left = list(candidates)
    picked: list[tuple[StepText, float]] = []
    while left and len(picked) < count:
        worth = np.array(
            [_worth(beliefs, base.model.tables[step.sign], groups, weight) * step.answered for step in left]
        )
        best = int(np.argmax(worth / np.array([step.minutes for step in left])))
        if worth[best] < base.settings.least_gain_bits:
            break
        step = left.pop(best)
        picked.append((step, float(worth[best])))
        left = [other for other in left if other.sign != step.sign]
        rows = base.model.tables[step.sign].rows
        words = (random.random(_DRAWN)[:, None] > rows[truths].cumsum(axis=1)).sum(axis=1).clip(max=rows.shape[1] - 1)
        answered = random.random(_DRAWN) < step.answered
        likelihood = np.where(answered[:, None], rows.T[words], 1.0)
        beliefs = beliefs * likelihood
        beliefs /= beliefs.sum(axis=1, keepdims=True)
    return picked


def _worth(beliefs: Array, table: SignTable, groups: Array, axle_worth: float) -> float:
    """Mean worth in bits of learning the sign, over all drawn complaints; `groups` is the model's partition."""
    rows = table.rows
    words = _x_log_x(beliefs @ rows).sum(axis=1)
    each = beliefs @ _x_log_x(rows).sum(axis=1) - words
    # One matrix product a word: (drawn, hypotheses) by (hypotheses, explanations).
    joint = sum(_x_log_x((beliefs * rows[:, word]) @ groups.T).sum(axis=1) for word in range(rows.shape[1]))
    grouped = joint - _x_log_x(beliefs @ groups.T).sum(axis=1) - words
    return float(np.mean((1.0 - axle_worth) * grouped + axle_worth * each))


def _x_log_x(shares: Array) -> Array:
    """x * log2(x), and 0 for 0."""
    logs = np.zeros_like(shares)
    np.log2(shares, out=logs, where=shares > 0.0)
    found: Array = shares * logs
    return found


def _branches(start: Belief, base: RuleBase, step: StepText, spare: Sequence[StepText]) -> list[Branch]:
    """For each telling answer the one spare question that then tells most, if it tells enough."""
    table = base.model.tables[step.sign]
    found = []
    for word, outcome in step.outcomes.items():
        after = start.posterior * table.column(word)
        after = (after / after.sum())[None, :]
        ranked = [
            (
                _worth(after, base.model.tables[other.sign], base.model.partition, base.settings.axle_worth)
                * other.answered,
                other,
            )
            for other in spare
            if not other.only_where or asks_on(other, step.sign, word)
        ]
        if not ranked:
            continue
        worth, best = max(ranked, key=lambda item: item[0])
        usual = _worth(
            start.posterior[None, :], base.model.tables[best.sign], base.model.partition, base.settings.axle_worth
        )
        if worth >= _LEAST_BRANCH and worth > 1.3 * usual * best.answered:
            found.append(Branch(word, outcome.says, best, worth))
    return found
