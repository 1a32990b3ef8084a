"""The score of a rule base of five causes and one sign, worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from textwrap import dedent

import numpy as np
import pytest
from scipy.stats import binomtest, bootstrap

from vibdiag.advice.assess import Adviser
from vibdiag.advice.halves import half_of
from vibdiag.advice.score import Score, score_cases, wilson
from vibdiag.case.model import Case

CaseOf = Callable[..., Case]

# Base rate of each cause and its chance that the car pulls; the sign is trusted fully, so that fractions stay small.
BASE = {"residual-imbalance": 40, "aerodynamic": 30, "alignment-fault": 20, "brake-drag": 6, "final-drive": 4}
PULLS = {
    "residual-imbalance": Fraction(1, 10),
    "aerodynamic": Fraction(1, 10),
    "alignment-fault": Fraction(8, 10),
    "brake-drag": Fraction(6, 10),
    "final-drive": Fraction(1, 10),
}


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Adviser:
    """Invented numbers, for the arithmetic of the score alone."""
    folder = tmp_path_factory.mktemp("rules")
    for name in ("causes", "derive", "steps"):
        (folder / name).mkdir()
    write(
        folder / "settings.yaml",
        """
        trust: {measured: 1.0, looked: 1.0, looked_clean: 1.0, told: 1.0, told_clean: 1.0, complaint: 1.0}
        named_wrongly: 0.0
        repair_above: 0.8
        tell_above: 0.45
        least_gain_bits: 0.0
        axle_worth: 0.5
        prior_strength: 50
        """,
    )
    write(
        folder / "signs.yaml",
        """
        signs:
          - {id: pull, name: a pull, words: [yes, no], background: {yes: 0.1, no: 0.9}, source: invented for a test}
        """,
    )
    for cause, rate in BASE.items():
        chance = float(PULLS[cause])
        write(
            folder / "causes" / f"{cause}.yaml",
            f"""
            id: {cause}
            name: {cause}
            short: {cause}
            definition: invented for a test
            where: car
            base_rate: {rate}
            base_rate_source: invented for a test
            repair: {{does: mend it, minutes: 10, proof: it is gone, caution: take care}}
            tables:
              - {{sign: pull, any: {{yes: {chance}, no: {1 - chance:.1f}}}, source: invented for a test}}
            """,
        )
    write(
        folder / "derive" / "pull.yaml",
        """
        rules:
          - id: told-pull
            when: [pulls is yes]
            then: pull is yes
            because: it was told
            source: invented for a test
            fires: {pulls: yes}
            silent: {pulls: no}
          - id: told-no-pull
            when: [pulls is no]
            then: pull is no
            because: it was told
            source: invented for a test
            fires: {pulls: no}
            silent: {pulls: yes}
        """,
    )
    write(
        folder / "steps" / "ask.yaml",
        """
        steps:
          - id: ask-pull
            kind: question
            sign: pull
            title: Does it pull?
            minutes: 1
            who: [desk]
            answered: 1.0
            ask: Does it pull?
            technician: Does it pull?
            why: to know
            outcomes: {yes: {says: it does}, no: {says: it does not}}
            source: invented for a test
        """,
    )
    return Adviser.shipped(folder)


def write(path: Path, text: str) -> None:
    path.write_text(dedent(text), encoding="utf-8")


def by_hand(pull: str | None) -> dict[str, Fraction]:
    """Bayes' rule in fractions."""
    weights = {
        cause: rate * (1 if pull is None else PULLS[cause] if pull == "yes" else 1 - PULLS[cause])
        for cause, rate in BASE.items()
    }
    total = sum(weights.values())
    return {cause: Fraction(weight) / total for cause, weight in weights.items()}


