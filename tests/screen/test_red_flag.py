"""A red flag without a danger of its own stops the interview until somebody says that it was said."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input, OptionList

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen

from .stage import agrees, application, case_screen, fill_folder, press, settle, sign_dangers


@pytest.mark.asyncio
async def test_a_violent_shake_stops_the_interview(tmp_path: Path, adviser: Adviser) -> None:
    app = application(tmp_path / "cases", adviser)
    key = app.shelf.create(by=None)
    async with app.run_test(size=(80, 24)) as pilot:
        app.action_open_case(key)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, CaseScreen)
        screen.step_chosen("ask-severity")
        await pilot.pause()
        words = list(adviser.base.steps["ask-severity"].outcomes)
        await pilot.press(str(words.index("violent") + 1))
        await pilot.pause()
        await sign_dangers(pilot)  # a danger that came up with it is read first
        flag = adviser.base.steps["ask-severity"].red_flag["violent"]
        assert screen.now().plain[2] == flag
        await pilot.press("1")
        await pilot.pause()
        assert len(screen.desk.case.steps) == 1  # nothing is answered while it stands there
        await pilot.press("enter")
        await pilot.pause()
        assert screen.now().step is not None


@pytest.mark.asyncio
async def test_digits_meant_as_an_answer_are_no_signature(tmp_path: Path, adviser: Adviser) -> None:
    app = application(fill_folder(tmp_path), adviser)
    app.preferences.name = ""
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "down", "enter")
        box = case_screen(app).query_one("#danger-name", Input)
        box.focus()
        await press(pilot, "1", "1", "enter")
        assert box.value == "11"
        assert agrees(app).acknowledged == []
        box.value = "Åsa"
        await press(pilot, "enter")
        assert [one.by for one in agrees(app).acknowledged] == ["Åsa"]


@pytest.mark.asyncio
async def test_a_red_flag_found_in_the_bay_is_said_over_the_bay(tmp_path: Path, adviser: Adviser) -> None:
    app = application(fill_folder(tmp_path), adviser)
    step = adviser.base.steps["bay-feel-tyres"]
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "m")
        checks = app.screen.query_one("#checks", OptionList)
        checks.highlighted = checks.get_option_index(step.id)
        await press(pilot, str(list(step.outcomes).index("bulge-or-cord") + 1))
        assert agrees(app).steps[-1].step == step.id
        told = " ".join(one.message for one in app._notifications)
        assert step.red_flag["bulge-or-cord"] in told
