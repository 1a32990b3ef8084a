"""A round of readings by keyboard alone: drawn and judged while it is typed, kept, put right, taken out."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input, OptionList, Select, Static

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import ReadingSet
from vibdiag.case.storage import load_case
from vibdiag.screen.overlays.reading_forms import READING_FORMS
from vibdiag.screen.ranking_line import ranking_line

from .stage import said, settle, text_of, words
from .test_bay_overlay import SHAKE, SIZES, opened

OVER = "1.5 1.3 0.75 0 -0,75 -1.3 -1.5 -1.3 -0.75 0 0.75 1.3"
WITHIN = "0.1 0.09 0.05 0 -0.05 -0.09 x -0.09 -0.05 0 0.05 0.09"


def kept_round(**more: Any) -> dict[str, Any]:
    values = [round(0.4 * math.cos(math.radians(30 * place - 60)), 2) for place in range(12)]
    return {"what": "tread-radial", "wheel": "front-left", "values": values, "taken": "before", **more}


async def write(pilot: Pilot[None], line: str, *, by_keys: bool = False) -> None:
    """A line into the field in hand: key by key, or in one piece as from a clipboard, which draws once."""
    if by_keys:
        await pilot.press(*["space" if each == " " else each for each in words(line)])
    else:
        pilot.app.post_message(events.Paste(line))
    await settle(pilot)
    await pilot.pause(0.05)  # the picture follows a moment after the last key
    await settle(pilot)


async def to_rounds(pilot: Pilot[None]) -> None:
    """From the checks to the line of readings, by keys alone."""
    await pilot.press("f4")
    await settle(pilot)
    for _ in range(30):
        if pilot.app.screen.query_one("#family").has_focus:
            break
        await pilot.press("shift+tab")
        if pilot.app.focused is not None and pilot.app.focused.id == "checks":  # once round the wide sheet
            await pilot.press("f4")
            await settle(pilot)
    await pilot.press("enter", "down", "enter")
    await settle(pilot)
    assert pilot.app.screen.query_one("#round-values", Input).has_focus


async def to_field(pilot: Pilot[None], path: str) -> None:
    for _ in range(15):
        if pilot.app.screen.query_one(f"#round-{path}").has_focus:
            return
        await pilot.press("tab")
    raise AssertionError(f"no way to {path}")


async def choose(pilot: Pilot[None], path: str, name: str) -> None:
    await to_field(pilot, path)
    await pilot.press("enter", *["space" if each == " " else each for each in name])
    await pilot.press("enter")
    await settle(pilot)


def side(pilot: Pilot[None]) -> str:
    return said(pilot, "#round-words")


def readings(path: Path) -> list[ReadingSet]:
    return load_case(path).readings


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_it_is_drawn_and_judged_while_it_is_typed(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        await to_rounds(pilot)
        assert "! Turn it by hand" in text_of(pilot.app)
        assert "never on a jack alone" in side(pilot)
        assert not pilot.app.screen.query_one("#round-picture").display
        await write(pilot, OVER[:12], by_keys=True)
        assert "3 read; at least 4 places are needed" in side(pilot)
        await write(pilot, OVER[12:], by_keys=True)
        # Geometry: 1.5 mm off centre reads 3.0 mm in all; highest at the first reading, the valve, at twelve.
        assert side(pilot).startswith("OVER   12 places read")
        assert "Total reading 3" in side(pilot)
        assert "First harmonic (eccentricity) 1.5 mm" in side(pilot)
        assert "high point near 12 o'clock" in side(pilot)
        assert "over the limit of 1 to 1.5 mm (common practice)" in side(pilot)
        shown = text_of(pilot.app)
        assert "OVER   12 places read" in shown
        assert "o reading" in shown
        assert "! Turn it by hand, secured, on lift or stands; hands clear of what turns." in shown
        assert not readings(path)


@pytest.mark.asyncio
@pytest.mark.parametrize(("size", "least"), [((80, 24), (27, 14)), ((120, 40), (57, 29)), ((200, 60), (91, 46))])
async def test_the_picture_takes_the_room_there_is(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int], least: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, _):
        await to_rounds(pilot)
        await write(pilot, OVER)
        picture = pilot.app.screen.query_one("#round-picture", Static)
        lines = str(picture.content).splitlines()
        assert len(lines) >= least[1]
        assert picture.size.width >= least[0]
        assert picture.size.height == len(lines)  # nothing of it is cut off
        assert lines[0].strip() == "12"
        assert max(map(len, lines)) <= picture.size.width
        for line in lines:
            assert line.strip() in text_of(pilot.app)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_ctrl_s_keeps_it_and_says_what_it_did(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        box = pilot.app.screen.query_one("#checks", OptionList)
        longest = max(len(str(box.get_option_at_index(place).prompt)) for place in range(box.option_count))
        before = adviser.assess(load_case(path))
        await to_rounds(pilot)
        await write(pilot, WITHIN)
        await pilot.press("ctrl+s")
        await settle(pilot)
        (one,) = readings(path)
        assert (one.what, one.wheel, one.unit, one.taken) == ("tread-radial", "front-left", "mm", "before")
        assert one.values == [0.1, 0.09, 0.05, 0.0, -0.05, -0.09, None, -0.09, -0.05, 0.0, 0.05, 0.09]
        assert "Kept: tread radial front left: within" in said(pilot, "#moved")
        assert ranking_line(before, adviser.assess(load_case(path))) in said(pilot, "#moved")
        assert pilot.app.screen.query_one("#round-values", Input).value == ""
        assert side(pilot).startswith("Kept.")
        assert "WITHIN   11 places read" in side(pilot)
        await pilot.press("f4")
        await settle(pilot)
        assert box.has_focus
        assert max(len(str(box.get_option_at_index(place).prompt)) for place in range(box.option_count)) >= longest - 8


@pytest.mark.asyncio
async def test_a_second_round_takes_the_place_of_the_former_unless_the_wheel_was_moved(
    tmp_path: Path, adviser: Adviser
) -> None:
    async with opened(tmp_path, adviser, (80, 24), SHAKE | {"readings": [kept_round()]}) as (pilot, path):
        await to_rounds(pilot)
        await write(pilot, WITHIN)
        await to_field(pilot, "moved_deg")
        await write(pilot, "180")
        await pilot.press("enter")
        await settle(pilot)
        assert [one.moved_deg for one in readings(path)] == [0.0, 180.0]
        await pilot.press("ctrl+s")  # nothing typed: asks first
        await settle(pilot)
        assert "Ctrl+S once more takes out tread radial front left, moved by 180 degrees" in side(pilot)
        await pilot.press("ctrl+s")
        await settle(pilot)
        assert [one.moved_deg for one in readings(path)] == [0.0]


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_moved_on_the_studs_it_tells_hub_from_wheel(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    # Superposition: what is read is the same from the valve although the wheel was moved, so all of it is the wheel's.
    async with opened(tmp_path, adviser, size, SHAKE | {"readings": [kept_round()]}) as (pilot, _):
        await to_rounds(pilot)
        assert "Moved on the studs" not in side(pilot)
        await to_field(pilot, "moved_deg")
        await write(pilot, "180")
        await pilot.press(*["shift+tab"] * 4)
        await to_field(pilot, "values")
        await write(pilot, " ".join(f"{value:g}" for value in kept_round()["values"]))
        assert "stays with the hub" in side(pilot)
        assert "0.402 mm (0.373 to 0.43) travels with the wheel" in side(pilot)
        assert "Nearly all of it travels with the wheel." in side(pilot)


@pytest.mark.asyncio
async def test_a_kept_round_is_brought_back_and_put_right(tmp_path: Path, adviser: Adviser) -> None:
    old = kept_round(angles_deg=[30.0 * place for place in range(12)], note="cold", rises="inward", limit=0.9)
    async with opened(tmp_path, adviser, (80, 24), SHAKE | {"readings": [old]}) as (pilot, path):
        await to_rounds(pilot)
        await pilot.press("enter")
        await settle(pilot)
        line = pilot.app.screen.query_one("#round-values", Input)
        assert line.value.startswith("0.2 0.35 0.4")
        await pilot.press("end", "backspace", "9", "enter")
        await settle(pilot)
        (one,) = readings(path)
        assert one.values[-1] == 9.0
        assert one.values[:-1] == old["values"][:-1]
        assert (one.angles_deg, one.note, one.rises, one.limit) == (old["angles_deg"], "cold", "inward", 0.9)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_bad_input_is_one_sentence_and_nothing_typed_is_lost(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        await to_rounds(pilot)
        await pilot.press("ctrl+s")
        await settle(pilot)
        assert side(pilot) == "! Readings: write the numbers in a line, for example 0 0.1 x -0,05."
        await write(pilot, "0 0.1 zwei 0.3 0.4")
        await pilot.press("ctrl+s")
        await settle(pilot)
        assert "! Readings: reading 3, 'zwei', is no number; write x where one is missing." in side(pilot)
        assert pilot.app.screen.query_one("#round-values", Input).value == "0 0.1 zwei 0.3 0.4"
        await to_field(pilot, "limit")
        await write(pilot, "a lot")
        assert pilot.app.screen.query_one("#round-values", Input).value == "0 0.1 zwei 0.3 0.4"
        assert not readings(path)


@pytest.mark.asyncio
async def test_another_place_brings_its_units_and_fields(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, path):
        screen = pilot.app.screen
        await to_rounds(pilot)
        await choose(pilot, "what", "radial force")
        assert screen.query_one("#round-unit", Select).value == "N"
        assert not screen.query_one("#round-first_again").display
        await choose(pilot, "what", "propshaft middle")
        assert screen.query_one("#round-unit", Select).value == "mm"
        assert not screen.query_one("#round-wheel").display
        assert not screen.query_one("#round-moved_deg").display
        await choose(pilot, "what", "rim outer lateral")
        assert screen.query_one("#round-rim").display
        await choose(pilot, "unit", "thou")
        await choose(pilot, "rim", "alloy")
        await pilot.press(*["shift+tab"] * 8)
        await to_field(pilot, "values")
        await write(pilot, "40 35 20 0 -20 -35 -40 -35 -20 0 20 35")
        assert "First harmonic (tilt) 1.0" in side(pilot)  # 40 thou are 1.016 mm
        await pilot.press("f2")
        await settle(pilot)
        assert "First harmonic (tilt) 4" in side(pilot)
        await pilot.press("enter")
        await settle(pilot)
        (one,) = readings(path)
        assert (one.what, one.unit, one.rim, one.values[0]) == ("rim-outer-lateral", "thou", "alloy", 40.0)


@pytest.mark.asyncio
async def test_after_a_repair_it_proves_and_does_not_count(tmp_path: Path, adviser: Adviser) -> None:
    mended = SHAKE | {"history": {"repairs": [{"what": "tyres-renewed"}]}, "readings": [kept_round()]}
    async with opened(tmp_path, adviser, (80, 24), mended) as (pilot, path):
        await to_rounds(pilot)
        await write(pilot, WITHIN)
        assert "does not count in the ranking" in side(pilot)
        await pilot.press("enter")
        await settle(pilot)
        assert [one.taken for one in readings(path)] == ["before", "after"]


@pytest.mark.asyncio
async def test_rounds_and_balance_readings_stand_in_the_trail(tmp_path: Path, adviser: Adviser) -> None:
    shown = [{"wheel": "rear-left", "outer_amount": 20.0, "outer_deg": 90.0}]
    case = SHAKE | {"readings": [kept_round(moved_deg=144.0), kept_round(taken="after")], "balance_readings": shown}
    async with opened(tmp_path, adviser, (120, 40), case) as (pilot, _):
        await pilot.press("escape")
        await settle(pilot)
        trail = pilot.app.screen.query_one("#trail", OptionList)
        lines = [" ".join(str(trail.get_option_at_index(place).prompt).split()) for place in range(trail.option_count)]
        assert "tread radial front left, moved by 144 degrees: 12 readings, within" in lines
        assert "tread radial front left after the repair: 12 readings, within" in lines
        assert "balance rear left: outer 20 g at 90: mounted once" in lines


def test_the_registry_has_it() -> None:
    assert [form.title for form in READING_FORMS.values()] == ["One value at one wheel", "A round of readings"]


async def test_places_that_are_not_evenly_spaced_have_a_field(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await to_rounds(pilot)
        await write(pilot, "0 0.1 0.2 0.1 0 -0.1")
        await to_field(pilot, "angles_deg")
        await write(pilot, "0 40 95 130")
        assert "! At degrees: there are 6 values at 4 angles" in side(pilot)
        await write(pilot, " 200 300")
        assert "! At degrees" not in side(pilot)
        await pilot.press("ctrl+s")
        await settle(pilot)
        (kept,) = readings(path)
        assert kept.angles_deg == [0, 40, 95, 130, 200, 300]
        assert pilot.app.screen.query_one("#round-angles_deg", Input).value == ""
        await pilot.press("enter")  # it comes back to be put right, with its places
        await settle(pilot)
        assert pilot.app.screen.query_one("#round-angles_deg", Input).value == "0 40 95 130 200 300"
