"""The demo cases teach: what they conclude must follow from the rules, and their order must be a safe one.

They are invented, so they say nothing about how often the program is right; the published cases do that.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import pytest

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.case.model import Case, StepResult
from vibdiag.case.storage import case_from_text, case_to_text, load_folder
from vibdiag.files.shipped import shipped_folder

DEMOS = {path.stem: (path, case) for path, case in load_folder(shipped_folder("cases"))}
FIRST_LINE = "# Invented for practice: no such car, customer or workshop."
# Roles stand in a demo where a name would stand in a workshop's own case.
ROLES = {"advisor", "technician", "road tester", "customer", "tyre fitter", "another workshop"}

each_demo = pytest.mark.parametrize("case", [case for _, case in DEMOS.values()], ids=list(DEMOS))


@pytest.fixture(scope="module")
def adviser() -> Adviser:
    return Adviser.shipped()


def confirming_index(case: Case) -> int:
    """Where the confirming result stands: the last result of the confirming step."""
    assert case.outcome is not None
    step = case.outcome.confirming_step
    return max(index for index, result in enumerate(case.steps) if result.step == step)


def before_confirming(case: Case) -> Case:
    """The case as it stood before the confirming result; an earlier, merely told verdict stays in it."""
    index = confirming_index(case)
    return with_steps(case, [*case.steps[:index], *case.steps[index + 1 :]])


def with_steps(case: Case, steps: Sequence[StepResult]) -> Case:
    return case.model_copy(update={"steps": list(steps)})


def rank_of(assessment: Assessment, cause: str) -> int:
    return [ranked.id for ranked in assessment.causes].index(cause) + 1


def open_dangers(adviser: Adviser, case: Case) -> set[str]:
    """Dangers that a rule has raised and no check has cleared; those of a mere probability move with the tables."""
    assessment = adviser.assess(case)
    return {
        danger.cause
        for danger in assessment.dangers
        if danger.status == "open" and danger.cause in assessment.findings.raised
    }


@each_demo
def test_the_confirmed_cause_is_among_the_first_three_before_the_confirming_check(adviser: Adviser, case: Case) -> None:
    assert case.outcome is not None
    assert rank_of(adviser.assess(before_confirming(case)), case.outcome.confirmed_cause) <= 3


@each_demo
def test_the_confirmed_cause_comes_first_with_the_whole_case(adviser: Adviser, case: Case) -> None:
    assert case.outcome is not None
    first, second = adviser.assess(case).causes[:2]
    if case.outcome.secondary_cause is not None and first.together:
        assert {first.id, second.id} == {case.outcome.confirmed_cause, case.outcome.secondary_cause}
        assert min(first.at_work, second.at_work) > 0.8
    else:
        assert first.id == case.outcome.confirmed_cause
        assert first.probability > 2 * second.probability
    if first.axle is not None:
        assert first.axle == case.outcome.axle


@each_demo
def test_nothing_else_in_the_case_repeats_the_confirming_check(adviser: Adviser, case: Case) -> None:
    """Otherwise taking the confirming result away would take nothing away."""
    assert case.outcome is not None
    assert case.outcome.confirming_step is not None
    sign = adviser.base.steps[case.outcome.confirming_step].sign
    others = [result for result in case.steps if adviser.base.steps[result.step].sign != sign]
    findings, _ = adviser.believe(with_steps(case, others))
    assert sign not in {evidence.sign for evidence in findings.evidence}


@each_demo
def test_the_last_bay_check_is_measured_and_confirms(case: Case) -> None:
    assert case.outcome is not None
    in_the_bay = [result for result in case.steps if result.role == "bay"]
    assert in_the_bay[-1].step == case.outcome.confirming_step
    assert in_the_bay[-1].how == "measured"
    assert case.steps[-1] is in_the_bay[-1]


@each_demo
def test_every_step_exists_and_is_done_by_someone_who_may(adviser: Adviser, case: Case) -> None:
    for result in case.steps:
        step = adviser.base.steps[result.step]
        assert result.outcome in (*step.outcomes, "unknown")
        # A verdict handed on is taken down by whoever hears it.
        assert result.role in step.who or result.how == "told"


@each_demo
def test_steps_stand_in_the_order_they_happened(case: Case) -> None:
    assert case.opened_at is not None
    assert case.outcome is not None
    assert case.outcome.at is not None
    times = [case.opened_at, *(moment(result) for result in case.steps), case.outcome.at]
    assert times == sorted(times)
    assert all(time.tzinfo is not None and time.astimezone(UTC).year == 2026 for time in times)


def moment(result: StepResult) -> datetime:
    assert result.at is not None, result.step
    return result.at


@each_demo
def test_no_road_test_while_a_danger_that_a_rule_has_raised_is_open(adviser: Adviser, case: Case) -> None:
    for index, result in enumerate(case.steps):
        if result.role == "road":
            assert not open_dangers(adviser, with_steps(case, case.steps[:index])), result.step


@each_demo
def test_a_confirmed_danger_was_shown_open_before_the_confirming_check(adviser: Adviser, case: Case) -> None:
    assert case.outcome is not None
    cause = case.outcome.confirmed_cause
    text = adviser.base.causes[cause].danger
    if text is None or text.raise_above >= 1.0:
        pytest.skip(f"{cause} is no danger, or only where a rule says so")
    shown = {danger.cause for danger in adviser.assess(before_confirming(case)).dangers if danger.status == "open"}
    assert cause in shown


@each_demo
def test_answers_do_not_clash(adviser: Adviser, case: Case) -> None:
    assert adviser.assess(case).clashes == ()


@each_demo
def test_the_repair_that_cured_it_is_there_and_proved(case: Case) -> None:
    assert case.history.repairs[-1].effect == "cured"
    assert [repair.effect for repair in case.history.repairs].count("cured") == 1
    assert case.outcome is not None
    assert case.outcome.proof
    assert case.outcome.place


@each_demo
def test_a_case_survives_being_written_and_read(case: Case) -> None:
    assert case_from_text(case_to_text(case)) == case


@pytest.mark.parametrize("stem", DEMOS)
def test_a_demo_says_that_it_is_invented_and_names_nobody(stem: str) -> None:
    path, case = DEMOS[stem]
    assert path.read_text(encoding="utf-8").splitlines()[0] == FIRST_LINE
    assert case.invented
    assert case.id == f"demo-{stem}"
    assert case.complaint.words
    signed = [case, *case.steps, *case.measurements, *case.history.repairs, case.outcome]
    signatures = {
        signature
        for part in signed
        for signature in (getattr(part, "by", None), getattr(part, "opened_by", None))
        if signature is not None
    }
    assert signatures <= ROLES


def test_the_demos_differ() -> None:
    cases = [case for _, case in DEMOS.values()]
    assert len({case.outcome.confirmed_cause for case in cases if case.outcome}) >= 14
    assert {case.complaint.speed.unit for case in cases} == {"km/h", "mph"}
    assert {case.vehicle.driven for case in cases} == {"front", "rear", "all"}
    assert "electric" in {case.vehicle.power for case in cases}


def test_the_main_demo_goes_all_the_way_from_desk_to_road_to_bay() -> None:
    _, case = DEMOS["motorway-tremor"]
    assert {result.role for result in case.steps} == {"desk", "road", "bay"}
    assert {result.how for result in case.steps} >= {"told", "measured"}
    assert case.measurements
