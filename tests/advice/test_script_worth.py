"""The script's fast measure of what a question tells, against the plain one of the next step."""

from __future__ import annotations

import numpy as np
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.script import _worth
from vibdiag.reasoning.belief import Evidence
from vibdiag.reasoning.inquiry import gain_of


@pytest.mark.parametrize("known", [[], [Evidence("felt-most", "steering-wheel", 0.9), Evidence("growth", "sudden")]])
def test_it_is_the_mean_gain_over_the_drawn_complaints(adviser: Adviser, known: list[Evidence]) -> None:
    model = adviser.base.model
    beliefs = [model.believe(known), model.believe([*known, Evidence("rhythm", "steady")])]
    stacked = np.vstack([belief.posterior for belief in beliefs])
    for sign in ("braking", "speed-pattern", "turning", "wheels-were-off"):
        plain = np.mean([gain_of(belief, sign).worth(0.35) for belief in beliefs])
        assert _worth(stacked, model.tables[sign], model.partition, 0.35) == pytest.approx(plain, abs=1e-9)
