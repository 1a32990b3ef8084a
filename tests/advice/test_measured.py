"""Rounds of readings weigh as their interval says, nothing else; the limits of fits and of single numbers agree."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import facts_of
from vibdiag.advice.measured import half_turns, judge_set, sign_of, wheel_states
from vibdiag.advice.remount import remounts
from vibdiag.case.model import Case, ReadingSet
from vibdiag.case.reading_set import FEWEST_PLACES, MOST_PLACES
from vibdiag.knowledge.base import RuleBase
from vibdiag.measure import FEWEST_READINGS, LIMITS, MOST_READINGS, LimitId
from vibdiag.rotation import Polar

CaseOf = Callable[..., Case]
# Reading on a part -> the cause that its being over must raise.
RAISES = {
    "tread-radial": "tyre-runout",
    "rim-outer-radial": "bent-rim",
    "hub-face": "hub-runout",
    "disc-thickness": "brake-disc-variation",
    "propshaft-middle": "propshaft-imbalance",
    "radial-force": "tyre-force-variation",
}


def wave(total: float, high_deg: float = 0.0, *, places: int = 12, middle: float = 0.0) -> list[float]:
    """Pure eccentricity of so much total reading, rounded as a dial is read."""
    step = 360.0 / places
    return [round(middle + total / 2.0 * math.cos(math.radians(step * place - high_deg)), 4) for place in range(places)]


def a_round(what: str, total: float, **more: Any) -> dict[str, Any]:
    middle = 22.0 if what == "disc-thickness" else 0.0
    unit = "N" if what == "radial-force" else "mm"
    return {"what": what, "unit": unit, "values": wave(total, middle=middle), "wheel": "front-left", **more}


def probability(adviser: Adviser, case: Case, cause: str) -> float:
    return adviser.believe(case)[1].by_cause()[cause]


@pytest.mark.parametrize(("what", "cause"), RAISES.items())
def test_a_round_over_its_limit_raises_the_cause_and_one_within_lowers_it(
    adviser: Adviser, case_of: CaseOf, what: str, cause: str
) -> None:
    far = {"disc-thickness": (0.08, 0.002), "hub-face": (0.4, 0.01), "radial-force": (300.0, 20.0)}
    over, within = far.get(what, (4.0, 0.1))
    fine = {"resolution": 0.001} if what == "hub-face" else {}
    nothing = probability(adviser, case_of(), cause)
    assert probability(adviser, case_of(readings=[a_round(what, over, **fine)]), cause) > 2.0 * nothing
    assert probability(adviser, case_of(readings=[a_round(what, within, **fine)]), cause) < nothing


def test_a_round_too_close_to_the_limit_weighs_nothing(adviser: Adviser, case_of: CaseOf) -> None:
    one = a_round("tread-radial", 1.2)  # between the strictest and the loosest figure of makers
    assert sign_of(judge_set(ReadingSet.model_validate(one))) == "cannot-tell"
    assert facts_of(case_of(readings=[one])) == {}
    assert adviser.believe(case_of(readings=[one]))[1].by_cause() == adviser.believe(case_of())[1].by_cause()


def test_the_makers_limit_decides_what_the_table_leaves_open(case_of: CaseOf) -> None:
    for limit, word in ((1.0, "over"), (1.5, "within")):
        assert facts_of(case_of(readings=[a_round("tread-radial", 1.2, limit=limit)]))["tread-radial-judged"] == word


def test_what_was_read_after_the_repair_is_ignored(case_of: CaseOf) -> None:
    after = a_round("tread-radial", 4.0, taken="after")
    assert facts_of(case_of(readings=[after])) == {}
    shown = [{"inner_amount": 20.0, "inner_deg": angle, "display_step": 1.0, "taken": "after"} for angle in (0, 180)]
    assert facts_of(case_of(balance_readings=shown)) == {}


def test_any_wheel_over_is_over_and_one_that_cannot_tell_is_not_within(case_of: CaseOf) -> None:
    good, bad = a_round("tread-radial", 0.2), a_round("tread-radial", 3.0, wheel="rear-right")
    unsure = a_round("tread-radial", 1.2, wheel="rear-right")
    assert facts_of(case_of(readings=[good]))["tread-radial-judged"] == "within"
    assert facts_of(case_of(readings=[good, bad]))["tread-radial-judged"] == "over"
    assert "tread-radial-judged" not in facts_of(case_of(readings=[good, unsure]))


def test_the_last_round_of_one_place_counts(case_of: CaseOf) -> None:
    good, bad = a_round("tread-radial", 0.2), a_round("tread-radial", 3.0)
    assert facts_of(case_of(readings=[bad, good]))["tread-radial-judged"] == "within"


def test_a_round_outranks_a_single_number_told_for_the_same(case_of: CaseOf) -> None:
    told = {"quantity": "tread-radial-runout", "value": 3.0, "unit": "mm", "wheel": "front-left"}
    good = a_round("tread-radial", 0.2)
    assert "tread-radial-mm" not in facts_of(case_of(readings=[good], measurements=[told]))
    elsewhere = {**told, "wheel": "rear-left"}
    assert facts_of(case_of(readings=[good], measurements=[elsewhere]))["tread-radial-mm"] == 3.0
    within = {**elsewhere, "value": 0.1}
    bad = facts_of(case_of(readings=[a_round("tread-radial", 3.0)], measurements=[within]))
    assert bad == {"tread-radial-judged": "over"}


def test_a_number_over_at_another_wheel_is_not_covered_up(adviser: Adviser, case_of: CaseOf) -> None:
    elsewhere = {"quantity": "tread-radial-runout", "value": 3.0, "unit": "mm", "wheel": "rear-left"}
    findings, _ = adviser.believe(case_of(readings=[a_round("tread-radial", 0.2)], measurements=[elsewhere]))
    assert {each.sign: each.word for each in findings.evidence}["tread-radial"] == "over"
    assert not findings.clashes


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(["tread-radial", "tread-lateral", "rim-inner-radial", "hub-face", "disc-runout"]),
    st.lists(st.integers(-300, 300), min_size=8, max_size=16),
    st.floats(0.05, 3.0),
)
def test_millimetres_and_thousandths_say_the_same(what: str, counts: list[int], limit: float) -> None:
    mm = [count / 100.0 for count in counts]
    one = ReadingSet.model_validate({"what": what, "values": mm, "limit": limit, "resolution": 0.01})
    thou = [value / 0.0254 for value in mm]
    more = {"limit": limit / 0.0254, "resolution": 0.01 / 0.0254, "unit": "thou"}
    two = ReadingSet.model_validate({"what": what, "values": thou, **more})
    first, second = judge_set(one).reading, judge_set(two).reading
    assert first.at_least == pytest.approx(second.at_least, abs=1e-9)
    assert first.total is not None
    assert second.total is not None
    assert (first.total.low, first.total.high) == pytest.approx((second.total.low, second.total.high), abs=1e-9)


# --- half a turn, mountings, rolling


def moved(hub: float, wheel: float, by: float = 180.0) -> list[dict[str, Any]]:
    """Two rounds counted from the valve, with so much total reading in hub (at 40) and wheel (at 100)."""
    found = []
    for turned in (0.0, by):
        # Seen from the valve, what stays with the hub has gone back by as much as the wheel was moved on.
        seen = Polar(hub / 2.0, 40.0 - turned) + Polar(wheel / 2.0, 100.0)
        found.append(a_round("tread-radial", 0.0, moved_deg=turned, values=wave(2.0 * seen.amount, seen.angle_deg)))
    return found


@pytest.mark.parametrize("by", [180.0, 144.0, 90.0])
@pytest.mark.parametrize(
    ("hub", "wheel", "word"),
    [(1.0, 0.2, "with-hub"), (0.2, 1.0, "with-wheel"), (0.8, 0.8, "neither"), (0.05, 0.05, "neither")],
)
def test_half_a_turn_tells_hub_from_wheel(case_of: CaseOf, by: float, hub: float, wheel: float, word: str) -> None:
    case = case_of(readings=moved(hub, wheel, by))
    assert facts_of(case)["half-turn-judged"] == word


def test_half_a_turn_that_cannot_be_told_is_no_fact(case_of: CaseOf) -> None:
    assert "half-turn-judged" not in facts_of(case_of(readings=moved(0.5, 1.0)))  # just at the share that follows
    assert "half-turn-judged" not in facts_of(case_of(readings=moved(1.0, 0.2, by=5.0)))
    few = [one | {"values": one["values"][::2]} for one in moved(1.0, 0.2)]
    assert half_turns(case_of(readings=few)) == ()


def test_with_the_hub_puts_the_hub_up(adviser: Adviser, case_of: CaseOf) -> None:
    nothing = probability(adviser, case_of(), "hub-runout")
    assert probability(adviser, case_of(readings=moved(1.0, 0.2)), "hub-runout") > 2.0 * nothing
    assert probability(adviser, case_of(readings=moved(0.2, 1.0)), "hub-runout") < nothing


def mounted(wheel: float, mounting: float, step: float = 1.0, **more: Any) -> list[dict[str, Any]]:
    found = []
    for turned in (0.0, 120.0, 240.0):
        seen = Polar(wheel, 30.0) + Polar(mounting, 70.0 - turned)
        shown = {"inner_amount": round(seen.amount, 2), "inner_deg": seen.angle_deg, "shaft_deg": turned}
        found.append({"wheel": "front-left", "display_step": step, **shown, **more})
    return found


def test_mountings_that_differ_and_that_repeat(adviser: Adviser, case_of: CaseOf) -> None:
    assert facts_of(case_of(balance_readings=mounted(20.0, 12.0)))["remount-judged"] == "differs"
    assert facts_of(case_of(balance_readings=mounted(20.0, 0.0)))["remount-judged"] == "repeats"
    assert "remount-judged" not in facts_of(case_of(balance_readings=mounted(20.0, 2.5)))  # 5 g over half a turn
    assert "remount-judged" not in facts_of(case_of(balance_readings=mounted(20.0, 0.0, step=10.0)))
    nothing = probability(adviser, case_of(), "balanced-off-centre")
    differs = case_of(balance_readings=mounted(20.0, 12.0))
    assert probability(adviser, differs, "balanced-off-centre") > nothing


def test_mounted_at_one_angle_sameness_proves_nothing(case_of: CaseOf) -> None:
    same = [{**one, "shaft_deg": None} for one in mounted(20.0, 0.0)]
    (found,) = remounts(case_of(balance_readings=same))
    assert (found.found, found.word) == (None, None)
    differ = [{**one, "shaft_deg": None} for one in mounted(20.0, 12.0)]
    assert facts_of(case_of(balance_readings=differ))["remount-judged"] == "differs"


def test_ounces_and_grams_are_the_same_mounting(case_of: CaseOf) -> None:
    grams = mounted(20.0, 12.0)
    ounce = 28.349523125
    ounces = [
        {**one, "inner_amount": one["inner_amount"] / ounce, "display_step": 1.0 / ounce, "unit": "oz"} for one in grams
    ]
    first, second = (remounts(case_of(balance_readings=each))[0].found for each in (grams, ounces))
    assert first is not None
    assert second is not None
    assert first.mounting.value.amount == pytest.approx(second.mounting.value.amount)


def test_wheels_with_depth_and_pressure_are_compared(case_of: CaseOf) -> None:
    told = [
        {"quantity": "tyre-pressure", "value": 2.3, "unit": "bar", "wheel": "front-left"},
        {"quantity": "tread-depth", "value": 7.0, "unit": "mm", "wheel": "front-left"},
        {"quantity": "tread-depth", "value": 3.0, "unit": "mm", "wheel": "front-right"},
    ]
    (state,) = wheel_states(case_of(measurements=told), ("front-left", "front-right"))
    assert (state.place, state.tread_mm) == ("front-left", 7.0)
    assert state.pressure_kpa == pytest.approx(230.0)


# --- limits and form

# Rule of a single number -> the row of the limits of fits.
SAME: dict[str, LimitId] = {
    "tread-radial": "tread-radial",
    "tread-lateral": "tread-lateral",
    "rim-radial": "rim-radial",
    "rim-lateral": "rim-lateral",
    "hub-face": "hub-face",
    "hub-pilot": "hub-pilot",
    "disc-runout": "brake-disc",
    "disc-thickness-variation": "disc-thickness-variation",
    "propshaft-runout": "propshaft",
    "radial-force": "radial-force-total",
}


def test_a_single_number_is_never_bolder_than_a_round_of_readings(rule_base: RuleBase) -> None:
    """A number told carries no interval, so its rules may leave more room than the limits of fits, never less."""
    compared = set()
    text = (rule_base.folder / "derive" / "measured.yaml").read_text(encoding="utf-8")
    for rule in yaml.safe_load(text)["rules"]:
        for sentence in rule["when"]:
            words = sentence.split()
            name = words[0].rsplit("-", 1)[0]
            if words[1:-1] not in (["is", "above"], ["is", "below"]) or name not in SAME:
                continue
            limit, number = LIMITS[SAME[name]], float(words[-1])
            if "above" in words:
                assert number >= limit.loose, rule["id"]
            else:
                assert number <= limit.strict, rule["id"]
            compared.add(name)
    assert compared == set(SAME)


def test_the_form_asks_for_as_many_places_as_the_fit() -> None:
    assert (FEWEST_PLACES, MOST_PLACES) == (FEWEST_READINGS, MOST_READINGS)
