"""Simulated shops: the bench by hand, the draws against their tables, and the goal that the next step must reach.

No outside figures exist for such a comparison; the minutes are those of the rule base (common practice), and how the
other shops work is common practice too. That probability over cost is the best order of repairs, and that the drop of
entropy chooses the probe, is tested against the published examples in tests/reasoning.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chisquare

from vibdiag.advice.assess import Adviser
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Evidence
from vibdiag.trial.bench import PROOF_MINUTES, Bench
from vibdiag.trial.cars import Car, car_like, disturbed, draw_cars
from vibdiag.trial.compare import UNSOLVED_MINUTES, compare
from vibdiag.trial.shops import checklist, points_to, random_order, this_tool, usual_order


@pytest.fixture(scope="module")
def base(adviser: Adviser) -> RuleBase:
    return adviser.base


def car(base: RuleBase, *causes: str, **answers: str | None) -> Car:
    """Everything on it is quiet or as is usual, but for what is given (by step, with _ for -)."""
    usual = {
        sign.id: sign.quiet or max(sign.background, key=lambda word: sign.background[word])
        for sign in base.signs.values()
    }
    given = {step.replace("_", "-"): word for step, word in answers.items()}
    shows = usual | {base.steps[step].sign: word for step, word in given.items() if word is not None}
    found: dict[str, str | None] = {step.id: shows[step.sign] for step in base.steps.values()}
    return Car(frozenset(causes), found | given, shows)


def test_minutes_and_wrong_repairs_by_hand(base: RuleBase) -> None:
    bench = Bench(car(base, "bent-rim", "residual-imbalance"), base)
    assert bench.ask("bay-rim-runout") == "within"
    assert bench.mend(["wheel-bearing"]) == "none"
    assert bench.mend(["bent-rim"]) == "partly"
    assert bench.mend(["residual-imbalance"]) == "gone"
    visit = bench.visit()
    repairs = sum(base.causes[cause].repair.minutes for cause in ("wheel-bearing", "bent-rim", "residual-imbalance"))
    assert visit.minutes == base.steps["bay-rim-runout"].minutes + repairs + 3 * PROOF_MINUTES
    assert (visit.solved, visit.steps, visit.repairs, visit.wrong) == (True, 1, 3, 1)


def test_whoever_tries_again_finds_what_is_there(base: RuleBase) -> None:
    drawn = car(base, "bent-rim", bay_rim_lips="bent")
    bench = Bench(replace(drawn, answers={**drawn.answers, "bay-rim-lips": None}), base)
    assert [bench.ask("bay-rim-lips"), bench.ask("bay-rim-lips")] == [None, "bent"]


def test_the_usual_order_by_hand(base: RuleBase) -> None:
    """Balancing finds imbalance at once; a bent rim waits until wheels were balanced, rotated, tyres renewed and looked
    at; a cure on the way ends it."""
    assert usual_order(Bench(car(base, "residual-imbalance"), base)).minutes == 60 + PROOF_MINUTES
    tyres = usual_order(Bench(car(base, "tyre-runout"), base))
    assert (tyres.minutes, tyres.wrong) == (60 + 30 + 90 + 2 * PROOF_MINUTES, 1)
    rim = usual_order(Bench(car(base, "bent-rim", bay_rim_runout="over"), base))
    assert rim.solved
    assert rim.wrong == 2
    assert rim.minutes > tyres.minutes + base.causes["bent-rim"].repair.minutes


@pytest.mark.parametrize(
    ("step", "word", "cause"),
    [
        ("bay-fasteners", "loose", "loose-wheel"),
        ("bay-feel-tyres", "bulge-or-cord", "tyre-belt-damage"),
        ("bay-rim-runout", "over", "bent-rim"),
        ("bay-disc", "over", "brake-disc-variation"),
        ("bay-inner-joint", "worn", "inner-drive-joint"),
        ("road-smooth", "goes", "road-or-normal"),
    ],
)
def test_a_finding_points_where_the_trade_looks(base: RuleBase, step: str, word: str, cause: str) -> None:
    """Common practice."""
    assert points_to(base, step, word)[0] == cause
    others = [
        other
        for other in base.steps[step].outcomes
        if other != word and other == base.signs[base.steps[step].sign].quiet
    ]
    assert all(points_to(base, step, other) == () for other in others)


def test_the_tool_mends_both_of_two_causes(base: RuleBase) -> None:
    both = car(
        base, "bent-rim", "residual-imbalance", bay_rim_runout="over", bay_rim_lips="bent", bay_balance_audit="out",
        bay_lost_weight="yes", bay_tread_radial="over", bay_wobble="yes", ask_speed="narrow-band",
    )  # fmt: skip
    visit = this_tool()(Bench(both, base))
    assert visit.solved
    assert visit.wrong == 0


def test_drawn_cars_are_as_the_tables_say(base: RuleBase) -> None:
    """Of the cars with worn joints, as many show play as the row says (chi-square; chance alone fails 1 in 1,000)."""
    index = next(i for i, one in enumerate(base.model.hypotheses) if one.causes == ("steering-suspension-play",))
    prior = np.full(len(base.model.hypotheses), 1e-12)
    prior[index] = 1.0
    cars = draw_cars(base, replace(base.model, prior=prior), 400, np.random.default_rng(5))
    assert all(one.causes == {"steering-suspension-play"} for one in cars)
    for sign in ("steering-play", "speed-pattern"):
        table = base.model.tables[sign]
        counts = [sum(one.shows[sign] == word for one in cars) for word in table.words]
        assert chisquare(counts, 400 * table.rows[index]).pvalue > 0.001
    answered = [one.answers["bay-steering-play"] for one in cars]
    assert np.mean([word is None for word in answered]) == pytest.approx(
        1.0 - base.steps["bay-steering-play"].answered, abs=0.06
    )


def test_a_disturbed_model_is_off_by_no_more_than_the_factor(base: RuleBase) -> None:
    shaken = disturbed(base.model, 3.0, np.random.default_rng(1))
    assert shaken.prior.sum() == pytest.approx(1.0)
    for sign, table in shaken.tables.items():
        assert table.rows.sum(axis=1) == pytest.approx(1.0)
        odds = (table.rows[:, 0] / table.rows[:, 1]) / (
            base.model.tables[sign].rows[:, 0] / base.model.tables[sign].rows[:, 1]
        )
        assert odds.max() <= 9.0 + 1e-9
        assert odds.min() >= 1.0 / 9.0 - 1e-9
        assert odds.std() > 0.1
    with pytest.raises(ValueError, match="disturbs nothing"):
        disturbed(base.model, 0.5, np.random.default_rng(1))


def test_a_car_like_a_case_shows_what_was_told(base: RuleBase) -> None:
    told = [Evidence("rhythm", "bursts"), Evidence("pull", "yes")]
    drawn = car_like(base, told, ["brake-drag"], np.random.default_rng(2))
    assert drawn is not None
    assert drawn.causes == {"brake-drag"}
    assert (drawn.shows["rhythm"], drawn.shows["pull"]) == ("bursts", "yes")
    assert car_like(base, told, ["brake-drag", "aerodynamic"], np.random.default_rng(2)) is None


def test_a_car_left_unsolved_costs_a_day_more(base: RuleBase) -> None:
    hopeless = car(base, "aerodynamic")
    (result,) = compare([hopeless] * 3, {"the usual order": usual_order}, base)
    assert result.unsolved == 1.0
    assert result.minutes == usual_order(Bench(hopeless, base)).minutes + UNSOLVED_MINUTES
    with pytest.raises(ValueError, match="nothing to compare"):
        compare([], {"the usual order": usual_order}, base)


@pytest.mark.parametrize("factor", [1.0, 3.0])
def test_the_next_step_pays(base: RuleBase, factor: float) -> None:
    """At most half the minutes of the usual order, at most 0.8 of a good checklist's, and fewer wrong repairs; also
    where every number of the rule base is off by up to a factor of 3. Sixty cars; `vibdiag rules shops` draws more."""
    random = np.random.default_rng(11)
    cars = draw_cars(base, disturbed(base.model, factor, random), 60, random)
    shops = {"tool": this_tool(), "usual": usual_order, "list": checklist, "chance": random_order(random)}
    tool, usual, listed, chance = compare(cars, shops, base)
    assert tool.minutes <= 0.5 * usual.minutes
    assert tool.minutes <= 0.8 * listed.minutes
    assert tool.minutes <= 0.5 * chance.minutes
    assert tool.wrong < min(usual.wrong, listed.wrong, chance.wrong)
    assert tool.unsolved <= min(usual.unsolved, listed.unsolved)
