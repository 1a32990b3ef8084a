"""Cars drawn from confirmed cases: what was told is there, the rest is drawn from the confirmed cause."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.reasoning.belief import Evidence
from vibdiag.trial.cars import Car, car_like

__all__ = ["cars_of_cases"]


def cars_of_cases(
    adviser: Adviser, cases: Iterable[Case], random: np.random.Generator
) -> list[tuple[Car, tuple[Evidence, ...]]]:
    """For each case with a confirmed cause of the rule base, a car and what was told of it.

    Both causes are in the car where a second was confirmed with the first and the rule base has the pair.
    """
    found = []
    for case in cases:
        if case.outcome is None or case.outcome.confirmed_cause == "not-in-rule-base":
            continue
        told = adviser.believe(case.model_copy(update={"outcome": None}))[0].evidence
        second = case.outcome.secondary_cause
        both = [case.outcome.confirmed_cause] + ([second] if second is not None else [])
        car = car_like(adviser.base, told, both, random) or car_like(adviser.base, told, both[:1], random)
        if car is not None:
            found.append((car, told))
    return found
