"""A danger outranks every probability: only its own check, done properly, clears it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.danger import Danger
from vibdiag.case.model import Case

CaseOf = Callable[..., Case]
Parts = dict[str, Any]
SOME = settings(max_examples=40, deadline=None)

# A complaint that raises the danger, by a rule that tests nothing for being unknown: more words cannot unsay it.
RAISED: dict[str, Parts] = {
    "loose-wheel": {"complaint": {"growth": "sudden"}, "history": {"events": [{"what": "wheels-off", "ago_days": 3}]}},
    "tyre-belt-damage": {"seen": {"tyre": "bulge-or-cord"}},
    "brake-drag": {"complaint": {"heat_or_smell": "yes"}},
    "wheel-bearing": {"complaint": {"noise": ["hum-or-growl"]}, "seen": {"wheel_wobbles": "yes"}},
    "steering-suspension-play": {"complaint": {"conditions": {"rough_road": "brings"}, "strongest": "steering-wheel"}},
}
each_danger = pytest.mark.parametrize("cause", RAISED)


def danger_of(assessment: Assessment, cause: str) -> Danger | None:
    return next((danger for danger in assessment.dangers if danger.cause == cause), None)


def merged(extra: Any, base: Any) -> Any:
    """`extra` with everything that `base` says on top."""
    if isinstance(extra, dict) and isinstance(base, dict):
        return {key: merged(extra.get(key), base.get(key, extra.get(key))) for key in {**extra, **base}}
    return base


def clearing_result(adviser: Adviser, cause: str, how: str) -> Parts:
    text = adviser.base.causes[cause].danger
    assert text is not None
    return {"step": text.cleared_by, "outcome": text.clear_outcome, "how": how}


def without_check(adviser: Adviser, told: Parts, cause: str) -> list[Parts]:
    text = adviser.base.causes[cause].danger
    assert text is not None
    return [result for result in told["steps"] if result["step"] != text.cleared_by]


@each_danger
def test_a_rule_raises_it_and_says_why(adviser: Adviser, case_of: CaseOf, cause: str) -> None:
    danger = danger_of(adviser.assess(case_of(**RAISED[cause])), cause)
    assert danger is not None
    assert danger.status == "open"
    assert danger.because
    assert danger.says
    text = adviser.base.causes[cause].danger
    assert text is not None
    assert danger.clear_with == text.cleared_by


@each_danger
@SOME
@given(data=st.data())
def test_it_stays_whatever_else_is_said_until_its_check_is_measured(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject, cause: str
) -> None:
    told = data.draw(parts)
    steps = without_check(adviser, told, cause)
    whole = merged({**told, "steps": steps}, RAISED[cause])
    for weak in ([], ["told"], ["looked"]):
        case = case_of(**{**whole, "steps": [*steps, *(clearing_result(adviser, cause, how) for how in weak)]})
        danger = danger_of(adviser.assess(case), cause)
        assert danger is not None, weak
        assert danger.status == "open", weak
    unanswered = {**clearing_result(adviser, cause, "measured"), "outcome": "unknown"}
    danger = danger_of(adviser.assess(case_of(**{**whole, "steps": [*steps, unanswered]})), cause)
    assert danger is not None
    assert danger.status == "open"
    measured = {**whole, "steps": [*steps, clearing_result(adviser, cause, "measured")]}
    danger = danger_of(adviser.assess(case_of(**measured)), cause)
    assert danger is not None
    assert danger.status == "cleared"


@each_danger
@SOME
@given(data=st.data())
def test_while_it_is_open_its_check_stands_first(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject, cause: str
) -> None:
    """Also when a repair was told to have settled it, or its sign follows from something else that was told."""
    told = data.draw(parts)
    whole = merged({**told, "steps": without_check(adviser, told, cause)}, RAISED[cause])
    assessment = adviser.assess(case_of(**whole), steps=20)
    clearing = [danger.cause for danger in assessment.dangers if danger.status == "open" and danger.clear_with]
    offered = [advice.clears for advice in assessment.next]
    assert cause in offered
    leading = [clears for clears in offered if clears is not None]
    assert offered[: len(leading)] == leading
    assert set(leading) <= set(clearing)


@pytest.mark.parametrize(
    ("repair", "cause"), [("fasteners-tightened", "loose-wheel"), ("bearing-renewed", "wheel-bearing")]
)
def test_work_that_was_told_of_does_not_hide_the_check(
    adviser: Adviser, case_of: CaseOf, repair: str, cause: str
) -> None:
    told = merged(RAISED[cause], {"history": {"repairs": [{"what": repair, "effect": "none"}]}})
    assessment = adviser.assess(case_of(**told))
    danger = danger_of(assessment, cause)
    assert danger is not None
    assert danger.status == "open"
    assert danger.clear_with in [advice.step.id for advice in assessment.next]


def test_even_brake_temperatures_do_not_hide_the_check_of_a_hot_brake(adviser: Adviser, case_of: CaseOf) -> None:
    heat = [
        {"quantity": "brake-temperature", "value": value, "unit": "C", "wheel": wheel}
        for value, wheel in ((60.0, "front-left"), (62.0, "front-right"))
    ]
    assessment = adviser.assess(case_of(**RAISED["brake-drag"], measurements=heat))
    danger = danger_of(assessment, "brake-drag")
    assert danger is not None
    assert danger.status == "open"
    assert danger.clear_with in [advice.step.id for advice in assessment.next if advice.clears]


@each_danger
def test_its_check_measured_bad_keeps_it_open(adviser: Adviser, case_of: CaseOf, cause: str) -> None:
    text = adviser.base.causes[cause].danger
    assert text is not None
    assert text.cleared_by is not None
    bad = [word for word in adviser.base.steps[text.cleared_by].outcomes if word != text.clear_outcome]
    for word in bad:
        case = case_of(**RAISED[cause], steps=[{"step": text.cleared_by, "outcome": word}])
        danger = danger_of(adviser.assess(case), cause)
        assert danger is not None
        assert danger.status == "open"


def test_the_check_after_the_repair_decides_what_is_still_open(adviser: Adviser, case_of: CaseOf) -> None:
    """It clears the danger when it finds the mended part sound, opens it again when not, and moves no probability."""
    loose: Parts = {"step": "bay-fasteners", "outcome": "loose"}
    before = adviser.assess(case_of(**RAISED["loose-wheel"], steps=[loose]))
    for outcome, status in (("tight", "cleared"), ("loose", "open")):
        again = {"step": "bay-fasteners", "outcome": outcome, "taken": "after"}
        after = adviser.assess(case_of(**RAISED["loose-wheel"], steps=[loose, again]))
        danger = danger_of(after, "loose-wheel")
        assert danger is not None
        assert danger.status == status
        assert after.belief.posterior.tolist() == before.belief.posterior.tolist()
    quick_look = {"step": "bay-fasteners", "outcome": "tight", "taken": "after", "how": "looked"}
    danger = danger_of(adviser.assess(case_of(**RAISED["loose-wheel"], steps=[loose, quick_look])), "loose-wheel")
    assert danger is not None
    assert danger.status == "open"


def test_a_cause_that_becomes_probable_is_a_danger_without_a_rule(adviser: Adviser, case_of: CaseOf) -> None:
    """Enough of the cause's own signs, none of which a rule takes for a danger."""
    for cause, text in adviser.base.causes.items():
        if text.danger is None:
            continue
        belief = adviser.base.model.believe(())
        assessment = adviser.assess(case_of())
        raised = danger_of(assessment, cause)
        assert (raised is not None) == (belief.of_cause(cause) >= text.danger.raise_above)
    warm = case_of(complaint={"pull": "yes", "sluggish": "yes", "conditions": {"warm": "brings"}})
    assessment = adviser.assess(warm)
    assert "brake-drag" not in assessment.findings.raised
    danger = danger_of(assessment, "brake-drag")
    assert danger is not None
    assert "has become probable" in danger.because[0]
    assert danger.probability == pytest.approx(assessment.belief.of_cause("brake-drag"))


