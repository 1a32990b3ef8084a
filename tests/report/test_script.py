"""The advisor's script: red flags on top, what a danger hangs on first, the rest by what it tells."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.script import Script, write_script
from vibdiag.case.storage import load_case
from vibdiag.files.shipped import shipped_folder
from vibdiag.reasoning.belief import Evidence
from vibdiag.reasoning.inquiry import gain_of
from vibdiag.report.pages import render
from vibdiag.report.script_text import script_lines


@pytest.fixture(scope="module")
def script(adviser: Adviser) -> Script:
    return write_script(adviser)


def test_what_a_danger_may_hang_on_is_asked_first(script: Script, adviser: Adviser) -> None:
    always = {step.id for step in adviser.base.steps.values() if step.always}
    assert always
    first = {question.step.id for question in script.questions[: len(always)]}
    assert first == always


def test_every_question_is_asked_once_and_tells_something(script: Script) -> None:
    signs = [question.step.sign for question in script.questions]
    assert len(signs) == len(set(signs))
    assert all(question.bits > 0 for question in script.questions if not question.step.always)
    branched = [branch.then.id for question in script.questions for branch in question.branches]
    assert len(branched) == len(set(branched))
    assert not set(branched) & {question.step.id for question in script.questions}


def test_the_first_free_question_is_the_best_of_all_by_brute_force(script: Script, adviser: Adviser) -> None:
    base = adviser.base
    nothing = base.model.believe(())

    def per_minute(step_id: str) -> float:
        step = base.steps[step_id]
        return gain_of(nothing, step.sign).worth(base.settings.axle_worth) * step.answered / step.minutes

    questions = [s.id for s in base.steps.values() if s.kind == "question" and "desk" in s.who and not s.always]
    best = max(questions, key=per_minute)
    chosen = next(question.step.id for question in script.questions if not question.step.always)
    assert per_minute(chosen) == pytest.approx(per_minute(best), rel=1e-9)


def test_the_same_rule_base_gives_the_same_script(script: Script, adviser: Adviser) -> None:
    assert write_script(adviser) == script


def test_a_branch_tells_more_after_its_answer_than_before(script: Script, adviser: Adviser) -> None:
    base = adviser.base
    nothing = base.model.believe(())
    for question in script.questions:
        for branch in question.branches:
            after = nothing.with_more([Evidence(question.step.sign, branch.word)])
            worth = [gain_of(belief, branch.then.sign).worth(base.settings.axle_worth) for belief in (nothing, after)]
            assert worth[1] > worth[0]
            assert np.isclose(branch.bits, worth[1] * branch.then.answered, rtol=1e-6)


def test_for_a_case_only_what_is_open_is_left(adviser: Adviser) -> None:
    case = load_case(shipped_folder("cases") / "motorway-tremor.yaml")
    assessment = adviser.assess(case)
    script = write_script(adviser, assessment=assessment)
    known = {item.sign for item in assessment.belief.evidence}
    assert script.open_for == case.id
    assert all(question.step.sign not in known for question in script.questions)


def test_the_text_has_tick_boxes_and_fits_eighty_columns(adviser: Adviser, script: Script) -> None:
    lines = "\n".join(script_lines(script, "What to ask")).split("\n")
    assert max(map(len, lines)) <= 80
    ticks = sum("[ ]" in line for line in lines)
    assert ticks == sum(len(question.step.outcomes) + 1 for question in script.questions)
    assert lines.index("STOP AND SAY SO") < lines.index("ASK IN THIS ORDER")
    flags = "\n".join(lines[lines.index("STOP AND SAY SO") + 1 : lines.index("IN THE CUSTOMER'S OWN WORDS")])
    assert flags.startswith("  !! A wheel was off lately")  # a wheel that comes off is the worst of them
    base = adviser.base
    grave = [f"{step.title}: {step.outcomes[word].says}" for step in base.steps.values() for word in step.stop_now]
    assert len(grave) >= 4
    assert {answer for answer, _ in script.red_flags[: len(grave)]} == set(grave)
    assert all(" ".join(f"{answer}. {says}".split()) in " ".join(flags.split()) for answer, says in script.red_flags)


def test_the_page_is_self_contained_and_escapes_what_it_is_given(script: Script, tmp_path: Path) -> None:
    page = render("script", title="<b>what & where</b>", script=script)
    assert "&lt;b&gt;what &amp; where&lt;/b&gt;" in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    for question in script.questions:
        assert question.step.outcomes
    (tmp_path / "script.html").write_text(page, encoding="utf-8")
