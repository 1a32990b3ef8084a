"""The vehicle by keyboard alone: a tyre typed, its sentence when it is wrong, the table that follows, what is kept."""

from __future__ import annotations

import statistics
from pathlib import Path
from time import perf_counter

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.screen.overlays.vehicle import VehicleOverlay
from vibdiag.screen.turning_lines import tyre_line
from vibdiag.screen.units_view import UnitChoice

from .stage import opening

SIZES = [(80, 24), (120, 40)]
SHAKE = {
    "vibdiag_case": 1,
    "id": "shake",
    "title": "Shakes at speed",
    "invented": True,
    "complaint": {"words": "It shakes.", "speed": {"worst": 100, "unit": "km/h", "read_from": "gps"}},
    "vehicle": {"driven": "front", "power": "combustion", "engine_placement": "transverse"},
    "measurements": [
        {"quantity": "tyre-pressure", "value": 2.1, "unit": "bar", "wheel": "front-left", "by": "technician"},
    ],
}


opened = opening(SHAKE, "v", until=VehicleOverlay)


def text(pilot: Pilot[None], selector: str) -> str:
    return str(pilot.app.screen.query_one(selector, Static).content)


async def write(pilot: Pilot[None], words: str) -> None:
    """Type into the field in hand, and wait until what follows the keys has followed."""
    await pilot.press(*("space" if key == " " else "slash" if key == "/" else key for key in words))
    await pilot.pause(0.2)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_a_tyre_typed_shows_what_it_means_and_what_turns_how_fast(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, _):
        assert "Write a tyre's marking" in text(pilot, "#turning-lines")
        await write(pilot, "225/45R17 91W")
        # 17 in x 25.4 + 2 x 225 x 0.45 = 634.3 mm (UN R30, 6.1.2: rim plus two section heights).
        assert "634 mm across" in text(pilot, "#field-tyres-front-line")
        lines = text(pilot, "#turning-lines").splitlines()
        wheel = next(line for line in lines if line.startswith("1x wheel"))
        assert "14.4" in wheel  # 225/45R17 at 100 km/h, domain arithmetic: 27.78 m/s over 1.935 m
        assert "steering" in wheel
        assert "100 km/h" in text(pilot, "#turning-head")


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_a_wrong_marking_is_said_below_its_field_and_is_not_kept(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        await write(pilot, "225/45R77")
        said = text(pilot, "#field-tyres-front-line")
        assert "rim diameter of 77" in said
        assert said.count("! ") == 1
        assert "cannot be read" in text(pilot, "#turning-lines")
        await pilot.press("tab", "tab", "ctrl+s")
        await pilot.pause()
        assert isinstance(pilot.app.screen, VehicleOverlay)
        field = pilot.app.screen.query_one("#field-tyres-front", Input)
        assert field.value == "225/45R77"
        assert field.has_focus
        assert "rim diameter of 77" in text(pilot, "#fault")
        assert load_case(path).vehicle.tyres.front is None


@pytest.mark.asyncio
async def test_another_tyre_at_the_rear_has_its_own_rows(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await write(pilot, "225/40R18")
        await pilot.press("tab")
        await write(pilot, "285/40R20")
        lines = text(pilot, "#turning-lines")
        assert "1x front wheel" in lines
        assert "1x rear wheel" in lines


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_everything_is_kept_with_ctrl_s_and_can_be_undone(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        await write(pilot, "205/55R16 91V")
        screen = pilot.app.screen
        screen.query_one("#field-driven").focus()
        await pilot.press("enter", "down", "enter")  # front, then the one below it
        screen.query_one("#field-axle-ratio").focus()
        await write(pilot, "3,65")
        screen.query_one("#tyre-pressure-rear-right").focus()
        await write(pilot, "2.4")
        screen.query_one("#tread-depth-front-left").focus()
        await write(pilot, "5.5")
        await pilot.press("ctrl+s")
        await pilot.pause()
        case = load_case(path)
        assert case.vehicle.tyres.front == "205/55R16 91V"
        assert case.vehicle.driven == "rear"
        assert case.vehicle.axle_ratio == 3.65
        kept = {(one.quantity, one.wheel): (one.value, one.unit) for one in case.measurements}
        assert kept == {
            ("tyre-pressure", "front-left"): (2.1, "bar"),
            ("tyre-pressure", "rear-right"): (2.4, "bar"),
            ("tread-depth", "front-left"): (5.5, "mm"),
        }
        assert case.measurements[0].by == "technician"
        await pilot.press("u")
        await pilot.pause()
        assert load_case(path) == Case.model_validate(SHAKE)


@pytest.mark.asyncio
async def test_a_pressure_written_anew_replaces_the_former_one(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        pilot.app.screen.query_one("#tyre-pressure-front-left").focus()
        await pilot.press("end", "backspace", "5", "ctrl+s")
        await pilot.pause()
        assert [one.value for one in load_case(path).measurements] == [2.5]


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("#field-axle-ratio", "steep", "Axle ratio: 'steep' is no number"),
        ("#field-axle-ratio", "0.7", "axle ratio is 0.7, but must be 1 to 15"),
        ("#tread-depth-rear-left", "-3", "Tread depth, rear left: must be zero or more"),
    ],
)
async def test_bad_input_is_one_sentence_and_nothing_is_lost(
    tmp_path: Path, adviser: Adviser, field: str, typed: str, said: str
) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await write(pilot, "205/55R16")
        pilot.app.screen.query_one(field).focus()
        await write(pilot, typed)
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert said in text(pilot, "#fault")
        assert pilot.app.screen.query_one(field, Input).value == typed
        assert load_case(path) == Case.model_validate(SHAKE)


@pytest.mark.asyncio
async def test_escape_keeps_nothing_and_a_missing_speed_is_said(tmp_path: Path, adviser: Adviser) -> None:
    silent = SHAKE | {"complaint": {"words": "It shakes."}}
    async with opened(tmp_path, adviser, (80, 24), silent) as (pilot, path):
        await write(pilot, "205/55R16")
        assert "no speed yet" in text(pilot, "#turning-lines")
        await pilot.press("escape")
        await pilot.pause()
        assert not isinstance(pilot.app.screen, VehicleOverlay)
        assert load_case(path).vehicle.tyres.front is None


@pytest.mark.asyncio
async def test_the_units_are_the_chosen_ones(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await write(pilot, "225/45R17")
        await pilot.press("f2")
        await pilot.pause()
        assert "25.0 in across" in text(pilot, "#field-tyres-front-line")  # 634.3 mm / 25.4
        assert "62 mph" in text(pilot, "#turning-head")  # 100 km/h / 1.609344


@pytest.mark.asyncio
async def test_an_update_takes_less_than_fifty_milliseconds(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await write(pilot, "225/45R17")
        overlay = pilot.app.screen
        assert isinstance(overlay, VehicleOverlay)
        times = []
        for _ in range(20):
            start = perf_counter()
            overlay.follow()
            times.append(perf_counter() - start)
        assert statistics.median(times) < 0.05


def test_the_line_of_a_tyre_says_the_worked_example() -> None:
    # UN R30, 6.1.2 (from memory): 205/55R16 is 16 in and twice 112.75 mm, 631.9 mm.
    assert tyre_line("205/55R16 91V", UnitChoice()).startswith("205/55R16: 632 mm across, rolls 1.93 m a turn (")
