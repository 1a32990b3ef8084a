"""The gain of a step equals the expected drop of entropy worked out outcome by outcome, for every shipped sign."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.reasoning.belief import Belief, BeliefModel, Evidence, Hypothesis, SignTable, entropy_bits
from vibdiag.reasoning.inquiry import Gain, gain_of, prospects

Models = Callable[[int], BeliefModel]
Evidences = Callable[[BeliefModel, int], list[Evidence]]
seeds = st.integers(min_value=0, max_value=2**32 - 1)


def cause_entropy(belief: Belief) -> float:
    return entropy_bits(np.array(list(belief.by_explanation().values())))


def gain_by_hand(belief: Belief, sign: str) -> Gain:
    """Entropy now minus the sum over outcomes of probability times entropy after, each outcome learnt and ranked."""
    table = belief.model.tables[sign]
    all_bits, cause_bits = belief.entropy_bits(), cause_entropy(belief)
    for index, word in enumerate(table.words):
        chance = sum(float(p) * float(row[index]) for p, row in zip(belief.posterior, table.rows, strict=True))
        after = belief.model.believe([*belief.evidence, Evidence(sign, word)], excluded=belief.excluded)
        all_bits -= chance * after.entropy_bits()
        cause_bits -= chance * cause_entropy(after)
    return Gain(all_bits, cause_bits)


def unknown_signs(belief: Belief) -> list[str]:
    known = {item.sign for item in belief.evidence}
    return [sign for sign in belief.model.tables if sign not in known]


def some_beliefs(model: BeliefModel) -> list[Belief]:
    """The prior; four random cases; a case that is nearly settled."""
    random = Random(4)
    beliefs = [model.believe([])]
    for size in (1, 4, 10, 25):
        signs = random.sample(sorted(model.tables), size)
        evidence = [
            Evidence(sign, random.choice(model.tables[sign].words), random.choice([0.55, 0.95])) for sign in signs
        ]
        beliefs.append(model.believe(evidence, excluded=random.sample(model.causes, 3)))
    fasteners = Evidence("fasteners", "loose", 0.98)
    beliefs.append(model.believe([fasteners, Evidence("wheels-were-off", "yes", 0.95)]))
    return beliefs


def test_gain_of_every_shipped_sign_equals_the_expected_drop_of_entropy(adviser: Adviser) -> None:
    for belief in some_beliefs(adviser.base.model):
        for sign in unknown_signs(belief):
            gain, by_hand = gain_of(belief, sign), gain_by_hand(belief, sign)
            assert gain.all_bits == pytest.approx(by_hand.all_bits, abs=1e-9), sign
            assert gain.cause_bits == pytest.approx(by_hand.cause_bits, abs=1e-9), sign
            assert gain.all_bits >= gain.cause_bits - 1e-12 >= -1e-12, sign


@given(seed=seeds)
def test_gain_equals_the_expected_drop_of_entropy(random_model: Models, random_evidence: Evidences, seed: int) -> None:
    model = random_model(seed)
    belief = model.believe(random_evidence(model, seed))
    for sign in unknown_signs(belief):
        gain, by_hand = gain_of(belief, sign), gain_by_hand(belief, sign)
        assert gain.all_bits == pytest.approx(by_hand.all_bits, abs=1e-9)
        assert gain.cause_bits == pytest.approx(by_hand.cause_bits, abs=1e-9)
        assert 0.0 <= gain.cause_bits <= gain.all_bits + 1e-12
        assert gain.all_bits <= belief.entropy_bits() + 1e-12


@given(seed=seeds)
def test_outcomes_mix_back_to_the_belief_now(random_model: Models, random_evidence: Evidences, seed: int) -> None:
    """The law of total probability."""
    model = random_model(seed)
    belief = model.believe(random_evidence(model, seed))
    for sign in unknown_signs(belief):
        found = prospects(belief, sign)
        assert [prospect.word for prospect in found] == list(model.tables[sign].words)
        assert sum(prospect.probability for prospect in found) == pytest.approx(1.0, abs=1e-12)
        mixed = sum(prospect.probability * prospect.after.posterior for prospect in found)
        assert mixed == pytest.approx(belief.posterior, abs=1e-9)


@given(seed=seeds)
def test_what_was_reported_with_doubt_can_still_be_learnt(
    random_model: Models, random_evidence: Evidences, seed: int
) -> None:
    """The same two laws for a sign already reported: truth is hidden behind the report, and learning it replaces it."""
    model = random_model(seed)
    belief = model.believe(random_evidence(model, seed))
    for item in belief.evidence:
        found = prospects(belief, item.sign)
        assert sum(prospect.probability for prospect in found) == pytest.approx(1.0, abs=1e-12)
        mixed = sum(prospect.probability * prospect.after.posterior for prospect in found)
        assert mixed == pytest.approx(belief.posterior, abs=1e-9)
        drop = belief.entropy_bits() - sum(prospect.probability * prospect.after.entropy_bits() for prospect in found)
        assert gain_of(belief, item.sign).all_bits == pytest.approx(drop, abs=1e-9)
        if item.trust == 1.0:
            assert drop == pytest.approx(0.0, abs=1e-9)
            assert {prospect.word for prospect in found if prospect.probability > 1e-9} == {item.word}


FOUR = tuple(Hypothesis(cause, axle) for cause in ("a", "b") for axle in ("front", "rear"))


def one_sign(rows: list[list[float]]) -> Belief:
    words = tuple(f"word-{number}" for number in range(len(rows[0])))
    table = SignTable("sign", words, np.full(len(words), 1.0 / len(words)), np.array(rows))
    return BeliefModel(FOUR, np.full(4, 0.25), {"sign": table}).believe([])


def test_a_sign_that_all_causes_share_tells_nothing() -> None:
    gain = gain_of(one_sign([[0.3, 0.7]] * 4), "sign")
    assert gain.all_bits == pytest.approx(0.0, abs=1e-12)
    assert gain.cause_bits == pytest.approx(0.0, abs=1e-12)


def test_a_perfect_sign_tells_everything() -> None:
    gain = gain_of(one_sign(np.eye(4).tolist()), "sign")
    assert gain.all_bits == pytest.approx(2.0)
    assert gain.cause_bits == pytest.approx(1.0)


def test_a_sign_of_the_axle_alone_tells_nothing_of_the_cause() -> None:
    gain = gain_of(one_sign([[1.0, 0.0], [0.0, 1.0]] * 2), "sign")
    assert gain.all_bits == pytest.approx(1.0)
    assert gain.cause_bits == pytest.approx(0.0, abs=1e-12)
    assert gain.worth(0.35) == pytest.approx(0.35)


def test_worth_lies_between_cause_alone_and_everything() -> None:
    gain = Gain(0.5, 0.3)
    assert gain.worth(0.0) == pytest.approx(0.3)
    assert gain.worth(0.5) == pytest.approx(0.4)
    assert gain.worth(1.0) == pytest.approx(0.5)
