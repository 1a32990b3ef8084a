"""The road sheet by keyboard alone: every digit is saved, the safety line stays, a danger is said first."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import OptionList, Static

from vibdiag.advice.assess import Adviser
from vibdiag.advice.road_plan import SAFETY
from vibdiag.case.storage import load_case
from vibdiag.case.strengths import Held
from vibdiag.screen.overlays.attach import AttachOverlay
from vibdiag.screen.overlays.road import RoadOverlay
from vibdiag.screen.overlays.road_lines import GONE_DIGIT
from vibdiag.work.road_sheet import note_of, result_of, strengths_of

from .stage import opening

SIZES = [(80, 24), (120, 40)]
SHAKE: dict[str, Any] = {
    "vibdiag_case": 1,
    "id": "shake",
    "title": "Shakes at speed",
    "invented": True,
    "complaint": {
        "words": "It shakes.",
        "speed": {"starts": 90, "worst": 110, "unit": "km/h", "read_from": "gps"},
        "felt_at": ["steering-wheel"],
    },
    "history": {"not_happened": ["wheels-off"]},
}
DANGER: dict[str, Any] = SHAKE | {
    "seen": {"tyre": "bulge-or-cord"},
    "acknowledged": [{"danger": "tyre-belt-damage", "by": "A. Tester"}],
}


opened = opening(SHAKE, "r", until=RoadOverlay)


def text(pilot: Pilot[None], selector: str) -> str:
    return str(pilot.app.screen.query_one(selector, Static).content)


def lines(pilot: Pilot[None]) -> dict[str, str]:
    """What each line says, by its id."""
    box = pilot.app.screen.query_one("#road-lines", OptionList)
    options = [box.get_option_at_index(place) for place in range(box.option_count)]
    return {str(option.id): str(option.prompt) for option in options}


async def go_to(pilot: Pilot[None], line: str) -> None:
    """Arrow down to a line."""
    box = pilot.app.screen.query_one("#road-lines", OptionList)
    options = [box.get_option_at_index(place) for place in range(box.option_count)]
    alive = [str(option.id) for option in options if not option.disabled]
    assert box.highlighted is not None
    here = alive.index(str(options[box.highlighted].id))
    await pilot.press(*["down"] * ((alive.index(line) - here) % len(alive)))
    await pilot.pause()
    assert box.get_option_at_index(box.highlighted).id == line


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_strengths_are_on_the_disk_key_by_key(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        await go_to(pilot, "held 90 km/h")
        await pilot.press("4")
        await pilot.pause()
        assert strengths_of(load_case(path), taken="before") == {Held(90, "km/h"): 4}
        await go_to(pilot, "held 110 km/h")
        await pilot.press("1")
        await pilot.press("0")
        await pilot.pause()
        assert strengths_of(load_case(path), taken="before")[Held(110, "km/h")] == 10
        assert "10 of 10" in lines(pilot)["held 110 km/h"]
        await pilot.press("delete")
        await pilot.pause()
        assert Held(110, "km/h") not in strengths_of(load_case(path), taken="before")


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_one_digit_answers_and_moves_the_ranking(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        before = adviser.believe(load_case(path))[1].by_cause()
        await go_to(pilot, "step road-power")
        word, outcome = next(iter(adviser.base.steps["road-power"].outcomes.items()))
        assert f"[1] {outcome.says}" in text(pilot, "#road-text")
        await pilot.press("1")
        await pilot.pause()
        result = result_of(load_case(path), "road-power", taken="before")
        assert result is not None
        assert (result.outcome, result.role, result.how) == (word, "road", "measured")
        assert lines(pilot)["step road-power"].startswith(f"[x] {adviser.base.steps['road-power'].title}: Only")
        assert adviser.believe(load_case(path))[1].by_cause() != before
        await pilot.press("0")
        await pilot.pause()
        unknown = result_of(load_case(path), "road-power", taken="before")
        assert unknown is not None
        assert unknown.outcome == "unknown"
        await pilot.press("8")
        await pilot.press("delete")
        await pilot.pause()
        assert result_of(load_case(path), "road-power", taken="before") is None


@pytest.mark.asyncio
async def test_every_line_has_caution_and_reason_and_the_leading_causes(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await go_to(pilot, "step road-power")
        said = text(pilot, "#road-text")
        step = adviser.base.steps["road-power"]
        assert f"! CAUTION: {step.caution}" in said
        assert f"Why: {step.why}" in said
        assert all(sentence in said for sentence in step.steps)
        assert "-> " in said


@pytest.mark.asyncio
@pytest.mark.parametrize("size", [*SIZES, (200, 60)])
async def test_the_safety_line_is_whole_and_in_sight_wherever_one_reads(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size, DANGER) as (pilot, _):
        seen = [line for line in lines(pilot) if line.startswith("step road-")]
        await go_to(pilot, seen[0])
        for _ in range(6):
            await pilot.press("pagedown")
        await pilot.pause()
        box = pilot.app.screen.query_one("#road-safety", Static)
        assert str(box.content) == SAFETY
        shown = "\n".join(
            "".join(part.text for part in strip) for strip in pilot.app.screen._compositor.render_strips()
        )
        for words in SAFETY.split():
            assert words in shown
        assert box.region.bottom <= size[1] - 1
        detail = pilot.app.screen.query_one("#road-detail")
        assert detail.scroll_offset.y > 0 or size[1] > 24
        assert detail.region.height >= 4


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_an_open_danger_is_said_first_with_its_check(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size, DANGER) as (pilot, _):
        said = text(pilot, "#road-danger")
        assert said.startswith("!! THE CAR DOES NOT MOVE YET")
        assert adviser.base.steps["bay-feel-tyres"].title in said
        box = pilot.app.screen.query_one("#road-danger")
        assert box.region.y < pilot.app.screen.query_one("#road-lines").region.y
        assert box.region.height >= 3


@pytest.mark.asyncio
async def test_without_a_danger_nothing_is_said_of_one(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, _):
        assert not pilot.app.screen.query_one("#road-danger").display


@pytest.mark.asyncio
async def test_speeds_are_shown_in_the_chosen_unit_and_kept_in_the_cases_own(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await pilot.press("escape")
        await pilot.press("f2")
        await pilot.press("r")
        await pilot.pause()
        assert "68 mph" in lines(pilot)["held 110 km/h"]
        await go_to(pilot, "held 110 km/h")
        await pilot.press("7")
        await pilot.pause()
        assert strengths_of(load_case(path), taken="before") == {Held(110, "km/h"): 7}


@pytest.mark.asyncio
async def test_a_note_goes_word_for_word_with_its_line(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await go_to(pilot, "step road-power")
        await pilot.press("1", "n")
        await pilot.pause()
        await pilot.press(*"only uphill", "ctrl+s")
        await pilot.pause()
        assert note_of(load_case(path), "road-power", taken="before") == "only uphill"
        assert "only uphill" in text(pilot, "#road-text")
        await pilot.press("n")
        await pilot.pause()
        await pilot.press("x", "escape")
        await pilot.pause()
        assert note_of(load_case(path), "road-power", taken="before") == "only uphill"


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_a_recording_must_be_there(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        (path.parent / "seat.csv").write_text("t,a\n", encoding="utf-8")
        await pilot.press("a")
        await pilot.pause()
        await pilot.press(*"set.csv", "ctrl+s")
        await pilot.pause()
        assert isinstance(pilot.app.screen, AttachOverlay)
        assert text(pilot, "#fault").startswith("! there is no file 'set.csv'")
        await pilot.press(*["backspace"] * 7, *"seat.csv", "ctrl+s")
        await pilot.pause()
        assert [one.path for one in load_case(path).attachments] == ["seat.csv"]
        assert "seat.csv" in lines(pilot)["file seat.csv"]
        (path.parent / "seat.csv").unlink()
        await pilot.press("escape", "r")
        await pilot.pause()
        assert "! not there any more" in lines(pilot)["file seat.csv"]
        await go_to(pilot, "file seat.csv")
        await pilot.press("delete")
        await pilot.pause()
        assert load_case(path).attachments == []


@pytest.mark.asyncio
async def test_the_order_stays_while_the_sheet_is_open_and_undo_takes_one_key_back(
    tmp_path: Path, adviser: Adviser
) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        order = list(lines(pilot))
        await go_to(pilot, "step road-power")
        await pilot.press("1")
        await pilot.pause()
        assert list(lines(pilot)) == order
        await pilot.press("escape")
        await pilot.press("u")
        await pilot.pause()
        assert load_case(path).steps == []


@pytest.mark.asyncio
async def test_help_speaks_of_the_road(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, _):
        await pilot.press("f1")
        await pilot.pause()
        assert "Hold speed after speed" in text(pilot, ".sheet-text")


def test_no_road_observation_needs_the_digit_of_gone(adviser: Adviser) -> None:
    road = [step for step in adviser.base.steps.values() if step.kind == "road"]
    assert road
    assert all(len(step.outcomes) < GONE_DIGIT for step in road)
