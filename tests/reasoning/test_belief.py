"""The posterior obeys the laws of probability, and equals the product of tables worked out without logarithms."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.reasoning.belief import BeliefModel, Evidence, Hypothesis, SignTable, entropy_bits

Models = Callable[[int], BeliefModel]
Evidences = Callable[[BeliefModel, int], list[Evidence]]
seeds = st.integers(min_value=0, max_value=2**32 - 1)


def report_chance(table: SignTable, index: int, item: Evidence) -> float:
    """P(report | hypothesis): the truth with probability `trust`, else a word from the background."""
    word = table.words.index(item.word)
    return item.trust * float(table.rows[index, word]) + (1.0 - item.trust) * float(table.background[word])


def joint_by_hand(model: BeliefModel, evidence: list[Evidence]) -> list[float]:
    """P(hypothesis and every report), in plain multiplication."""
    return [
        float(prior) * math.prod(report_chance(model.tables[item.sign], index, item) for item in evidence)
        for index, prior in enumerate(model.prior)
    ]


@given(seed=seeds)
def test_posterior_is_the_normalised_product(random_model: Models, random_evidence: Evidences, seed: int) -> None:
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    joint = joint_by_hand(model, evidence)
    belief = model.believe(evidence)
    assert belief.posterior == pytest.approx([one / sum(joint) for one in joint], abs=1e-12)
    assert belief.log_evidence == pytest.approx(math.log(sum(joint)), abs=1e-9)


@given(seed=seeds)
def test_probabilities_sum_to_one(random_model: Models, random_evidence: Evidences, seed: int) -> None:
    model = random_model(seed)
    belief = model.believe(random_evidence(model, seed))
    assert (belief.posterior >= 0.0).all()
    assert belief.posterior.sum() == pytest.approx(1.0, abs=1e-12)
    by_cause = belief.by_cause()
    assert set(by_cause) == {hypothesis.cause for hypothesis in model.hypotheses}
    assert sum(by_cause.values()) == pytest.approx(1.0, abs=1e-12)
    by_explanation = belief.by_explanation()
    assert sum(by_explanation.values()) == pytest.approx(1.0, abs=1e-12)
    assert list(by_cause.values()) == sorted(by_cause.values(), reverse=True)
    for cause, probability in by_cause.items():
        at_work = {causes: chance for causes, chance in by_explanation.items() if cause in causes}
        assert belief.of_cause(cause) == pytest.approx(sum(at_work.values()), abs=1e-12)
        shares = [chance / len(causes) for causes, chance in at_work.items()]
        assert probability == pytest.approx(sum(shares), abs=1e-12)
        axles = belief.of_axle(cause)
        assert not axles or sum(axles.values()) == pytest.approx(probability, abs=1e-12)


@given(seed=seeds, order=st.randoms(use_true_random=False))
def test_order_of_evidence_does_not_matter(
    random_model: Models, random_evidence: Evidences, seed: int, order: Random
) -> None:
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    shuffled = list(evidence)
    order.shuffle(shuffled)
    assert model.believe(shuffled).posterior.tolist() == model.believe(evidence).posterior.tolist()


@given(seed=seeds)
def test_learning_one_by_one_equals_learning_at_once(
    random_model: Models, random_evidence: Evidences, seed: int
) -> None:
    """Yesterday's posterior is today's prior."""
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    prior = model.prior
    for item in evidence:
        prior = BeliefModel(model.hypotheses, prior, model.tables).believe([item]).posterior
    assert prior == pytest.approx(model.believe(evidence).posterior, abs=1e-12)


@given(seed=seeds)
def test_an_unknown_sign_changes_nothing(random_model: Models, random_evidence: Evidences, seed: int) -> None:
    """Neither by being in the model and unanswered, nor on average over all that it could turn out to be."""
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    belief = model.believe(evidence)
    known = {item.sign for item in evidence}
    without = BeliefModel(model.hypotheses, model.prior, {sign: model.tables[sign] for sign in known})
    assert without.believe(evidence).posterior.tolist() == belief.posterior.tolist()
    for table in model.tables.values():
        if table.sign not in known:
            after = [belief.with_more([Evidence(table.sign, word)]) for word in table.words]
            weights = np.exp([one.log_evidence - belief.log_evidence for one in after])
            assert weights.sum() == pytest.approx(1.0, abs=1e-9)
            mixed = sum(weight * one.posterior for weight, one in zip(weights, after, strict=True))
            assert mixed == pytest.approx(belief.posterior, abs=1e-9)


@given(seed=seeds)
def test_a_report_without_trust_adds_nothing(random_model: Models, seed: int) -> None:
    """In the limit; and trust moves the odds of any two hypotheses one way only."""
    model = random_model(seed)
    table = next(iter(model.tables.values()))
    for word in table.words:
        assert model.believe([Evidence(table.sign, word, 1e-10)]).posterior == pytest.approx(model.prior, abs=1e-8)
        reports = [table.column(word, trust=trust) for trust in (1e-10, 0.25, 0.5, 0.75, 1.0)]
        ratios = np.array([column[0] / column[1] for column in reports])
        steps = np.diff(ratios)
        assert (steps >= -1e-12).all() or (steps <= 1e-12).all()
        assert ratios[0] == pytest.approx(1.0, abs=1e-7)


@given(seed=seeds, share=st.floats(0.0, 0.9), trust=st.floats(0.05, 1.0))
def test_a_wrong_report_may_favour_its_own_word(random_model: Models, seed: int, share: float, trust: float) -> None:
    """The noise is still a distribution, it only weakens what the word says, and never turns it round."""
    model = random_model(seed)
    table = next(iter(model.tables.values()))
    for index, word in enumerate(table.words):
        noise = table.noise(word, share)
        assert noise.sum() == pytest.approx(1.0)
        assert noise[index] == pytest.approx(max(share, table.background[index]))
        plain = Evidence(table.sign, word, trust).column(table)
        doubted = Evidence(table.sign, word, trust, share).column(table)
        assert (doubted >= plain - 1e-12).all()
        strong, weak = np.log(plain / plain.min()), np.log(doubted / doubted.min())
        assert (weak <= strong + 1e-9).all()
        assert (np.argsort(plain, kind="stable") == np.argsort(doubted, kind="stable")).all()


def test_a_word_drawn_from_the_background_says_nothing_for_a_cause_that_is_silent() -> None:
    """The channel's noise is the background, so where a table says the background no trust can matter."""
    background = np.array([0.2, 0.8])
    model = BeliefModel(
        (Hypothesis("a", None), Hypothesis("b", None)),
        np.array([0.3, 0.7]),
        {"sign": SignTable("sign", ("yes", "no"), background, np.tile(background, (2, 1)))},
    )
    for trust in (0.1, 0.55, 1.0):
        assert model.believe([Evidence("sign", "yes", trust)]).posterior == pytest.approx([0.3, 0.7], abs=1e-15)