# What was told, what it was, and the place the truth takes in the ranking.
CASES: list[tuple[str | None, str, int]] = [
    ("yes", "alignment-fault", 1),  # 16 of 27, before imbalance 4, drag 3.6, wind 3, final drive 0.4
    ("yes", "aerodynamic", 4),
    ("no", "residual-imbalance", 1),  # 36 of 73, before wind 27, alignment 4, final drive 3.6, drag 2.4
    ("no", "brake-drag", 5),
    (None, "aerodynamic", 2),
    (None, "alignment-fault", 3),
]


@pytest.fixture(scope="module")
def score(small: Adviser, case_of: CaseOf) -> Score:
    cases = [
        case_of(complaint={} if pull is None else {"pull": pull}, outcome={"confirmed_cause": truth})
        for pull, truth, _ in CASES
    ]
    return score_cases([*cases, case_of(complaint={"pull": "yes"})], small)


def brier_by_hand(probabilities: dict[str, Fraction], truth: str) -> Fraction:
    return sum(((p - (cause == truth)) ** 2 for cause, p in probabilities.items()), Fraction(0))


def test_every_case_with_a_confirmed_cause_is_scored(score: Score) -> None:
    assert [one.place for one in score.cases] == [place for _, _, place in CASES]
    for one, (pull, truth, _) in zip(score.cases, CASES, strict=True):
        expected = by_hand(pull)
        assert one.confirmed == truth
        assert one.probability == pytest.approx(float(expected[truth]))
        assert one.first == max(expected, key=lambda cause: expected[cause])
        assert one.first_probability == pytest.approx(float(max(expected.values())))
        assert one.brier == pytest.approx(float(brier_by_hand(expected, truth)))


def test_the_figures(score: Score) -> None:
    assert score.whole.count == 6
    assert score.whole.first == pytest.approx(2 / 6)
    assert score.whole.first_three == pytest.approx(4 / 6)
    assert score.whole.mean_reciprocal_rank == pytest.approx((1 + 1 / 4 + 1 + 1 / 5 + 1 / 2 + 1 / 3) / 6)
    briers = [brier_by_hand(by_hand(pull), truth) for pull, truth, _ in CASES]
    assert score.whole.brier == pytest.approx(float(sum(briers) / 6))


def test_the_baseline_always_guesses_the_base_rates(score: Score) -> None:
    """Places by base rate: alignment 3, wind 2, imbalance 1, drag 4, wind 2, alignment 3."""
    assert score.baseline_cause == "residual-imbalance"
    assert score.baseline_first == pytest.approx(1 / 6)
    assert score.baseline_first_three == pytest.approx(5 / 6)
    briers = [brier_by_hand(by_hand(None), truth) for _, truth, _ in CASES]
    assert score.baseline_brier == pytest.approx(float(sum(briers) / 6))


def test_calibration_error_is_the_mean_gap_weighted_by_count(score: Score) -> None:
    """First causes have 16/27 = 0.593 (two cases, one right), 36/73 = 0.493 (two, one right) and 0.4 (two, none
    right): in the bin 0.25 to 0.5 a mean of 0.447 against 1/4, in 0.5 to 0.75 one of 0.593 against 1/2."""
    assert [(bin_.low, bin_.high, bin_.count, bin_.right) for bin_ in score.reliability] == [
        (0.25, 0.5, 4, 0.25),
        (0.5, 0.75, 2, 0.5),
    ]
    sure, unsure = 16 / 27, (36 / 73 + 0.4) / 2
    assert [bin_.mean_probability for bin_ in score.reliability] == pytest.approx([unsure, sure])
    assert score.whole.calibration_error == pytest.approx((4 * (unsure - 0.25) + 2 * (sure - 0.5)) / 6)


def test_by_cause(score: Score) -> None:
    assert {(one.cause, one.cases, one.first, one.first_three) for one in score.by_cause} == {
        ("aerodynamic", 2, 0, 1),
        ("alignment-fault", 2, 1, 2),
        ("brake-drag", 1, 0, 0),
        ("residual-imbalance", 1, 1, 1),
    }


