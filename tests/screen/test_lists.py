"""Lists and hints at their width: one line an entry, names whole, and a sentence where nothing fits."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input, OptionList

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.steps import StepsOverlay

from .stage import TREMOR, opening, press, settle, text_of, words

pytestmark = pytest.mark.asyncio
_case = opening(TREMOR, until=CaseScreen)
_EMPTY = {"vibdiag_case": 1, "id": "shake"}
SIZES = [(80, 24), (120, 40)]


@pytest.mark.parametrize("key", ["l", "m"])
@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_every_entry_has_one_line_with_its_whole_name(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int], key: str
) -> None:
    async with _case(tmp_path, adviser, size) as (pilot, _):
        await press(pilot, key)
        box = pilot.app.screen.query_one("#steps" if key == "l" else "#checks", OptionList)
        room = box.scrollable_content_region.width - 2
        assert box.option_count > 10
        for place in range(box.option_count):
            option = box.get_option_at_index(place)
            line = str(option.prompt)
            assert len(line) <= room
            if "=" not in line:
                assert adviser.base.steps[str(option.id)].title in line


async def test_a_search_without_a_match_says_so(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        await press(pilot, "l", *words("zzzz"))
        assert "No step that is possible now is called so: zzzz." in text_of(pilot.app)
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, StepsOverlay)
        await press(pilot, *["backspace"] * 4)
        assert "called so" not in text_of(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_the_vehicle_s_hints_are_whole(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with _case(tmp_path, adviser, size, _EMPTY) as (pilot, _):
        await press(pilot, "v")
        await settle(pilot)
        for field in pilot.app.screen.query(Input):
            assert len(field.placeholder) <= field.content_size.width, field.placeholder
