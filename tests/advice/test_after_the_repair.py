"""What is seen after the repair proves it; it must not weigh on what was wrong before. Dangers do listen to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.danger import Danger, how_to_clear
from vibdiag.advice.replay import stages
from vibdiag.case.model import Case
from vibdiag.case.storage import case_from_text, case_to_text
from vibdiag.files.errors import InputError

CaseOf = Callable[..., Case]
LOOSE: dict[str, Any] = {
    "complaint": {"growth": "sudden"},
    "history": {"events": [{"what": "wheels-off", "ago_days": 3}]},
}
FOUND_LOOSE = {"step": "bay-fasteners", "outcome": "loose"}


def loose_wheel(adviser: Adviser, case: Case) -> Danger:
    return next(danger for danger in adviser.assess(case).dangers if danger.cause == "loose-wheel")


@given(data=st.data())
@settings(max_examples=30, deadline=None)
def test_results_after_the_repair_change_no_probability(
    adviser: Adviser, parts: Any, case_of: CaseOf, data: Any
) -> None:
    told = data.draw(parts)
    step = data.draw(st.sampled_from(sorted(adviser.base.steps)))
    outcome = data.draw(st.sampled_from([*adviser.base.steps[step].outcomes, "unknown", "gone"]))
    more = told | {"steps": [*told["steps"], {"step": step, "outcome": outcome, "taken": "after"}]}
    without, with_it = (adviser.believe(case_of(**one)) for one in (told, more))
    assert with_it[1].by_cause() == without[1].by_cause()
    assert with_it[0].evidence == without[0].evidence
    assert with_it[0].unanswered == without[0].unanswered


def test_the_same_result_before_the_repair_does_weigh(adviser: Adviser, case_of: CaseOf) -> None:
    before = case_of(steps=[{"step": "road-brake", "outcome": "brings"}])
    after = case_of(steps=[{"step": "road-brake", "outcome": "brings", "taken": "after"}])
    nothing = adviser.believe(case_of())[1].by_cause()
    assert adviser.believe(after)[1].by_cause() == nothing
    assert adviser.believe(before)[1].by_cause() != nothing


def test_an_unknown_outcome_after_the_repair_is_still_refused(adviser: Adviser, case_of: CaseOf) -> None:
    with pytest.raises(InputError, match="'sideways' is no outcome of 'road-brake'"):
        adviser.assess(case_of(steps=[{"step": "road-brake", "outcome": "sideways", "taken": "after"}]))


def test_gone_is_an_answer_of_after_the_repair_only(adviser: Adviser, case_of: CaseOf) -> None:
    adviser.assess(case_of(steps=[{"step": "road-brake", "outcome": "gone", "taken": "after"}]))
    with pytest.raises(InputError, match="'gone' is no outcome"):
        adviser.assess(case_of(steps=[{"step": "road-brake", "outcome": "gone"}]))


def test_the_check_made_after_the_repair_clears_the_danger_and_keeps_the_cause(
    adviser: Adviser, case_of: CaseOf
) -> None:
    found = case_of(**LOOSE, steps=[FOUND_LOOSE])
    tight = {"step": "bay-fasteners", "outcome": "tight", "taken": "after"}
    mended = case_of(**LOOSE, steps=[FOUND_LOOSE, tight])
    assert loose_wheel(adviser, found).status == "open"
    assert loose_wheel(adviser, mended).status == "cleared"
    assert adviser.assess(mended).causes[0].id == adviser.assess(found).causes[0].id == "loose-wheel"


@pytest.mark.parametrize("how", ["looked", "told"])
def test_a_look_after_the_repair_clears_nothing(adviser: Adviser, case_of: CaseOf, how: str) -> None:
    tight = {"step": "bay-fasteners", "outcome": "tight", "taken": "after", "how": how}
    assert loose_wheel(adviser, case_of(**LOOSE, steps=[FOUND_LOOSE, tight])).status == "open"


def test_found_after_the_repair_raises_a_danger_that_was_cleared(adviser: Adviser, case_of: CaseOf) -> None:
    tight = {"step": "bay-fasteners", "outcome": "tight"}
    again = {"step": "bay-fasteners", "outcome": "loose", "taken": "after"}
    danger = loose_wheel(adviser, case_of(**LOOSE, steps=[tight, again]))
    assert danger.status == "open"
    assert "After the repair" in danger.because[-1]
    raised = loose_wheel(adviser, case_of(steps=[again]))
    assert raised.status == "open"
    sentence = how_to_clear(raised, adviser.base)
    assert adviser.base.steps["bay-fasteners"].title in sentence
    assert adviser.base.steps["bay-fasteners"].outcomes["tight"].says in sentence


def test_the_side_of_the_repair_survives_the_file_and_before_is_left_out(case_of: CaseOf) -> None:
    case = case_of(steps=[{"step": "road-brake", "outcome": "gone", "taken": "after"}, FOUND_LOOSE])
    text = case_to_text(case)
    assert case_from_text(text) == case
    assert text.count("taken:") == 1


def test_no_stage_of_the_story_knows_what_came_after(adviser: Adviser, case_of: CaseOf) -> None:
    after = {"step": "road-brake", "outcome": "gone", "taken": "after"}
    story = stages(case_of(steps=[FOUND_LOOSE, after]), adviser.base)
    assert [result.step for stage in story for result in stage.new_steps] == ["bay-fasteners"]
