"""How good is the ranking, measured on cases whose cause was confirmed.

Reported beside the plainest baseline there is: always guess the most common cause, with the base rates as
probabilities. The outcome of a case is read only to score, never to rank. Intervals are percentile bootstraps over
cases (Efron and Tibshirani 1993, "An Introduction to the Bootstrap", chapter 13, from memory), those of a single cause
Wilson's (1927), because one case out of one is no certainty.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vibdiag.advice.assess import Adviser
from vibdiag.advice.halves import HALVES, Half, half_of
from vibdiag.case.model import Case

__all__ = ["CauseScore", "Figures", "Interval", "Reliability", "Score", "ScoredCase", "score_cases", "wilson"]

Array = NDArray[np.float64]

_BINS = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)
_DRAWS = 2000
_SEED = 0
# 95 % of a standard normal lie within so many deviations.
_Z = 1.959964


@dataclass(frozen=True)
class Interval:
    """95 % interval."""

    low: float
    high: float


@dataclass(frozen=True)
class ScoredCase:
    """`place`: where the confirmed cause came, from 1; `brier`: sum over causes of (p - truth)^2, 0 to 2.

    `half`: None where the case names no source. `undecided`: the ranking was shown with "cannot tell yet".
    """

    case: str
    half: Half | None
    confirmed: str
    place: int
    probability: float
    first: str
    first_probability: float
    brier: float
    undecided: bool


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
    """`first_interval` and `first_three_interval`: Wilson's, of the shares."""

    cause: str
    cases: int
    first: int
    first_three: int
    first_interval: Interval
    first_three_interval: Interval


@dataclass(frozen=True)
class Figures:
    """Shares of the cases, 0 to 1, with bootstrap intervals. `undecided`: how often "cannot tell yet" was said;
    `calibration_error_by_chance`: what so few cases would show of it though every probability were true.
    `right_decided` and `right_undecided`: how often the first cause was right without it and with it, None where that
    never was."""

    count: int
    first: float
    first_interval: Interval
    first_three: float
    first_three_interval: Interval
    mean_reciprocal_rank: float
    brier: float
    brier_interval: Interval
    calibration_error: float
    calibration_error_interval: Interval
    calibration_error_by_chance: float
    undecided: float
    right_decided: float | None
    right_undecided: float | None


@dataclass(frozen=True)
class Score:
    """`baseline_*`: the same figures for always guessing the base rates. `halves`: the half that may be studied, and
    the one that is only scored; a half without cases is left out."""

    cases: tuple[ScoredCase, ...]
    whole: Figures
    halves: dict[Half, Figures]
    baseline_first: float
    baseline_first_three: float
    baseline_brier: float
    baseline_cause: str
    reliability: tuple[Reliability, ...]
    by_cause: tuple[CauseScore, ...]


def wilson(right: int, count: int) -> Interval:
    """Wilson's 95 % interval of a share; `count` above zero.

    >>> interval = wilson(8, 10)
    >>> round(interval.low, 2), round(interval.high, 2)
    (0.49, 0.94)
    """
    share, z2 = right / count, _Z**2
    middle = (share + z2 / (2 * count)) / (1 + z2 / count)
    reach = _Z / (1 + z2 / count) * math.sqrt(share * (1 - share) / count + z2 / (4 * count**2))
    return Interval(max(0.0, middle - reach), min(1.0, middle + reach))


def _brier(probabilities: Sequence[tuple[str, float]], truth: str) -> float:
    return sum((p - (cause == truth)) ** 2 for cause, p in probabilities)


