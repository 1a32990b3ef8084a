"""How long the desk asks: counted by hand on one driver, and short enough on drawn ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.storage import load_folder
from vibdiag.trial.cars import Car
from vibdiag.trial.cars_of_cases import cars_of_cases
from vibdiag.trial.interviews import MOST_ASKED, interview, lengths

REAL = Path(__file__).parents[1] / "real_cases"


def test_who_knows_nothing_is_asked_much_and_changes_nothing(adviser: Adviser) -> None:
    """Every answer is "don't know", so the first three are those of the base rates from the start."""
    base = adviser.base
    silent = Car(frozenset({"residual-imbalance"}), dict.fromkeys(base.steps), {})
    found = interview(silent, base)
    assert found.until_stable == 0
    assert 0 < found.asked <= MOST_ASKED
    assert found.truth_in_three == ("residual-imbalance" in list(base.model.believe(()).by_cause())[:3])


def test_the_first_three_stand_after_twelve_questions_in_the_middle(adviser: Adviser) -> None:
    """Six minutes at half a minute a question (common practice at a service desk), over the real complaints."""
    cases = [case for _, case in load_folder(REAL)]
    cars = [car for car, _ in cars_of_cases(adviser, cases, np.random.default_rng(1))]
    assert len(cars) > 200
    found = lengths(cars, adviser.base)
    assert found.interviews == len(cars)
    assert found.lower_quartile <= found.median <= found.upper_quartile
    assert found.median <= 12
    assert found.truth_in_three >= 0.75
    with pytest.raises(ValueError, match="nobody to interview"):
        lengths([], adviser.base)
