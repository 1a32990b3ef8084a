"""The step in hand: its caution and its outcomes are in sight together, and no message lies over them."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from vibdiag.advice.assess import Adviser
from vibdiag.screen.case_screen import CaseScreen

from .stage import (
    BULGE,
    TREMOR,
    agrees,
    application,
    case_screen,
    fill_folder,
    opening,
    press,
    settle,
    sign_dangers,
    text_of,
)

pytestmark = pytest.mark.asyncio
_case = opening(TREMOR, until=CaseScreen)
SIZES = [(80, 24), (120, 40)]


def hardest(adviser: Adviser) -> list[str]:
    """The steps with the most to keep in sight, and two that hid their caution."""
    steps = sorted(
        adviser.base.steps.values(),
        key=lambda step: -len(step.caution or "") - 75 * len(step.outcomes),
    )
    return [*(step.id for step in steps[:8]), "bay-rock-the-wheel", "bay-bead-line"]


def flat(pilot: Pilot[None]) -> str:
    """The middle of the screen in one line, without what stands beside it."""
    columns = pilot.app.size.width
    lines = text_of(pilot.app).splitlines()
    side = 38 if columns >= 120 else 0
    return " ".join(" ".join(line[side : columns - side] for line in lines).split())


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_caution_then_what_to_do_then_outcomes_all_in_sight(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with _case(tmp_path, adviser, size) as (pilot, _):
        for name in hardest(adviser):
            step = adviser.base.steps[name]
            case_screen(pilot.app).step_chosen(name)
            await settle(pilot)
            seen = flat(pilot)
            assert f"! CAUTION: {step.caution}" in seen, name
            places = [seen.index(f"[{number}] ") for number in range(1, len(step.outcomes) + 1)]
            assert "[0] Don't know" in seen, name
            assert seen.index("! CAUTION") < min(places), name
            begins = " ".join(((step.ask and f"“{step.ask}") or step.technician).split()[:3])
            assert seen.index("! CAUTION") < seen.index(begins) < min(places), name


async def test_page_down_reads_on_and_the_caution_stays(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        case_screen(pilot.app).step_chosen("bay-rock-the-wheel")
        await settle(pilot)
        step = adviser.base.steps["bay-rock-the-wheel"]
        last = " ".join(step.why.split()[-3:])
        assert last not in flat(pilot)
        await press(pilot, "pagedown", "end")
        assert last in flat(pilot)
        assert f"! CAUTION: {step.caution}" in flat(pilot)


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_a_message_lies_over_nothing_and_goes_with_an_undo(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    app = application(fill_folder(tmp_path), adviser)
    async with app.run_test(size=size, notifications=True) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "0", "u")
        case_screen(pilot.app).step_chosen("bay-bead-line")
        await settle(pilot)
        assert "Undone: " in text_of(pilot.app)
        seen = flat(pilot)
        assert f"! CAUTION: {adviser.base.steps['bay-bead-line'].caution}" in seen
        assert "[0] Don't know" in seen
        pilot.app.notify("a first\nsentence " * 20)
        await settle(pilot)
        (told,) = pilot.app._notifications
        assert len(told.message) <= size[0]
        await press(pilot, "u", "u")
        (told,) = pilot.app._notifications
        assert told.message == "Nothing to undo."


async def test_what_must_be_told_stands_once(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        step = adviser.base.steps["ask-severity"]
        case_screen(pilot.app).step_chosen(step.id)
        await press(pilot, str(list(step.outcomes).index("violent") + 1))
        await sign_dangers(pilot)
        assert "STOP AND TELL THE CUSTOMER" in text_of(pilot.app)
        assert step.red_flag["violent"] not in [one.message for one in pilot.app._notifications]
        assert step.red_flag["violent"].split(".")[0] in flat(pilot)


async def test_the_name_goes_into_the_box_of_a_danger_and_runs_no_keys(tmp_path: Path, adviser: Adviser) -> None:
    async with _case(tmp_path, adviser, (80, 24), BULGE) as (pilot, _):
        await press(pilot, "u")  # a danger that nobody has read, and nobody is known who could sign
        screen = case_screen(pilot.app)
        assert screen.now().danger is not None
        screen.preferences.name = ""
        screen.query_one("#step").danger = None  # type: ignore[attr-defined]
        screen.redraw()
        await pilot.pause(0.05)
        await press(pilot, "w", "escape")
        assert pilot.app.screen is screen  # only the box was left, and the keys are keys again
        assert not screen.query_one("#danger-name", Input).has_focus
        await press(pilot, "tab", "end", "u", "m", "p", "ctrl+s")
        assert pilot.app.screen is screen
        assert agrees(pilot.app).acknowledged[-1].by == "wump"
        assert not screen.query_one("#danger-name", Input).has_focus


async def test_a_front_driven_car_is_not_asked_about_a_long_shaft(tmp_path: Path, adviser: Adviser) -> None:
    """Its answers are numbered without it, and the digit gives the answer that stands beside it."""
    async with _case(tmp_path, adviser, (80, 24)) as (pilot, _):
        case_screen(pilot.app).step_chosen("ask-driveline-part")
        await settle(pilot)
        outcomes = adviser.base.steps["ask-driveline-part"].outcomes
        assert outcomes["propshaft"].says not in flat(pilot)
        assert f"[1] {outcomes['halfshaft'].says}" in flat(pilot)
        await press(pilot, "1")
        assert agrees(pilot.app).steps[-1].outcome == "halfshaft"
