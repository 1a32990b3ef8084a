"""A red flag without a danger of its own stops the interview until somebody says that it was said."""

from __future__ import annotations

from pathlib import Path

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen

from .stage import application, sign_dangers


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
