"""The next step: safe first, possible here, not known already, and the most telling per minute."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.next_step import Shop, for_car, possible, repair_order
from vibdiag.advice.script import write_script
from vibdiag.case.model import Case
from vibdiag.reasoning.inquiry import prospects

CaseOf = Callable[..., Case]
Parts = dict[str, Any]
SOME = settings(max_examples=40, deadline=None)
ALL = 200


@SOME
@given(data=st.data())
def test_steps_that_clear_come_first_then_the_most_telling_per_minute(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    assessment = adviser.assess(case_of(**data.draw(parts)), steps=ALL)
    keys = [(advice.clears is None, -advice.worth_bits / advice.step.minutes) for advice in assessment.next]
    assert keys == sorted(keys)
    signs = [advice.step.sign for advice in assessment.next]
    assert len(set(signs)) == len(signs)
    few = adviser.assess(assessment.case, steps=2).next
    assert few == assessment.next[:2]
    for advice in assessment.next:
        assert 0.0 <= advice.worth_bits <= advice.gain_bits + 1e-12
        assert advice.clears or advice.worth_bits >= adviser.base.settings.least_gain_bits


@SOME
@given(data=st.data())
def test_nothing_measured_is_asked_again(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    assessment = adviser.assess(case_of(**data.draw(parts)), steps=ALL)
    base = adviser.base
    results = assessment.findings.results.values()
    measured = {base.steps[result.step].sign for result in results if result.how == "measured"}
    tried = {result.step for result in assessment.case.steps if result.outcome == "unknown"}
    for advice in assessment.next:
        assert advice.step.sign not in measured
        assert advice.step.id not in tried or advice.clears


@SOME
@given(
    data=st.data(),
    who=st.one_of(st.none(), st.frozensets(st.sampled_from(["desk", "road", "bay"]))),
    tools=st.one_of(
        st.none(), st.frozensets(st.sampled_from(["lift", "passenger", "dial indicator", "torque wrench"]))
    ),
)
def test_only_steps_that_these_people_can_do_with_these_tools(
    adviser: Adviser,
    parts: st.SearchStrategy[Parts],
    case_of: CaseOf,
    data: st.DataObject,
    who: frozenset[str] | None,
    tools: frozenset[str] | None,
) -> None:
    shop = Shop(who, tools)
    case = case_of(**data.draw(parts))
    offered = adviser.assess(case, shop=shop, steps=ALL).next
    for advice in offered:
        assert who is None or who & set(advice.step.who)
        assert tools is None or set(advice.step.tools) <= tools
    anybody = [advice.step.sign for advice in adviser.assess(case, steps=ALL).next]
    assert {advice.step.sign for advice in offered} <= set(anybody)


def test_nobody_there_means_nothing_to_do(adviser: Adviser, case_of: CaseOf) -> None:
    assert adviser.assess(case_of(), shop=Shop(frozenset()), steps=ALL).next == ()


@SOME
@given(data=st.data())
def test_every_road_observation_and_check_on_offer_has_its_caution(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    for advice in adviser.assess(case_of(**data.draw(parts)), steps=ALL).next:
        if advice.step.kind != "question":
            assert advice.step.caution
            assert advice.step.steps
        else:
            assert advice.step.ask


@SOME
@given(data=st.data())
def test_outcomes_are_a_distribution_that_mixes_back_to_the_belief_now(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    """The law of total probability, over all outcomes of every step on offer."""
    assessment = adviser.assess(case_of(**data.draw(parts)), steps=5)
    for advice in assessment.next:
        assert [outcome.word for outcome in advice.outcomes] == adviser.base.signs[advice.step.sign].words
        assert sum(outcome.probability for outcome in advice.outcomes) == pytest.approx(1.0, abs=1e-9)
        ahead = prospects(assessment.belief, advice.step.sign)
        mixed = sum(
            outcome.probability * prospect.after.posterior
            for outcome, prospect in zip(advice.outcomes, ahead, strict=True)
        )
        assert mixed == pytest.approx(assessment.belief.posterior, abs=1e-9)
        for outcome, prospect in zip(advice.outcomes, ahead, strict=True):
            assert outcome.leaves == tuple(prospect.after.by_cause().items())[: len(outcome.leaves)]
            assert outcome.says == advice.step.outcomes[outcome.word].says


def test_what_was_only_told_may_be_checked(adviser: Adviser, case_of: CaseOf) -> None:
    """Told counts for less than measured, so the check of the same thing can still be on offer; measured, it cannot."""
    offered: dict[str, set[str]] = {}
    for how in ("told", "measured"):
        case = case_of(
            complaint={"severity": "violent"},
            steps=[{"step": "bay-rim-runout", "outcome": "within", "how": how}],
        )
        offered[how] = {advice.step.id for advice in adviser.assess(case, steps=ALL).next}
    assert "bay-rim-runout" in offered["told"]
    assert "bay-rim-runout" not in offered["measured"]


@pytest.mark.parametrize(
    ("step", "told"),
    [
        ("ask-knock", {"complaint": {"noise": ["clunk"]}}),
        ("ask-driveline-part", {"history": {"events": [{"what": "driveline-work"}]}}),
        ("ask-driveline-tried", {"history": {"repairs": [{"what": "driveline-work", "effect": "none"}]}}),
        ("ask-suspension-tried", {"history": {"repairs": [{"what": "steering-suspension-work", "effect": "none"}]}}),
    ],
)
def test_a_question_that_asks_on_waits_for_what_it_asks_about(
    adviser: Adviser, case_of: CaseOf, step: str, told: Parts
) -> None:
    text = adviser.base.steps[step]
    assert text.only_where
    assert not possible(text, adviser.assess(case_of()).findings)
    assert possible(text, adviser.assess(case_of(**told)).findings)
    assert step not in {advice.step.id for advice in adviser.assess(case_of(), steps=ALL).next}


@pytest.mark.parametrize("step", ["ask-driveline-part", "ask-driveline-tried"])
@pytest.mark.parametrize(("driven", "offered"), [("front", False), ("rear", True), ("all", True), ("unknown", True)])
def test_a_car_without_a_propshaft_is_not_offered_it_as_an_answer(
    adviser: Adviser, case_of: CaseOf, step: str, driven: str, offered: bool
) -> None:
    history = {
        "events": [{"what": "driveline-work"}],
        "repairs": [{"what": "driveline-work", "effect": "none"}],
    }
    found = adviser.assess(case_of(vehicle={"driven": driven}, history=history), steps=ALL)
    assert ("propshaft" in for_car(adviser.base.steps[step], found.findings).outcomes) is offered
    advised = next((advice for advice in found.next if advice.step.id == step), None)
    if advised is not None:
        assert ("propshaft" in advised.step.outcomes) is offered
        assert ("propshaft" in {outcome.word for outcome in advised.outcomes}) is offered
    asked = next(
        (one for one in write_script(adviser, assessment=found, count=60).questions if one.step.id == step), None
    )
    assert asked is None or ("propshaft" in asked.step.outcomes) is offered


def test_a_knock_that_was_told_is_asked_about(adviser: Adviser, case_of: CaseOf) -> None:
    found = adviser.assess(case_of(complaint={"noise": ["clunk"]}), steps=ALL).next
    assert "ask-knock" in {advice.step.id for advice in found}


def test_the_script_for_everybody_asks_on_only_after_the_answer(adviser: Adviser) -> None:
    script = write_script(adviser, count=40)
    assert all(not question.step.only_where for question in script.questions)
    for question in script.questions:
        for branch in question.branches:
            cited = branch.then.only_where
            assert not cited or f"{question.step.sign} is {branch.word}" in cited


def test_repairs_by_probability_over_minutes(adviser: Adviser, case_of: CaseOf) -> None:
    """Heckerman, Breese and Rommelse 1995; that this order is the cheapest is tested with the published examples."""
    _, belief = adviser.believe(case_of(complaint={"strongest": "steering-wheel"}))
    found = repair_order(belief, adviser.base, least=0.02)
    rates = [repair.probability / repair.minutes for repair in found]
    assert rates == sorted(rates, reverse=True)
    assert {repair.cause for repair in found} == {
        cause for cause in belief.model.causes if belief.of_cause(cause) >= 0.02
    }
    for repair in found:
        assert repair.probability == pytest.approx(belief.of_cause(repair.cause))
        assert repair.minutes == adviser.base.causes[repair.cause].repair.minutes
        assert repair.caution
