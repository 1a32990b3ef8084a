"""The road sheet's plan: speeds around the complaint's own, observations by what they tell, dangers first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.road_plan import HOLDING, SAFETY, RoadPlan, plan_repeat, plan_road_test, speeds_to_hold
from vibdiag.case.model import Case, SpeedTold
from vibdiag.case.strengths import Held

CaseOf = Callable[..., Case]
MOTORWAY: dict[str, Any] = {
    "complaint": {"speed": {"starts": 95, "worst": 110, "fades": 130}, "strongest": "steering-wheel"},
    "history": {"not_happened": ["wheels-off"]},
}


def plan(adviser: Adviser, case: Case) -> RoadPlan:
    return plan_road_test(adviser.assess(case), adviser)


def test_speeds_lie_below_at_and_above_the_complaints_own() -> None:
    told = SpeedTold(starts=95, worst=110, fades=130)
    assert [held.speed for held in speeds_to_hold(told)] == [80, 90, 95, 100, 110, 120, 130, 140]


def test_a_single_speed_is_held_as_it_was_told() -> None:
    assert [held.speed for held in speeds_to_hold(SpeedTold(worst=87))] == [70, 80, 87, 100]


def test_miles_stay_miles() -> None:
    held = speeds_to_hold(SpeedTold(unit="mph", worst=65))
    assert [one.speed for one in held] == [55, 60, 65, 70, 75]
    assert {one.unit for one in held} == {"mph"}


def test_without_a_speed_the_usual_ones_are_held() -> None:
    assert [str(held) for held in speeds_to_hold(SpeedTold())] == ["80 km/h", "90 km/h", "100 km/h", "110 km/h"]
    assert len(speeds_to_hold(SpeedTold(unit="mph"))) == 4


@given(
    st.lists(st.floats(3, 300).map(lambda value: round(value, 1)), min_size=1, max_size=3, unique=True),
    st.sampled_from(["km/h", "mph"]),
)
def test_held_speeds_are_few_rising_positive_and_have_every_named_one(named: list[float], unit: str) -> None:
    ordered = sorted(named)
    fields = dict(zip(("starts", "worst", "fades"), ordered, strict=False))
    if len(ordered) == 2:
        fields = {"starts": ordered[0], "worst": ordered[1]}
    speeds = [held.speed for held in speeds_to_hold(SpeedTold.model_validate(fields | {"unit": unit}))]
    assert len(speeds) <= 8
    assert speeds == sorted(set(speeds))
    assert speeds[0] > 0
    assert set(ordered) <= set(speeds)


def test_holding_speeds_is_first_and_the_rest_is_by_what_it_tells_per_minute(adviser: Adviser, case_of: CaseOf) -> None:
    observations = plan(adviser, case_of(**MOTORWAY)).observations
    assert observations[0].step.id == HOLDING
    advised = [item.advice for item in observations[1:] if item.advice is not None]
    assert len(advised) >= 3
    worth = [advice.worth_bits / advice.step.minutes for advice in advised]
    assert worth == sorted(worth, reverse=True)
    assert all(item.step.kind == "road" and item.step.why and item.step.caution for item in observations)


def test_a_question_on_the_same_sign_does_not_take_the_place_of_looking(adviser: Adviser, case_of: CaseOf) -> None:
    planned = {item.step.id for item in plan(adviser, case_of(**MOTORWAY)).observations}
    road = {step.sign: step.id for step in adviser.base.steps.values() if step.kind == "road"}
    asked = {step.sign for step in adviser.base.steps.values() if step.kind == "question"}
    assert road["tracks"] in planned
    assert "tracks" in asked


def test_an_observation_made_stays_on_the_sheet_to_be_changed(adviser: Adviser, case_of: CaseOf) -> None:
    made = plan(adviser, case_of(**MOTORWAY, steps=[{"step": "road-brake", "outcome": "unchanged"}])).observations
    assert made[-1].step.id == "road-brake"
    assert made[-1].advice is None
    assert len({item.step.id for item in made}) == len(made)


def test_a_car_without_an_engine_is_not_asked_about_clutch_or_converter(adviser: Adviser, case_of: CaseOf) -> None:
    vehicle = {"power": "electric", "driven": "front"}
    steps = {item.step.id for item in plan(adviser, case_of(**MOTORWAY, vehicle=vehicle)).observations}
    assert "road-lock-up" not in steps


def test_with_an_open_danger_the_plan_says_why_the_car_does_not_move(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(complaint={"growth": "sudden"}, history={"events": [{"what": "wheels-off", "ago_days": 3}]})
    reasons = plan(adviser, case).not_yet
    assert any("A wheel may be loose" in reason for reason in reasons)
    assert any(adviser.base.steps["bay-fasteners"].title in reason for reason in reasons)
    assert plan(adviser, case_of(**MOTORWAY)).not_yet == ()


def test_the_safety_line_says_who_drives_and_who_writes() -> None:
    for words in ("Licensed driver", "legal speeds", "never writes", "passenger records", "airbag", "Stop"):
        assert words in SAFETY


def test_the_repeat_is_at_the_complaints_own_speeds_and_where_a_shake_was_noted(
    adviser: Adviser, case_of: CaseOf
) -> None:
    steps = [
        {"step": HOLDING, "outcome": "unknown", "words": "Strength 0 to 10: 80 km/h 0, 120 km/h 4."},
        {"step": "road-brake", "outcome": "unchanged"},
        {"step": "ask-braking", "outcome": "unchanged"},
    ]
    again = plan_repeat(adviser.assess(case_of(**MOTORWAY, steps=steps)), adviser, wheels_were_off=False)
    assert [held.speed for held in again.hold] == [95, 110, 120, 130]
    assert [item.step.id for item in again.observations] == [HOLDING, "road-brake"]
    assert again.checks == ()


def test_a_case_without_any_speed_is_repeated_at_the_usual_ones(adviser: Adviser, case_of: CaseOf) -> None:
    again = plan_repeat(adviser.assess(case_of()), adviser, wheels_were_off=False)
    assert again.hold == speeds_to_hold(SpeedTold())
    assert again.hold[0] == Held(80.0, "km/h")


@pytest.mark.parametrize("off", [True, False])
def test_after_work_on_the_wheels_the_fasteners_come_before_the_road(
    adviser: Adviser, case_of: CaseOf, off: bool
) -> None:
    again = plan_repeat(adviser.assess(case_of(**MOTORWAY)), adviser, wheels_were_off=off)
    assert [step.id for step in again.checks] == (["bay-fasteners"] if off else [])


def test_what_clears_an_open_danger_is_on_the_repeat(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(seen={"tyre": "bulge-or-cord"})
    again = plan_repeat(adviser.assess(case), adviser, wheels_were_off=False)
    assert "bay-feel-tyres" in [step.id for step in again.checks]
    assert again.not_yet


@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_any_case_has_a_plan(adviser: Adviser, parts: Any, case_of: CaseOf, data: Any) -> None:
    assessment = adviser.assess(case_of(**data.draw(parts)))
    for found in (plan_road_test(assessment, adviser), plan_repeat(assessment, adviser, wheels_were_off=True)):
        assert found.hold
        ids = [item.step.id for item in found.observations]
        assert len(set(ids)) == len(ids)
        is_open = any(danger.status == "open" for danger in assessment.dangers)
        assert bool(found.not_yet) == is_open
