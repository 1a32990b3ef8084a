"""One assessment: what must hold whatever the tables say."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.case.model import Case
from vibdiag.files.errors import InputError

CaseOf = Callable[..., Case]
Parts = dict[str, Any]
SOME = settings(max_examples=40, deadline=None)
PROPSHAFT_CAUSES = {"propshaft-imbalance", "propshaft-joint", "propshaft-centre-bearing"}
WHEEL_CAUSES = ("residual-imbalance", "bent-rim", "tyre-runout", "tyre-force-variation", "hub-centring-error")


def essence(assessment: Assessment) -> object:
    """All that an assessment says but for the case it was made from."""
    return (
        sorted(assessment.findings.evidence, key=lambda item: item.sign),
        dict(assessment.findings.because),
        assessment.findings.excluded,
        assessment.belief.posterior.tolist(),
        assessment.causes,
        assessment.dangers,
        set(assessment.clashes),
        assessment.next,
        assessment.repair,
        assessment.surprise,
    )


@SOME
@given(data=st.data(), order=st.randoms(use_true_random=False))
def test_order_of_answers_does_not_matter(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject, order: Random
) -> None:
    """Places, noises, events, work of different kinds and results for different signs, each list shuffled."""
    told = data.draw(parts)
    case = case_of(**told)
    complaint, history = case.complaint, case.history

    def shuffled(items: list[Any]) -> list[Any]:
        return order.sample(items, len(items))

    other = case.model_copy(
        update={
            "complaint": complaint.model_copy(
                update={"felt_at": shuffled(complaint.felt_at), "noise": shuffled(complaint.noise)}
            ),
            "history": history.model_copy(
                update={"events": shuffled(history.events), "repairs": shuffled(history.repairs)}
            ),
            "steps": shuffled(case.steps),
        }
    )
    assert essence(adviser.assess(other)) == essence(adviser.assess(case))


@SOME
@given(data=st.data())
def test_an_unknown_answer_changes_nothing(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    """`unknown` written for a field equals the field left out, and `unknown` from a step moves no belief, danger or
    clash; it may only keep the step from being asked again."""
    told = data.draw(parts)
    case = case_of(**told)
    spare = [step for step in adviser.base.steps if step not in {result.step for result in case.steps}]
    unknown = [{"step": step, "outcome": "unknown"} for step in data.draw(st.permutations(spare))[:5]]
    silent = strip_unknown(told)
    before, after = (
        adviser.assess(case_of(**silent)),
        adviser.assess(case_of(**{**told, "steps": told["steps"] + unknown})),
    )
    assert after.belief.posterior.tolist() == before.belief.posterior.tolist()
    assert after.findings.evidence == before.findings.evidence
    assert dict(after.findings.facts) == dict(before.findings.facts)
    assert after.causes == before.causes
    assert after.dangers == before.dangers
    assert after.clashes == before.clashes
    assert after.surprise == before.surprise


def strip_unknown(value: Any) -> Any:
    """The same parts with every `unknown`, and every step or place that says so, left out."""
    if isinstance(value, dict):
        return {key: strip_unknown(one) for key, one in value.items() if one != "unknown"}
    if isinstance(value, list):
        kept = [one for one in value if one != "unknown" and not (isinstance(one, dict) and is_unknown(one))]
        return [strip_unknown(one) for one in kept]
    return value


def is_unknown(part: Parts) -> bool:
    return part.get("outcome") == "unknown" or part.get("effect") == "unknown"


def test_every_step_answered_unknown_leaves_the_prior(adviser: Adviser, case_of: CaseOf) -> None:
    everything = case_of(steps=[{"step": step, "outcome": "unknown"} for step in adviser.base.steps])
    assessment = adviser.assess(everything)
    assert assessment.belief.posterior.tolist() == adviser.base.model.believe(()).posterior.tolist()
    assert assessment.findings.evidence == ()
    assert assessment.surprise.verdict == "nothing known"
    assert assessment.dangers == ()


@SOME
@given(data=st.data())
def test_ranking_has_the_causes_the_car_can_have_alone_and_together(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    assessment = adviser.assess(case_of(**data.draw(parts)))
    names = [cause.id for cause in assessment.causes]
    assert len(set(names)) == len(names)
    assert set(names) == set(adviser.base.causes) - assessment.findings.excluded
    probabilities = [cause.probability for cause in assessment.causes]
    by_explanation = assessment.belief.by_explanation()
    assert sum(by_explanation.values()) == pytest.approx(1.0, abs=1e-9)
    for cause in assessment.causes:
        at_work = sum(chance for causes, chance in by_explanation.items() if cause.id in causes)
        assert cause.at_work == pytest.approx(at_work, abs=1e-12)
        assert cause.at_work / 2 - 1e-12 <= cause.probability <= cause.at_work + 1e-12
    assert sum(probabilities) == pytest.approx(1.0, abs=1e-9)
    assert probabilities == sorted(probabilities, reverse=True)
    for cause in assessment.causes:
        assert all(reason.decibans > 0 and reason.because for reason in cause.speaks_for)
        assert all(reason.decibans < 0 and reason.because for reason in cause.speaks_against)
        assert (cause.axle is None) == (adviser.base.causes[cause.id].where == "car")


@SOME
@given(data=st.data())
def test_parts_the_car_does_not_have_never_appear(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    """A front-driven electric car: no propshaft, no engine, no clutch; not as a cause, a step or a repair."""
    told = data.draw(parts)
    told["vehicle"] = {**told["vehicle"], "driven": "front", "power": "electric"}
    assessment = adviser.assess(case_of(**told), steps=200)
    names = {cause.id for cause in assessment.causes}
    assert not names & (PROPSHAFT_CAUSES | {"engine-rough-running", "converter-or-clutch-judder"})
    for advice in assessment.next:
        assert not {"propshaft", "engine", "clutch-or-converter"} & set(advice.step.needs), advice.step.id
    if assessment.repair is not None:
        assert assessment.repair.cause in names


def test_a_rear_driven_car_keeps_its_propshaft(adviser: Adviser, case_of: CaseOf) -> None:
    """Otherwise the test above would pass for a rule base without propshafts."""
    rear = case_of(vehicle={"driven": "rear", "engine_placement": "longitudinal", "power": "combustion"})
    assessment = adviser.assess(rear, steps=200)
    assert {cause.id for cause in assessment.causes} >= PROPSHAFT_CAUSES
    assert any("propshaft" in advice.step.needs for advice in assessment.next)


def test_the_steering_wheel_argues_for_the_front(adviser: Adviser, case_of: CaseOf) -> None:
    """Common practice: the steering wheel tells of the front axle; and the seat of the rear."""
    prior = adviser.base.model.believe(())
    _, wheel = adviser.believe(case_of(complaint={"strongest": "steering-wheel"}))
    _, seat = adviser.believe(case_of(complaint={"strongest": "seat"}))

    def front_share(belief: Any, cause: str) -> float:
        axles = belief.of_axle(cause)
        return float(axles["front"] / (axles["front"] + axles["rear"]))

    for cause in WHEEL_CAUSES:
        assert front_share(seat, cause) < front_share(prior, cause) < front_share(wheel, cause), cause
    for text in adviser.base.causes.values():
        if text.where == "axle":
            assert front_share(wheel, text.id) >= front_share(prior, text.id) - 1e-12, text.id


def test_a_repair_is_advised_only_when_one_cause_is_certain_enough(adviser: Adviser, case_of: CaseOf) -> None:
    assert adviser.assess(case_of()).repair is None
    loose = case_of(
        complaint={"severity": "violent", "growth": "days", "noise": ["clunk"]},
        history={"events": [{"what": "wheels-off", "ago_days": 2}]},
        seen={"wheel_wobbles": "yes"},
        steps=[
            {"step": "bay-fasteners", "outcome": "loose"},
            {"step": "bay-feel-tyres", "outcome": "sound"},
            {"step": "bay-steering-play", "outcome": "none"},
        ],
    )
    assessment = adviser.assess(loose)
    assert assessment.causes[0].id == "loose-wheel"
    assert assessment.causes[0].probability >= adviser.base.settings.repair_above
    assert assessment.repair is not None
    assert assessment.repair.cause == "loose-wheel"
    assert assessment.repair.caution
    assert assessment.repair.proof


def test_confirmed_outcome_and_free_text_are_never_read(adviser: Adviser, case_of: CaseOf) -> None:
    told: Parts = {"complaint": {"strongest": "seat", "growth": "slow"}}
    plain = adviser.assess(case_of(**told))
    noisy = case_of(
        complaint={**told["complaint"], "words": "the wheel is loose, it is the propshaft, brakes smoke"},
        outcome={"confirmed_cause": "loose-wheel"},
        notes="bent-rim",
        title="loose-wheel",
    )
    assert essence(adviser.assess(noisy)) == essence(plain)


@pytest.mark.parametrize(
    ("result", "message"),
    [
        ({"step": "no-such-step", "outcome": "yes"}, "no step 'no-such-step'"),
        ({"step": "bay-fasteners", "outcome": "wobbly"}, "'wobbly' is no outcome of 'bay-fasteners'"),
    ],
)
def test_an_unknown_step_or_outcome_is_refused(adviser: Adviser, case_of: CaseOf, result: Parts, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        adviser.assess(case_of(steps=[{"step": "bay-bearing", "outcome": "sound"}, result]))
    assert caught.value.field is not None
    assert caught.value.field.startswith("steps.1.")
