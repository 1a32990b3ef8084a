"""The bay by keyboard alone: outcomes, how they were got, what they did, and readings drawn against their limits."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import pytest
from textual.app import ComposeResult
from textual.pilot import Pilot
from textual.widgets import Input, OptionList, Select, Static

from vibdiag.advice.assess import Adviser
from vibdiag.advice.next_step import Shop, next_steps
from vibdiag.case.model import Measurement
from vibdiag.case.storage import load_case
from vibdiag.screen.corner_grid import corner_lines
from vibdiag.screen.limit_bar import Mark, limit_bar
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.reading_form import ReadingForm
from vibdiag.screen.overlays.reading_forms import READING_FORMS
from vibdiag.screen.ranking_line import ranking_line

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
}


opened = opening(SHAKE, "m", until=BayOverlay)


def text(pilot: Pilot[None], selector: str) -> str:
    return str(pilot.app.screen.query_one(selector, Static).content)


def checks(pilot: Pilot[None]) -> list[str]:
    box = pilot.app.screen.query_one("#checks", OptionList)
    return [str(box.get_option_at_index(index).id) for index in range(box.option_count)]


async def to_readings(pilot: Pilot[None]) -> None:
    await pilot.press("f4")
    await pilot.pause()
    await pilot.pause()
    assert pilot.app.screen.query_one("#value", Input).has_focus


async def write(pilot: Pilot[None], words: str) -> None:
    await pilot.press(*words)
    await pilot.pause()


async def choose(pilot: Pilot[None], selector: str, downs: int) -> None:
    """Open a choice and take the entry so many below the present one."""
    pilot.app.screen.query_one(selector).focus()
    await pilot.press("enter", *["down"] * downs, "enter")
    await pilot.pause()


# -- checks -----------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_the_checks_stand_in_the_order_that_pays_and_all_are_there(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        found = adviser.assess(load_case(path))
        bay = Shop(who=frozenset({"bay"}))
        advised = next_steps(found.belief, found.findings, found.dangers, adviser.base, shop=bay, count=40)
        paying = [item.step.id for item in advised if item.step.kind == "check"]
        listed = checks(pilot)
        assert paying
        assert listed[: len(paying)] == paying
        assert sorted(listed) == sorted(step.id for step in adviser.base.steps.values() if step.kind == "check")


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_the_caution_stands_above_the_outcomes_of_every_check(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, _):
        for step_id in checks(pilot)[:5]:
            step = adviser.base.steps[step_id]
            assert f"! CAUTION: {step.caution}" in text(pilot, "#check-head")
            assert all(line in text(pilot, "#check-manner") for line in [*step.steps, step.why])
            assert all(f"Limit: {limit.says} ({limit.source})" in text(pilot, "#check-manner") for limit in step.limits)
            await pilot.press("down")
            await pilot.pause()


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_a_digit_records_the_outcome_and_says_what_it_did(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        before = adviser.assess(load_case(path))
        step = adviser.base.steps[checks(pilot)[0]]
        await pilot.press("1")
        await pilot.pause()
        (kept,) = load_case(path).steps
        assert (kept.step, kept.outcome, kept.how, kept.role) == (step.id, next(iter(step.outcomes)), "measured", "bay")
        moved = text(pilot, "#moved")
        assert ranking_line(before, adviser.assess(load_case(path))) in moved
        assert "→" in moved
        assert step.title.removesuffix("?") in moved
        assert checks(pilot)[0] != step.id


@pytest.mark.asyncio
async def test_enter_goes_to_the_outcomes_and_h_says_how_it_was_got(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        step = adviser.base.steps[checks(pilot)[0]]
        await pilot.press("h", "h")
        await pilot.pause()
        assert "Result got by: told" in text(pilot, "#check-head")
        await pilot.press("enter", "down", "enter")
        await pilot.pause()
        (kept,) = load_case(path).steps
        assert (kept.step, kept.outcome, kept.how) == (step.id, list(step.outcomes)[1], "told")
        assert "Result got by: measured" in text(pilot, "#check-head")  # a told result does not make the next one told
        assert pilot.app.screen.query_one("#checks").has_focus


@pytest.mark.asyncio
async def test_a_recorded_check_shows_its_result_in_the_list(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, _):
        step = adviser.base.steps[checks(pilot)[0]]
        await pilot.press("1")
        await pilot.pause()
        box = pilot.app.screen.query_one("#checks", OptionList)
        line = str(box.get_option(step.id).prompt)
        assert "= " in line


@pytest.mark.asyncio
async def test_a_danger_that_comes_up_takes_the_heading_and_then_the_place_of_the_step(
    tmp_path: Path, adviser: Adviser
) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        box = pilot.app.screen.query_one("#checks", OptionList)
        box.highlighted = box.get_option_index("bay-fasteners")
        await pilot.pause()
        await write(pilot, str(list(adviser.base.steps["bay-fasteners"].outcomes).index("loose") + 1))
        assert load_case(path).steps[0].outcome == "loose"
        assert "!! DANGER" in text(pilot, ".sheet-title")
        await pilot.press("escape")
        await pilot.pause()
        assert "DANGER" in text(pilot, "#step-text")


# -- readings ---------------------------------------------------------------------------------------------------


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_the_bar_follows_the_reading_against_the_rule_bases_limits(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    # The numbers are the rule base's, after published service manuals: 1.0 mm (2012 sedan), 1.52 mm (2004 pickup).
    async with opened(tmp_path, adviser, size) as (pilot, _):
        await to_readings(pilot)
        await write(pilot, "0.")
        await write(pilot, "9")
        bar = text(pilot, "#reading-bar")
        assert bar.startswith("WITHIN   0.9 mm")
        assert "below 1 mm: within" in bar
        assert "above 1.5 mm: over" in bar
        await pilot.press("backspace", "backspace", "backspace")
        await write(pilot, "1.2")
        assert text(pilot, "#reading-bar").startswith("CANNOT TELL   1.2 mm")
        await pilot.press("backspace")
        await write(pilot, "6")
        over = text(pilot, "#reading-bar")
        assert over.startswith("OVER   1.6 mm")
        assert over.splitlines()[1].count("█") > bar.splitlines()[1].count("█")


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_readings_are_kept_wheel_by_wheel_and_shown_at_their_corners(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size) as (pilot, path):
        before = adviser.assess(load_case(path))
        await to_readings(pilot)
        await write(pilot, "1.8")
        await pilot.press("enter")
        await pilot.pause()
        assert ranking_line(before, adviser.assess(load_case(path))) in text(pilot, "#moved")
        await write(pilot, "0.4")
        await pilot.press("ctrl+s")
        await pilot.pause()
        kept = {one.wheel: (one.value, one.unit, one.taken) for one in load_case(path).measurements}
        assert kept == {"front-left": (1.8, "mm", "before"), "front-right": (0.4, "mm", "before")}
        corners = text(pilot, "#corners").splitlines()
        front = next(line for line in corners if line.startswith("front"))
        assert front.index("1.8 mm over") < front.index("0.4 mm within")
        assert pilot.app.screen.query_one("#wheel", Select).value == "rear-left"


@pytest.mark.asyncio
async def test_the_makers_limit_outranks_and_is_drawn(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await to_readings(pilot)
        await write(pilot, "1.2")
        pilot.app.screen.query_one("#limit").focus()
        await write(pilot, "1,1")
        bar = text(pilot, "#reading-bar")
        assert bar.startswith("OVER   1.2 mm")
        assert "1.1 mm, the maker's" in bar
        assert "1.5" not in bar
        await pilot.press("enter")
        await pilot.pause()
        assert load_case(path).measurements[0].limit == 1.1


@pytest.mark.asyncio
async def test_another_quantity_brings_its_units_and_limits(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, _):
        await to_readings(pilot)
        pilot.app.screen.query_one("#quantity").focus()
        await pilot.press("enter", *"radial force")  # a choice is found by typing its name
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.screen.query_one("#quantity", Select).value == "radial-force-variation"
        assert pilot.app.screen.query_one("#unit", Select).value == "N"
        assert "above 120 N: over" in text(pilot, "#reading-bar")
        assert text(pilot, "#corners").startswith("radial force variation")


@pytest.mark.asyncio
async def test_bad_input_is_said_and_stays(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24)) as (pilot, path):
        await to_readings(pilot)
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert "write the number the instrument shows" in text(pilot, "#reading-fault")
        await write(pilot, "1.2mm")
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert "'1.2mm' is no number" in text(pilot, "#reading-fault")
        assert pilot.app.screen.query_one("#value", Input).value == "1.2mm"
        assert not load_case(path).measurements


@pytest.mark.asyncio
async def test_a_reading_is_written_anew_and_an_empty_one_takes_it_out(tmp_path: Path, adviser: Adviser) -> None:
    one = {"quantity": "tread-radial-runout", "value": 1.8, "unit": "mm", "wheel": "front-left"}
    async with opened(tmp_path, adviser, (80, 24), SHAKE | {"measurements": [one]}) as (pilot, path):
        await to_readings(pilot)
        await write(pilot, "0.8")
        await pilot.press("enter")
        await pilot.pause()
        assert [each.value for each in load_case(path).measurements] == [0.8]
        pilot.app.screen.query_one("#wheel").focus()
        await pilot.press("enter", "home", "enter", "ctrl+s")
        await pilot.pause()
        assert not load_case(path).measurements


@pytest.mark.asyncio
async def test_after_a_repair_the_reading_stands_beside_the_one_before_it(tmp_path: Path, adviser: Adviser) -> None:
    one = {"quantity": "tread-radial-runout", "value": 1.8, "unit": "mm", "wheel": "front-left"}
    mended = SHAKE | {"measurements": [one], "history": {"repairs": [{"what": "tyres-renewed"}]}}
    async with opened(tmp_path, adviser, (80, 24), mended) as (pilot, path):
        await to_readings(pilot)
        await write(pilot, "0.3")
        assert "It does not count" in text(pilot, "#reading-bar")
        await pilot.press("enter")
        await pilot.pause()
        assert [(each.value, each.taken) for each in load_case(path).measurements] == [(1.8, "unknown"), (0.3, "after")]
        assert "after: 0.3 mm within" in text(pilot, "#corners")


@pytest.mark.asyncio
async def test_readings_are_shown_in_the_chosen_units_and_kept_as_entered(tmp_path: Path, adviser: Adviser) -> None:
    one = {"quantity": "tread-radial-runout", "value": 1.8, "unit": "mm", "wheel": "front-left"}
    async with opened(tmp_path, adviser, (120, 40), SHAKE | {"measurements": [one]}) as (pilot, path):
        await to_readings(pilot)
        await pilot.press("f2")
        await pilot.pause()
        assert "70.9 thou" in text(pilot, "#corners")  # 1.8 mm / 0.0254
        assert load_case(path).measurements[0].unit == "mm"


@pytest.mark.asyncio
async def test_no_key_answers_a_check_that_is_out_of_sight(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, path):
        await to_readings(pilot)
        pilot.app.screen.query_one("#wheel").focus()
        await pilot.press("1", "2")
        await pilot.pause()
        assert not load_case(path).steps
        pilot.app.screen.query_one("#checks").focus()
        await pilot.pause()
        assert pilot.app.screen.query_one("#check").display


class TwoReadings(ReadingForm):
    """A second way of taking readings, such as another part of the program may bring."""

    title: ClassVar[str] = "Two at once"

    def compose(self) -> ComposeResult:
        yield Input(id="two")

    def begin(self) -> None:
        self.query_one("#two", Input).focus()

    def keep(self) -> None:
        found = [
            Measurement(quantity="hub-face-runout", value=0.01, unit="mm", wheel="rear-left"),
            Measurement(quantity="hub-face-runout", value=0.02, unit="mm", wheel="rear-right"),
        ]
        self.post_message(self.Kept(self.case.model_copy(update={"measurements": found}), "two hubs"))


@pytest.mark.asyncio
async def test_another_way_of_reading_is_one_entry_in_the_registry(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(READING_FORMS, "two-at-once", TwoReadings)
    async with opened(tmp_path, adviser, (120, 40)) as (pilot, path):
        await to_readings(pilot)
        await choose(pilot, "#family", len(READING_FORMS) - 1)
        await pilot.pause()
        assert pilot.app.screen.query_one("#two").has_focus
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert len(load_case(path).measurements) == 2
        assert "two hubs" in text(pilot, "#moved")


# -- drawing ----------------------------------------------------------------------------------------------------


def test_bar_and_marks_share_one_scale() -> None:
    bar, half, limit = limit_bar(1.0, [Mark(0.5, "half"), Mark(1.0, "limit")], cells=24)
    assert len(bar) == 24
    assert bar.count("█") == 20  # 24 cells for 1.2 times the largest number
    assert half.index("▲") == 10
    assert limit.index("▲") == 20


@pytest.mark.parametrize("size", [0.0, 0.3, 1.0, 1000.0])
def test_marks_never_leave_the_bar(size: float) -> None:
    for line in limit_bar(size, [Mark(0.01, "a"), Mark(1.0, "above 1 mm: over")], cells=40):
        assert len(line) <= 40


def test_front_stands_on_top_and_left_is_left() -> None:
    one = Measurement(quantity="hub-face-runout", value=1.0, unit="mm")
    pairs: dict[Any, Any] = {"front-right": (one, None), "rear-left": (one, one), "unknown": (one, None)}
    lines = corner_lines(pairs, lambda reading: f"{reading.value:g}", cells=40)
    assert [line.split() for line in lines] == [
        ["left", "right"],
        ["front", "·", "1"],
        [],
        ["rear", "1", "·"],
        ["after:", "1"],
        ["at", "no", "wheel:", "1"],
    ]
