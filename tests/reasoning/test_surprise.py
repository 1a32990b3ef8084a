"""Surprise is about standard normal for cases the tables themselves would produce, and speaks up for absurd ones."""

from __future__ import annotations

import math

import numpy as np
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.reasoning.belief import BeliefModel, Evidence, Hypothesis, SignTable
from vibdiag.reasoning.surprise import surprise_of


def drawn_case(model: BeliefModel, random: np.random.Generator, *, signs: int) -> tuple[Hypothesis, list[Evidence]]:
    """A case as the tables say cases are: a cause from the prior, then reports through the channel of trust."""
    truth = int(random.choice(len(model.hypotheses), p=model.prior))
    evidence = []
    for sign in random.choice(sorted(model.tables), size=signs, replace=False):
        table = model.tables[str(sign)]
        trust = float(random.choice([0.55, 0.95, 0.98]))
        chances = table.rows[truth] if random.random() < trust else table.background
        evidence.append(Evidence(table.sign, str(random.choice(table.words, p=chances)), trust))
    return model.hypotheses[truth], evidence


def only(model: BeliefModel, truth: Hypothesis) -> BeliefModel:
    """The model in which `truth` is the one thing that can be."""
    index = model.hypotheses.index(truth)
    tables = {
        sign: SignTable(sign, table.words, table.background, table.rows[index : index + 1])
        for sign, table in model.tables.items()
    }
    return BeliefModel((Hypothesis(" and ".join(truth.causes), truth.axle),), np.array([1.0]), tables)


def test_score_is_standard_normal_under_the_right_cause(adviser: Adviser) -> None:
    """Mean 0 and spread 1 are exact there, but for chance (2,000 draws: 0.02 and some skew)."""
    model = adviser.base.model
    alone = {truth: only(model, truth) for truth in model.hypotheses}
    random = np.random.default_rng(7)
    scores = []
    for _ in range(2000):
        truth, evidence = drawn_case(model, random, signs=int(random.integers(6, 31)))
        scores.append(surprise_of(alone[truth].believe(evidence)).score)
    assert abs(float(np.mean(scores))) < 0.1
    assert abs(float(np.std(scores)) - 1.0) < 0.1


def test_score_at_the_best_cause_errs_on_the_calm_side(adviser: Adviser) -> None:
    """The best cause fits at least as well as the true one, so scores lie somewhat lower (measured: mean -0.3, spread
    0.85, "nothing fits" in 0.5 %): a case that the tables themselves would produce is hardly ever called unfitting."""
    model = adviser.base.model
    random = np.random.default_rng(8)
    found = []
    for _ in range(2000):
        _, evidence = drawn_case(model, random, signs=int(random.integers(6, 31)))
        found.append(surprise_of(model.believe(evidence)))
    scores = np.array([one.score for one in found])
    assert -0.6 < float(scores.mean()) < 0.1
    assert abs(float(scores.std()) - 1.0) < 0.4
    verdicts = [one.verdict for one in found]
    assert verdicts.count("nothing fits") < 0.02 * len(found)
    assert verdicts.count("odd") < 0.07 * len(found)


def test_absurd_cases_fit_nothing(adviser: Adviser) -> None:
    """For every sign the word that the likeliest cause gives the smallest chance: nothing explains such a case."""
    model = adviser.base.model
    for seed in range(20):
        random = np.random.default_rng(seed)
        signs = random.choice(sorted(model.tables), size=20, replace=False)
        evidence = []
        for sign in signs:
            table = model.tables[str(sign)]
            evidence.append(Evidence(table.sign, table.words[int(table.rows.max(axis=0).argmin())], 0.95))
        found = surprise_of(model.believe(evidence))
        assert found.verdict in ("odd", "nothing fits")
        assert found.bits > found.expected_bits
    everything = [
        Evidence(table.sign, table.words[int(table.rows.max(axis=0).argmin())], 0.95) for table in model.tables.values()
    ]
    assert surprise_of(model.believe(everything)).verdict == "nothing fits"


def coin_model(signs: int, chance: float) -> BeliefModel:
    tables = {
        f"sign-{number}": SignTable(
            f"sign-{number}", ("yes", "no"), np.array([0.5, 0.5]), np.array([[chance, 1.0 - chance]])
        )
        for number in range(signs)
    }
    return BeliefModel((Hypothesis("only", None),), np.array([1.0]), tables)


def test_score_by_hand() -> None:
    """One cause, n independent yes-or-no signs with P(yes) = q, k of them yes: the score is (k - nq) / sqrt(nq(1 - q)),
    the standardised binomial, with the sign turned so that the rarer word surprises."""
    chance, signs, yes = 0.1, 25, 6
    model = coin_model(signs, chance)
    belief = model.believe([Evidence(f"sign-{n}", "yes" if n < yes else "no") for n in range(signs)])
    found = surprise_of(belief)
    assert found.score == pytest.approx((yes - signs * chance) / math.sqrt(signs * chance * (1.0 - chance)))
    assert found.bits == pytest.approx(-yes * math.log2(chance) - (signs - yes) * math.log2(1.0 - chance))
    assert found.expected_bits == pytest.approx(
        signs * (-chance * math.log2(chance) - (1.0 - chance) * math.log2(1.0 - chance))
    )
    assert found.bits == pytest.approx(-belief.log_evidence / math.log(2.0))


@pytest.mark.parametrize(("yes", "verdict"), [(2, "as expected"), (5, "odd"), (8, "nothing fits"), (0, "as expected")])
def test_verdicts(yes: int, verdict: str) -> None:
    """25 signs at one in ten: 2.5 expected with a spread of 1.5, so 5 are 1.7 spreads too many and 8 are 3.7."""
    model = coin_model(25, 0.1)
    found = surprise_of(model.believe([Evidence(f"sign-{n}", "yes" if n < yes else "no") for n in range(25)]))
    assert found.verdict == verdict


def test_nothing_known_is_no_surprise(adviser: Adviser) -> None:
    found = surprise_of(adviser.base.model.believe([]))
    assert (found.bits, found.expected_bits, found.score, found.verdict) == (0.0, 0.0, 0.0, "nothing known")


def test_evidence_that_could_not_be_otherwise_is_no_surprise() -> None:
    found = surprise_of(coin_model(1, 0.5).believe([Evidence("sign-0", "yes")]))
    assert found.score == 0.0
    assert found.verdict == "as expected"