@SOME
@given(data=st.data())
def test_every_danger_says_what_to_do_and_the_open_ones_come_first(
    adviser: Adviser, parts: st.SearchStrategy[Parts], case_of: CaseOf, data: st.DataObject
) -> None:
    assessment = adviser.assess(case_of(**data.draw(parts)))
    grave = {cause for cause, text in adviser.base.causes.items() if text.danger is not None and text.danger.stop_now}
    keys = [
        (danger.status == "cleared", danger.cause not in grave, -danger.probability) for danger in assessment.dangers
    ]
    assert keys == sorted(keys)
    shown = {danger.cause for danger in assessment.dangers}
    assert shown >= set(assessment.findings.raised)
    for cause, text in adviser.base.causes.items():
        if text.danger is not None and assessment.belief.of_cause(cause) >= text.danger.raise_above:
            assert cause in shown


def test_a_danger_that_was_shown_or_signed_for_stays_when_its_cause_becomes_improbable(
    adviser: Adviser, case_of: CaseOf
) -> None:
    cause = "steering-suspension-play"
    for kept in ({"dangers_shown": [cause]}, {"acknowledged": [{"danger": cause, "by": "A. Tester"}]}):
        quiet = adviser.assess(case_of(**kept))
        danger = danger_of(quiet, cause)
        assert danger is not None
        assert danger.status == "open"
        assert danger.because == ("It was raised earlier in this case, and stays until its check clears it.",)
        cleared = adviser.assess(case_of(steps=[clearing_result(adviser, cause, "measured")], **kept))
        danger = danger_of(cleared, cause)
        assert danger is not None
        assert danger.status == "cleared"
    assert danger_of(adviser.assess(case_of()), cause) is None


@each_danger
def test_while_a_danger_is_open_nothing_that_drives_the_car_is_offered(
    adviser: Adviser, case_of: CaseOf, cause: str
) -> None:
    def driving(assessment: Assessment) -> list[str]:
        return [item.step.id for item in assessment.next if item.step.kind == "road" or item.step.drives]

    held = adviser.assess(case_of(**RAISED[cause]), steps=100)
    assert held.stands_still
    assert held.next
    assert not driving(held)
    free = adviser.assess(case_of(), steps=100)
    assert not free.stands_still
    assert "bay-known-good" in driving(free)
    assert any(item.step.kind == "road" for item in free.next)
    others = [danger for danger in held.dangers if danger.cause != cause]
    if not others:
        clean = clearing_result(adviser, cause, "measured")
        after = merged({"steps": [clean]}, RAISED[cause])
        assert driving(adviser.assess(case_of(**after), steps=100))


def test_what_can_take_a_wheel_or_the_steering_is_said_before_what_is_likelier(
    adviser: Adviser, case_of: CaseOf
) -> None:
    """A crash with a worn axle: the steering first, although the ranking holds the axle for likelier."""
    case = case_of(
        history={"events": [{"what": "crash"}]},
        steps=[{"step": "bay-axle-play", "outcome": "worn"}],
    )
    dangers = adviser.assess(case).dangers
    axle = next(danger for danger in dangers if danger.cause == "final-drive")
    steering = next(danger for danger in dangers if danger.cause == "steering-suspension-play")
    assert steering.probability < axle.probability
    assert dangers.index(steering) < dangers.index(axle)
