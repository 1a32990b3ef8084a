"""Weights of evidence equal odds ratios worked out by leaving one piece of evidence out and ranking again."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.reasoning.belief import Belief, BeliefModel, Evidence, Hypothesis, SignTable
from vibdiag.reasoning.weight import decibans, weights_for

Models = Callable[[int], BeliefModel]
Evidences = Callable[[BeliefModel, int], list[Evidence]]
seeds = st.integers(min_value=0, max_value=2**32 - 1)


def odds(belief: Belief, cause: str) -> float:
    at_work = zip(belief.model.hypotheses, belief.posterior, strict=True)
    inside = outside = 0.0
    for hypothesis, probability in at_work:
        if cause in hypothesis.causes:
            inside += probability
        else:
            outside += probability
    return inside / outside


def left_out(belief: Belief, sign: str) -> Belief:
    others = [item for item in belief.evidence if item.sign != sign]
    return belief.model.believe(others, excluded=belief.excluded)


@given(seed=seeds)
def test_a_weight_is_the_odds_with_over_the_odds_without(
    random_model: Models, random_evidence: Evidences, seed: int
) -> None:
    model = random_model(seed)
    belief = model.believe(random_evidence(model, seed))
    for cause in model.causes:
        weights = weights_for(belief, cause)
        assert {weight.evidence for weight in weights} == set(belief.evidence)
        for weight in weights:
            factor = odds(belief, cause) / odds(left_out(belief, weight.evidence.sign), cause)
            assert weight.decibans == pytest.approx(10.0 * math.log10(factor), abs=1e-7)
        assert [weight.decibans for weight in weights] == sorted((w.decibans for w in weights), reverse=True)


def test_the_same_holds_in_the_shipped_rule_base(adviser: Adviser) -> None:
    model = adviser.base.model
    random = Random(20)
    for _ in range(10):
        tables = random.sample(sorted(model.tables), 12)
        evidence = [Evidence(sign, random.choice(model.tables[sign].words), 0.9) for sign in tables]
        belief = model.believe(evidence, excluded=random.sample(model.causes, 2))
        for cause in random.sample(model.causes, 5):
            for weight in weights_for(belief, cause):
                factor = odds(belief, cause) / odds(left_out(belief, weight.evidence.sign), cause)
                assert weight.decibans == pytest.approx(10.0 * math.log10(factor), abs=1e-6)


TWO = (Hypothesis("a", None), Hypothesis("b", None))


def two_way(*likelihoods: tuple[float, float], prior: float = 0.2) -> Belief:
    """Two causes and yes-or-no signs, all of them found `yes`; (P(yes | a), P(yes | b)) for each."""
    tables = {
        f"sign-{number}": SignTable(
            f"sign-{number}", ("yes", "no"), np.array([0.5, 0.5]), np.array([[a, 1.0 - a], [b, 1.0 - b]])
        )
        for number, (a, b) in enumerate(likelihoods)
    }
    return BeliefModel(TWO, np.array([prior, 1.0 - prior]), tables).believe([Evidence(sign, "yes") for sign in tables])


@given(
    likelihoods=st.lists(st.tuples(st.floats(0.01, 0.99), st.floats(0.01, 0.99)), min_size=1, max_size=6),
    prior=st.floats(0.01, 0.99),
)
def test_between_two_causes_a_weight_is_the_likelihood_ratio_whatever_else_is_known(
    likelihoods: list[tuple[float, float]], prior: float
) -> None:
    """I. J. Good's weight of evidence, 10 log10 P(e | h) / P(e | not h); they add up to the change of the odds."""
    belief = two_way(*likelihoods, prior=prior)
    by_sign = {weight.evidence.sign: weight.decibans for weight in weights_for(belief, "a")}
    for number, (a, b) in enumerate(likelihoods):
        assert by_sign[f"sign-{number}"] == pytest.approx(10.0 * math.log10(a / b), abs=1e-6)
    change = 10.0 * (math.log10(odds(belief, "a")) - math.log10(prior / (1.0 - prior)))
    assert sum(by_sign.values()) == pytest.approx(change, abs=1e-6)
    against = {weight.evidence.sign: weight.decibans for weight in weights_for(belief, "b")}
    assert against == pytest.approx({sign: -value for sign, value in by_sign.items()}, abs=1e-6)


def test_what_all_causes_share_weighs_nothing() -> None:
    (weight,) = weights_for(two_way((0.3, 0.3)), "a")
    assert weight.decibans == pytest.approx(0.0, abs=1e-12)


@given(seed=seeds, order=st.randoms(use_true_random=False))
def test_weights_do_not_depend_on_the_order_of_the_answers(
    random_model: Models, random_evidence: Evidences, seed: int, order: Random
) -> None:
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    shuffled = list(evidence)
    order.shuffle(shuffled)
    cause = model.causes[0]
    assert weights_for(model.believe(shuffled), cause) == weights_for(model.believe(evidence), cause)


def test_an_excluded_cause_and_an_empty_case_have_no_reasons(random_model: Models) -> None:
    model = random_model(3)
    cause = model.causes[0]
    assert weights_for(model.believe([]), cause) == ()
    assert weights_for(model.believe([Evidence("sign-0", "word-0")], excluded=[cause]), cause) == ()


def test_a_cause_that_is_all_but_certain_keeps_its_reasons_the_right_way_round() -> None:
    """Hundreds of strong signs leave nothing of the other cause in double precision; they still speak for this one."""
    belief = two_way(*[(0.999, 0.001)] * 200)
    assert belief.of_cause("b") < 1e-300
    assert all(weight.decibans > 25.0 for weight in weights_for(belief, "a"))
    assert all(weight.decibans < -25.0 for weight in weights_for(belief, "b"))


def test_where_nothing_else_is_possible_nothing_is_weighed() -> None:
    belief = two_way((0.9, 0.1))
    alone = belief.model.believe(belief.evidence, excluded=["b"])
    assert [weight.decibans for weight in weights_for(alone, "a")] == [0.0]


def test_decibans() -> None:
    assert decibans(1.0) == 0.0
    assert decibans(100.0) == pytest.approx(20.0)
    assert decibans(0.1) == pytest.approx(-10.0)
    assert decibans(1e300) == 60.0
    assert decibans(1e-300) == decibans(0.0) == -60.0