def test_the_confirmed_cause_is_read_only_to_score(small: Adviser, case_of: CaseOf) -> None:
    for truth in BASE:
        (one,) = score_cases([case_of(complaint={"pull": "yes"}, outcome={"confirmed_cause": truth})], small).cases
        assert one.first == "alignment-fault"
        assert one.probability == pytest.approx(float(by_hand("yes")[truth]))


def test_no_confirmed_cause_no_score(small: Adviser, case_of: CaseOf) -> None:
    with pytest.raises(ValueError, match="no case has a confirmed cause"):
        score_cases([case_of()], small)


def test_a_sure_ranking_counts_in_the_last_bin(small: Adviser, case_of: CaseOf) -> None:
    """Every case falls into exactly one bin, whatever its probability."""
    cases = [
        case_of(complaint={} if pull is None else {"pull": pull}, outcome={"confirmed_cause": truth})
        for pull in ("yes", "no", None)
        for truth in BASE
    ]
    found = score_cases(cases, small)
    assert sum(bin_.count for bin_ in found.reliability) == len(cases)


# -- halves, intervals, "cannot tell yet" ---------------------------------------------------------------------------


@pytest.mark.parametrize(("right", "count"), [(0, 5), (1, 1), (3, 7), (48, 100), (100, 100)])
def test_wilson_against_an_independent_library(right: int, count: int) -> None:
    theirs = binomtest(right, count).proportion_ci(0.95, method="wilson")
    ours = wilson(right, count)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-6)


def test_the_bootstrap_against_an_independent_library(small: Adviser, case_of: CaseOf) -> None:
    """scipy's percentile bootstrap, with draws of its own: the ends agree to the grain of so many cases."""
    cases = [
        case_of(complaint={"pull": "yes"}, outcome={"confirmed_cause": truth})
        for truth in ["alignment-fault"] * 30 + ["brake-drag"] * 20
    ]
    found = score_cases(cases, small).whole
    right = np.array([1.0] * 30 + [0.0] * 20)
    theirs = bootstrap((right,), np.mean, method="percentile", n_resamples=4000, random_state=3).confidence_interval
    assert found.first == pytest.approx(0.6)
    assert found.first_interval.low == pytest.approx(theirs.low, abs=0.03)
    assert found.first_interval.high == pytest.approx(theirs.high, abs=0.03)


def test_each_half_is_scored_by_itself(small: Adviser, case_of: CaseOf) -> None:
    sources = [f"https://example.org/{number}" for number in range(40)]
    cases = [
        case_of(complaint={"pull": "yes"}, outcome={"confirmed_cause": "alignment-fault"}, source=source)
        if half_of(source) == "study"
        else case_of(complaint={"pull": "yes"}, outcome={"confirmed_cause": "brake-drag"}, source=source)
        for source in sources
    ]
    found = score_cases(cases, small)
    assert found.halves["study"].first == 1.0
    assert found.halves["score"].first == 0.0
    assert found.halves["study"].count + found.halves["score"].count == len(sources)
    assert min(one.count for one in found.halves.values()) > 10


def test_cannot_tell_yet_is_said_below_the_rule_bases_share(score: Score, small: Adviser) -> None:
    """Here below 0.45: only the two cases of which nothing was told (0.4)."""
    assert small.base.settings.tell_above == 0.45
    assert [one.undecided for one in score.cases] == [pull is None for pull, _, _ in CASES]
    assert score.whole.undecided == pytest.approx(2 / 6)
    assert score.whole.right_undecided == 0.0
    assert score.whole.right_decided == pytest.approx(2 / 4)


def test_chance_alone_shows_some_calibration_error(small: Adviser, case_of: CaseOf) -> None:
    """One case given 16/27 errs by 11/27 or by 16/27, so on average by 2 * 16 * 11 / 27^2."""
    one = score_cases([case_of(complaint={"pull": "yes"}, outcome={"confirmed_cause": "alignment-fault"})], small)
    assert one.whole.calibration_error_by_chance == pytest.approx(2 * 16 * 11 / 27**2, abs=0.01)
