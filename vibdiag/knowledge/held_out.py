"""Does learning help? Tables learned from some cases, scored on the others, beside the tables as they stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.learn import Lesson, learn, relearned

__all__ = ["MOST_LEFT_OUT_SINGLY", "CrossValidation", "HeldOutCase", "Scores", "cross_validate", "split"]

# Up to so many cases each is left out alone; above that, ten groups (common practice in statistics).
MOST_LEFT_OUT_SINGLY = 200
_FOLDS = 10


@dataclass(frozen=True)
class HeldOutCase:
    """`place`: where the confirmed cause came, from 1; `brier`: sum over causes of (p - truth)^2, 0 to 2.

    `danger_shown`: None where the confirmed cause is no danger; else whether its danger was shown.
    """

    case: str
    confirmed: str
    place: int
    probability: float
    brier: float
    danger_shown: bool | None


@dataclass(frozen=True)
class Scores:
    """Shares of the cases, 0 to 1, and the mean Brier score; of the `dangers` confirmed, how many were shown."""

    cases: tuple[HeldOutCase, ...]
    first: float
    first_three: float
    brier: float
    dangers: int
    dangers_shown: int


@dataclass(frozen=True)
class CrossValidation:
    """`unlearned`: the tables as they stand; `learned`: each case by tables that never saw it. Same order of cases."""

    folds: int
    unlearned: Scores
    learned: Scores


def split(count: int, *, seed: int = 0) -> tuple[tuple[int, ...], ...]:
    """Which cases are left out together: each alone, or above `MOST_LEFT_OUT_SINGLY` ten groups drawn by `seed`."""
    if count <= MOST_LEFT_OUT_SINGLY:
        return tuple((index,) for index in range(count))
    order = np.random.default_rng(seed).permutation(count)
    return tuple(tuple(sorted(group.tolist())) for group in np.array_split(order, _FOLDS))


def cross_validate(
    base: RuleBase, lessons: Sequence[Lesson], *, strength: float, base_rates: bool = False, seed: int = 0
) -> CrossValidation:
    """Score every lesson by tables learned without it; raises ValueError when there are fewer than two."""
    if len(lessons) < 2:
        raise ValueError("with fewer than two confirmed cases nothing can be left out and still be learned from")
    folds = split(len(lessons), seed=seed)
    unlearned = [_scored(base, lesson) for lesson in lessons]
    learned: dict[int, HeldOutCase] = {}
    for left_out in folds:
        others = [lesson for index, lesson in enumerate(lessons) if index not in left_out]
        taught = relearned(base, learn(base, others, strength=strength, base_rates=base_rates))
        learned |= {index: _scored(taught, lessons[index]) for index in left_out}
    in_order = [learned[index] for index in range(len(lessons))]
    return CrossValidation(len(folds), _scores(unlearned), _scores(in_order))


def _scored(base: RuleBase, lesson: Lesson) -> HeldOutCase:
    belief = base.model.believe(lesson.evidence, excluded=lesson.excluded)
    ranked = belief.by_cause()
    probability = ranked[lesson.cause]
    brier = sum((p - (cause == lesson.cause)) ** 2 for cause, p in ranked.items())
    danger = base.causes[lesson.cause].danger
    shown = (
        None if danger is None else lesson.cause in lesson.raised or belief.of_cause(lesson.cause) >= danger.raise_above
    )
    return HeldOutCase(lesson.case, lesson.cause, list(ranked).index(lesson.cause) + 1, probability, brier, shown)


def _scores(cases: Sequence[HeldOutCase]) -> Scores:
    places = np.array([case.place for case in cases])
    dangers = [case.danger_shown for case in cases if case.danger_shown is not None]
    return Scores(
        tuple(cases),
        float((places == 1).mean()),
        float((places <= 3).mean()),
        float(np.mean([case.brier for case in cases])),
        len(dangers),
        sum(dangers),
    )
