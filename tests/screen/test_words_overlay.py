"""The customer's words and speeds: what is refused in one sentence, and what is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.words import WordsOverlay

from .stage import TREMOR, agrees, case_screen, opening, press, said, words

_opened = opening(TREMOR, "w", until=WordsOverlay)
_EMPTY = {"vibdiag_case": 1, "id": "shake"}
pytestmark = pytest.mark.asyncio


async def test_words_of_spaces_do_not_close_the_case_for_good(tmp_path: Path, adviser: Adviser) -> None:
    """Neither typed here nor come from a file."""
    blank = TREMOR | {"complaint": TREMOR["complaint"] | {"words": "  \n   "}}
    async with _opened(tmp_path, adviser, (120, 40), blank) as (pilot, _):
        await press(pilot, "space", "space", "ctrl+s")
        assert isinstance(pilot.app.screen, CaseScreen)
        assert agrees(pilot.app).complaint.words == ""


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (("-5", "", ""), "starts at: must be above 0, and -5 is not"),
        (("fast", "", ""), "starts at: 'fast' is no number; write for example 95"),
        (("90", "60", ""), "worst at: 60 lies below the 90 where it starts"),
        (("90", "", "90"), "fades at: 90 is not above the 90 where it starts"),
        (("", "120", "100"), "fades at: 100 lies below the 120 where it is worst"),
    ],
)
async def test_speeds_that_cannot_be_are_refused_in_one_sentence(
    tmp_path: Path, adviser: Adviser, typed: tuple[str, str, str], sentence: str
) -> None:
    async with _opened(tmp_path, adviser, (80, 24), _EMPTY) as (pilot, _):
        for text in typed:
            await press(pilot, "tab", *words(text))
        await press(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, WordsOverlay)
        assert sentence in said(pilot, "#fault")
        assert agrees(pilot.app).complaint.speed.starts is None


async def test_an_empty_form_says_what_is_needed(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (80, 24), _EMPTY) as (pilot, _):
        await press(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, WordsOverlay)
        assert "a word of the customer's or a speed is needed" in said(pilot, "#fault")
        await press(pilot, *words("xyz"), "ctrl+s")
        assert isinstance(pilot.app.screen, CaseScreen)
        assert agrees(pilot.app).complaint.words == "xyz"


async def test_the_speeds_are_read_back(tmp_path: Path, adviser: Adviser) -> None:
    async with _opened(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "escape")
        await press(pilot, "e")
        lines = case_screen(pilot.app).app.screen.lines  # type: ignore[attr-defined]
        assert lines[1] == "It starts at 95, is worst at 110 and fades at 130 km/h, read from: gps."