@given(seed=seeds)
def test_an_excluded_cause_is_impossible_and_the_others_keep_their_odds(
    random_model: Models, random_evidence: Evidences, seed: int
) -> None:
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    banned = model.causes[seed % len(model.causes)]
    free, barred = model.believe(evidence), model.believe(evidence, excluded=[banned])
    out = model.members(banned)
    assert barred.posterior[out].tolist() == [0.0] * int(out.sum())
    assert barred.of_cause(banned) == 0.0
    assert barred.posterior[~out] == pytest.approx(free.posterior[~out] / free.posterior[~out].sum(), abs=1e-9)
    unanswered = [table for table in model.tables.values() if table.sign not in {item.sign for item in evidence}]
    for table in unanswered:
        assert barred.with_more([Evidence(table.sign, table.words[0])]).of_cause(banned) == 0.0


@given(seed=seeds)
def test_newer_evidence_on_a_sign_replaces_the_older(
    random_model: Models, random_evidence: Evidences, seed: int
) -> None:
    model = random_model(seed)
    evidence = random_evidence(model, seed)
    table = next(iter(model.tables.values()))
    first, last = Evidence(table.sign, table.words[0]), Evidence(table.sign, table.words[-1], 0.7)
    others = [item for item in evidence if item.sign != table.sign]
    twice = model.believe(others).with_more([first]).with_more([last])
    assert twice.posterior.tolist() == model.believe([*others, last]).posterior.tolist()


@pytest.mark.parametrize("signs", [300, 3000])
def test_very_much_evidence_does_not_underflow(signs: int) -> None:
    """The plain product would be below the smallest float; two causes that share every word keep their prior odds."""
    row = np.array([0.001, 0.999])
    tables = {
        f"sign-{number}": SignTable(f"sign-{number}", ("rare", "usual"), np.array([0.5, 0.5]), np.tile(row, (2, 1)))
        for number in range(signs)
    }
    model = BeliefModel((Hypothesis("a", None), Hypothesis("b", None)), np.array([0.25, 0.75]), tables)
    belief = model.believe([Evidence(sign, "rare") for sign in tables])
    assert belief.posterior == pytest.approx([0.25, 0.75], abs=1e-12)
    assert belief.log_evidence == pytest.approx(signs * math.log(0.001), rel=1e-12)


def test_unknown_names_and_nothing_left_are_refused(random_model: Models) -> None:
    model = random_model(1)
    with pytest.raises(KeyError, match="no-such-sign"):
        model.believe([Evidence("no-such-sign", "yes")])
    with pytest.raises(ValueError, match="not in"):
        model.believe([Evidence("sign-0", "no-such-word")])
    with pytest.raises(ValueError, match="every cause is excluded"):
        model.believe([], excluded=model.causes)


def test_entropy_of_known_distributions() -> None:
    assert entropy_bits(np.array([1.0, 0.0])) == 0.0
    assert entropy_bits(np.full(8, 1 / 8)) == pytest.approx(3.0)
    # From memory, as in any table of the binary entropy: a coin with heads one time in ten has 0.469 bits.
    assert entropy_bits(np.array([0.1, 0.9])) == pytest.approx(0.468996, abs=1e-6)