def score_cases(cases: Iterable[Case], adviser: Adviser) -> Score:
    """Score every case that has a confirmed cause; raises ValueError when none has."""
    base_rates = list(adviser.base.model.believe(()).by_cause().items())
    order = [cause for cause, _ in base_rates]
    scored: list[ScoredCase] = []
    for case in cases:
        if case.outcome is None:
            continue
        truth = case.outcome.confirmed_cause
        _, belief = adviser.believe(case.model_copy(update={"outcome": None}))
        ranked = list(belief.by_cause().items())
        scored.append(
            ScoredCase(
                case.id,
                half_of(case.source) if case.source else None,
                truth,
                [cause for cause, _ in ranked].index(truth) + 1,
                dict(ranked)[truth],
                *ranked[0],
                _brier(ranked, truth),
                adviser.undecided(belief),
            )
        )
    if not scored:
        raise ValueError("no case has a confirmed cause")
    base_places = np.array([order.index(one.confirmed) + 1 for one in scored])
    by_half = {half: [one for one in scored if one.half == half] for half in HALVES}
    return Score(
        tuple(scored),
        _figures(scored),
        {half: _figures(found) for half, found in by_half.items() if found},
        float((base_places == 1).mean()),
        float((base_places <= 3).mean()),
        float(np.mean([_brier(base_rates, one.confirmed) for one in scored])),
        order[0],
        tuple(_reliability(scored)),
        tuple(_by_cause(scored)),
    )


def _figures(scored: Sequence[ScoredCase]) -> Figures:
    places = np.array([one.place for one in scored])
    briers = np.array([one.brier for one in scored])
    chances = np.array([one.first_probability for one in scored])
    undecided = np.array([one.undecided for one in scored])
    right = (places == 1).astype(np.float64)
    three = (places <= 3).astype(np.float64)
    drawn = np.random.default_rng(_SEED).integers(len(scored), size=(_DRAWS, len(scored)))
    return Figures(
        len(scored),
        float(right.mean()),
        _middle(right[drawn].mean(axis=1)),
        float(three.mean()),
        _middle(three[drawn].mean(axis=1)),
        float((1.0 / places).mean()),
        float(briers.mean()),
        _middle(briers[drawn].mean(axis=1)),
        _calibration_error(chances, right),
        _middle(np.array([_calibration_error(chances[row], right[row]) for row in drawn])),
        _by_chance(chances),
        float(undecided.mean()),
        float(right[~undecided].mean()) if not undecided.all() else None,
        float(right[undecided].mean()) if undecided.any() else None,
    )


def _by_chance(chances: Array) -> float:
    """Mean calibration error when each first cause is right exactly as often as its probability says."""
    random = np.random.default_rng(_SEED)
    rolled = random.random((_DRAWS, len(chances))) < chances
    return float(np.mean([_calibration_error(chances, row.astype(np.float64)) for row in rolled]))


def _middle(drawn: Array) -> Interval:
    low, high = np.quantile(drawn, [0.025, 0.975])
    return Interval(float(low), float(high))


def _bin_of(chances: Array) -> NDArray[np.intp]:
    """Which bin each probability falls into; the last bin has its upper edge."""
    return np.clip(np.searchsorted(_BINS, chances, side="right") - 1, 0, len(_BINS) - 2)


def _calibration_error(chances: Array, right: Array) -> float:
    """Mean gap of probability and frequency over the bins, weighted by count."""
    gaps = np.bincount(_bin_of(chances), weights=chances - right, minlength=len(_BINS) - 1)
    return float(np.abs(gaps).sum() / len(chances))


def _reliability(scored: Sequence[ScoredCase]) -> Iterable[Reliability]:
    places = _bin_of(np.array([one.first_probability for one in scored]))
    for number, (low, high) in enumerate(pairwise(_BINS)):
        inside = [one for one, place in zip(scored, places, strict=True) if place == number]
        if inside:
            mean = float(np.mean([one.first_probability for one in inside]))
            yield Reliability(low, high, len(inside), mean, float(np.mean([one.place == 1 for one in inside])))


def _by_cause(scored: Sequence[ScoredCase]) -> Iterable[CauseScore]:
    for cause in sorted({one.confirmed for one in scored}):
        mine = [one.place for one in scored if one.confirmed == cause]
        first, three = sum(p == 1 for p in mine), sum(p <= 3 for p in mine)
        yield CauseScore(cause, len(mine), first, three, wilson(first, len(mine)), wilson(three, len(mine)))
