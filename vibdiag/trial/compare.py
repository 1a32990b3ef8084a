"""The shops side by side on the same cars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibdiag.advice.score import Interval
from vibdiag.knowledge.base import RuleBase
from vibdiag.trial.bench import Bench, Visit
from vibdiag.trial.cars import Car
from vibdiag.trial.shops import Shop

__all__ = ["UNSOLVED_MINUTES", "Result", "compare"]

Array = NDArray[np.float64]

# What a car that leaves unsolved costs beside the time spent on it: it comes back, or goes elsewhere (a day's work).
UNSOLVED_MINUTES = 480.0
_DRAWS = 2000


@dataclass(frozen=True)
class Result:
    """Of one shop: mean minutes a car with those of unsolved cars, wrong repairs a car, share unsolved; and the ratio
    of its minutes to the first shop's, with a bootstrap interval over cars."""

    shop: str
    cars: int
    minutes: float
    minutes_interval: Interval
    median_minutes: float
    steps: float
    wrong: float
    wrong_interval: Interval
    unsolved: float
    ratio: float
    ratio_interval: Interval


def compare(cars: Sequence[Car], shops: Mapping[str, Sequence[Shop] | Shop], base: RuleBase) -> tuple[Result, ...]:
    """Every shop on every car, in the order of `shops`; a shop may be given once for all cars or once for each.

    Raises ValueError without cars or shops.
    """
    if not cars or not shops:
        raise ValueError("nothing to compare: no cars or no shops")
    visits: dict[str, list[Visit]] = {}
    for name, given in shops.items():
        each = [given] * len(cars) if callable(given) else given
        visits[name] = [shop(Bench(car, base)) for car, shop in zip(cars, each, strict=True)]
    drawn = np.random.default_rng(0).integers(len(cars), size=(_DRAWS, len(cars)))
    costs = {name: np.array([_cost(visit) for visit in found]) for name, found in visits.items()}
    first = next(iter(costs.values()))
    return tuple(_result(name, found, costs[name], first, drawn) for name, found in visits.items())


def _cost(visit: Visit) -> float:
    return visit.minutes + (0.0 if visit.solved else UNSOLVED_MINUTES)


def _result(name: str, visits: Sequence[Visit], costs: Array, first: Array, drawn: NDArray[np.int64]) -> Result:
    wrong = np.array([float(visit.wrong) for visit in visits])
    means = costs[drawn].mean(axis=1)
    return Result(
        name,
        len(visits),
        float(costs.mean()),
        _middle(means),
        float(np.median(costs)),
        float(np.mean([visit.steps for visit in visits])),
        float(wrong.mean()),
        _middle(wrong[drawn].mean(axis=1)),
        float(np.mean([not visit.solved for visit in visits])),
        float(costs.mean() / first.mean()),
        _middle(means / first[drawn].mean(axis=1)),
    )


def _middle(drawn: Array) -> Interval:
    low, high = np.quantile(drawn, [0.025, 0.975])
    return Interval(float(low), float(high))
