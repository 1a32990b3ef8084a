"""What is typed into a form is never thrown away by one key, nor by the same key pressed twice."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.base import Overlay
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.keep_question import KeepQuestion

from .stage import (
    TREMOR,
    Sight,
    agrees,
    application,
    fill_folder,
    opening,
    press,
    reach,
    settle,
    words,
)

pytestmark = pytest.mark.asyncio
_case = opening(TREMOR, until=CaseScreen)

# How each form is reached from the first screen, and keys that type something into it.
_FORMS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "words": (("down", "enter", "w"), ("x",)),
    "note": (("down", "enter", "n"), ("x",)),
    "vehicle": (("down", "enter", "v"), ("x",)),
    "attach": (("down", "enter", "r", "a"), ("x",)),
    "repair": (("down", "enter", "p", "d"), ("x",)),
    "finish": (("down", "down", "down", "enter", "p", "1", "f"), ("x",)),
    "reopen": (("enter", "p", "o"), ("x",)),
    "call": (("d", "down", "enter"), ("enter", "down", "enter")),
}


@pytest.mark.parametrize("form", _FORMS)
async def test_leaving_a_changed_form_asks_and_leaving_an_unchanged_one_does_not(
    tmp_path: Path, adviser: Adviser, form: str
) -> None:
    app = application(fill_folder(tmp_path), adviser)
    way, typing = _FORMS[form]
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await reach(pilot, Sight(form, way))
        sheet = app.screen
        assert isinstance(sheet, Overlay)
        await press(pilot, "escape")
        assert app.screen is not sheet
        assert not isinstance(app.screen, KeepQuestion)
        await press(pilot, *way[-1:]) if form != "call" else await press(pilot, "d", "down", "enter")
        sheet = app.screen
        await press(pilot, *typing)
        typed = sheet.typed_in()  # type: ignore[attr-defined]
        await press(pilot, "escape")
        assert isinstance(app.screen, KeepQuestion)
        await press(pilot, "escape")
        assert app.screen is sheet
        assert sheet.typed_in() == typed  # type: ignore[attr-defined]
        await press(pilot, "escape", "ctrl+d")
        assert app.screen is not sheet


async def test_the_question_keeps_what_was_typed(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "w", *words(" And cold."), "escape", "enter")
        assert isinstance(pilot.app.screen, CaseScreen)
        assert agrees(pilot.app).complaint.words.endswith(" And cold.")


async def test_what_cannot_be_kept_stays_in_the_form_with_its_sentence(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "v", "x", "escape", "enter")
        assert isinstance(pilot.app.screen, Overlay)
        assert pilot.app.screen.query_one("#field-tyres-front", Input).value.endswith("x")


async def test_a_reading_typed_in_the_bay_is_asked_for(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "m", "f4")
        await press(pilot, "1", ".", "2", "escape")
        assert isinstance(pilot.app.screen, KeepQuestion)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, BayOverlay)
        assert 1.2 in [one.value for one in agrees(pilot.app).measurements]
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, CaseScreen)


async def test_a_digit_faster_than_the_cursor_answers_no_check(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "m")
        before = agrees(pilot.app).steps
        pilot.app.screen.action_turn()  # type: ignore[attr-defined]
        pilot.app.screen.action_choose(1)  # type: ignore[attr-defined]
        await settle(pilot)
        assert agrees(pilot.app).steps == before


async def test_quitting_by_name_asks_too(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "n", "x", "ctrl+p", *words("quit"), "enter")
        assert isinstance(pilot.app.screen, KeepQuestion)
