"""How good is the ranking, measured on cases whose cause was confirmed.

Reported beside the plainest baseline there is: always guess the most common cause, with the base rates as
probabilities. The outcome of a case is read only to score, never to rank.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case

__all__ = ["CauseScore", "Reliability", "Score", "ScoredCase", "score_cases"]

_BINS = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)


@dataclass(frozen=True)
class ScoredCase:
    """`place`: where the confirmed cause came, from 1; `brier`: sum over causes of (p - truth)^2, 0 to 2."""

    case: str
    confirmed: str
    place: int
    probability: float
    first: str
    first_probability: float
    brier: float


@dataclass(frozen=True)
class Reliability:
    """Of the rankings whose first cause had a probability in [low, high): how probable, and how often right."""

    low: float
    high: float
    count: int
    mean_probability: float
    right: float


@dataclass(frozen=True)
class CauseScore:
    cause: str
    cases: int
    first: int
    first_three: int


@dataclass(frozen=True)
class Score:
    """`baseline_*`: the same figures for always guessing the base rates."""

    cases: tuple[ScoredCase, ...]
    first: float
    first_three: float
    mean_reciprocal_rank: float
    brier: float
    baseline_first: float
    baseline_first_three: float
    baseline_brier: float
    baseline_cause: str
    reliability: tuple[Reliability, ...]
    calibration_error: float
    by_cause: tuple[CauseScore, ...]


def _brier(probabilities: Sequence[tuple[str, float]], truth: str) -> float:
    return sum((p - (cause == truth)) ** 2 for cause, p in probabilities)


def score_cases(cases: Iterable[Case], adviser: Adviser) -> Score:
    """Score every case that has a confirmed cause; raises ValueError when none has."""
    base_rates = list(adviser.base.model.believe(()).by_cause().items())
    order = [cause for cause, _ in base_rates]
    scored: list[ScoredCase] = []
    base_places: list[int] = []
    base_briers: list[float] = []
    for case in cases:
        if case.outcome is None:
            continue
        truth = case.outcome.confirmed_cause
        _, belief = adviser.believe(case.model_copy(update={"outcome": None}))
        ranked = list(belief.by_cause().items())
        place = [cause for cause, _ in ranked].index(truth) + 1
        scored.append(ScoredCase(case.id, truth, place, dict(ranked)[truth], *ranked[0], _brier(ranked, truth)))
        base_places.append(order.index(truth) + 1)
        base_briers.append(_brier(base_rates, truth))
    if not scored:
        raise ValueError("no case has a confirmed cause")
    reliability = tuple(_reliability(scored))
    places = np.array([one.place for one in scored])
    base = np.array(base_places)
    return Score(
        tuple(scored),
        float((places == 1).mean()),
        float((places <= 3).mean()),
        float((1.0 / places).mean()),
        float(np.mean([one.brier for one in scored])),
        float((base == 1).mean()),
        float((base <= 3).mean()),
        float(np.mean(base_briers)),
        order[0],
        reliability,
        sum(abs(bin_.mean_probability - bin_.right) * bin_.count for bin_ in reliability) / len(scored),
        tuple(_by_cause(scored)),
    )


def _reliability(scored: Sequence[ScoredCase]) -> Iterable[Reliability]:
    for low, high in pairwise(_BINS):
        inside = [
            one for one in scored if low <= one.first_probability < high or (high == 1.0 == one.first_probability)
        ]
        if inside:
            mean = float(np.mean([one.first_probability for one in inside]))
            yield Reliability(low, high, len(inside), mean, float(np.mean([one.place == 1 for one in inside])))


def _by_cause(scored: Sequence[ScoredCase]) -> Iterable[CauseScore]:
    for cause in sorted({one.confirmed for one in scored}):
        mine = [one.place for one in scored if one.confirmed == cause]
        yield CauseScore(cause, len(mine), sum(p == 1 for p in mine), sum(p <= 3 for p in mine))
