"""The trail: everything that is known about the case, in words a person reads."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.trail_lines import entries
from vibdiag.screen.trail_panel import TrailPanel

from .stage import TREMOR, agrees, case_screen, opening, press

_opened = opening(TREMOR, "t", until=CaseScreen)
_LONG = "First line of three.\nThe second says where.\n" + "And then it went on and on for a long while. " * 12
_TOLD: dict[str, Any] = TREMOR | {
    "complaint": TREMOR["complaint"]
    | {"words": _LONG, "strongest": "brake-pedal", "conditions": {"constant_speed": "brings"}},
    "seen": {"rim_bent": "yes"},
    "notes": "Closed as hub-centring-error, reopened: it hums.",
    "steps": [
        {"step": "ask-driveline-work", "outcome": "yes", "words": "The gearbox, in spring."},
        {
            "step": "ask-where",
            "outcome": "seat-or-floor",
            "how": "looked",
            "words": "Strength 0 to 10: 95 km/h 3.\nOnly wet.",
        },
    ],
    "acknowledged": [{"danger": "loose-wheel", "by": "Kim", "at": "2026-03-18T08:00:00+00:00"}],
}


def _lines(case: dict[str, Any], adviser: Adviser) -> str:
    return "\n".join(line for entry in entries(Case.model_validate(case), adviser.base) for line in entry.lines)


def test_everything_known_stands_in_it(adviser: Adviser) -> None:
    text = _lines(_TOLD, adviser)
    for told in (
        "The second says where. And then",
        "felt at: steering wheel",
        "strongest: brake pedal",
        "constant speed brings it on",
        "seen, rim bent: yes",
        "“The gearbox, in spring.”",
        "strength of 10: 95 km/h 3",
        "“Only wet.”",
        "signed 18 Mar 08:00 · Kim",
        "Closed as Wheel off-centre on its hub, reopened",
    ):
        assert told in text


def test_no_word_of_the_files_reaches_a_reader(adviser: Adviser) -> None:
    text = _lines(_TOLD, adviser)
    for word in (
        "steering-wheel",
        "brake-pedal",
        ": brings",
        "loose-wheel",
        "(unknown)",
        "not-happened",
        "narrow-band",
    ):
        assert word not in text


@pytest.mark.asyncio
async def test_long_words_are_folded_to_a_few_lines(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (120, 40), _TOLD) as (pilot, _):
        trail = case_screen(pilot.app).query_one("#trail", TrailPanel)
        folded = str(trail.get_option_at_index(1).prompt).splitlines()
        assert len(folded) == 6
        assert folded[-1].endswith("…")


@pytest.mark.asyncio
async def test_withdrawing_and_undoing_name_the_step(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await press(pilot, "end", "delete", "u")
        assert len(agrees(pilot.app).steps) == len(TREMOR["steps"])
        assert case_screen(pilot.app).desk.redo() == f"withdrew {adviser.base.steps['bay-balance-audit'].title}"


@pytest.mark.asyncio
async def test_a_question_with_its_mark_reads_as_one_line(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        desk, step = case_screen(pilot.app).desk, adviser.base.steps["bay-rock-the-wheel"]
        assert step.title.endswith("?")
        desk.answer(step, "unknown")
        assert desk.undo() == f"{step.title[:-1]}: don't know"


@pytest.mark.asyncio
async def test_the_undo_says_what_the_answer_said(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        desk, step = case_screen(pilot.app).desk, adviser.base.steps["ask-driveline-part"]
        word = next(word for word in step.outcomes if "-" in word)
        desk.answer(step, word)
        assert desk.undo() == f"{step.title}: {step.outcomes[word].says}"
