"""Two people on one case, in two running applications: each sees the other's change, and nobody's is overwritten."""

from __future__ import annotations

import os
from collections.abc import AsyncIterator, Iterator
from contextlib import AsyncExitStack, asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, OptionList, Static, TextArea

from tests.store.conftest import server_database
from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.screen import saving, step_panel
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.conflict import ConflictOverlay
from vibdiag.screen.overlays.due import DueOverlay
from vibdiag.screen.overlays.road import RoadOverlay
from vibdiag.screen.overlays.words import WordsOverlay
from vibdiag.screen.start import StartScreen
from vibdiag.store.face import Signature
from vibdiag.store.shelf import StoreShelf
from vibdiag.store.store import open_store
from vibdiag.work.casebook import Casebook
from vibdiag.work.shelf import Shelf

from .stage import CLOSED, TREMOR, agrees, application, case_screen, press, said, settle, sign_dangers, text_of, words

SHAKE: dict[str, Any] = {"vibdiag_case": 1, "id": "shake", "title": "Shakes", "invented": True}
_SERVER = pytest.param(
    "postgresql",
    marks=pytest.mark.skipif("VIBDIAG_TEST_POSTGRES" not in os.environ, reason="VIBDIAG_TEST_POSTGRES is not set"),
)


@pytest.fixture(autouse=True)
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Others are looked for when a test says so, not when a clock does."""
    monkeypatch.setattr(saving, "_LOOK_S", 3600.0)


@pytest.fixture(params=["folder", "sqlite", _SERVER])
def shelves(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Shelf, Shelf]]:
    """One place with one case, as two processes open it."""
    case = Case.model_validate(SHAKE)
    if request.param == "folder":
        (tmp_path / "cases").mkdir()
        save_case(case, tmp_path / "cases" / "shake.yaml")
        yield Casebook(tmp_path / "cases"), Casebook(tmp_path / "cases")
        return
    for place in [str(tmp_path / "cases.db")] if request.param == "sqlite" else server_database():
        with open_store(place) as one, open_store(place) as other:
            one.create(case, Signature("Maker", "test"))
            yield StoreShelf(one), StoreShelf(other)


@asynccontextmanager
async def two(
    folder: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> AsyncIterator[tuple[Pilot[None], Pilot[None]]]:
    """Ada at the desk and Bo in the bay, both with the case open."""
    async with AsyncExitStack() as both:
        pilots = []
        for name, role, shelf in zip(("Ada", "Bo"), ("desk", "all"), shelves, strict=True):
            app = application(folder / name / "cases", adviser, shelf=shelf)
            app.preferences.name, app.preferences.role = name, role
            pilot = await both.enter_async_context(app.run_test(size=(120, 40)))
            await settle(pilot)
            await press(pilot, "enter")
            assert isinstance(app.screen, CaseScreen)
            pilots.append(pilot)
        yield pilots[0], pilots[1]


async def look(pilot: Pilot[None]) -> None:
    """As the clock does every two seconds."""
    pilot.app.call_later(case_screen(pilot.app).look_for_others)
    await settle(pilot)
    await settle(pilot)


def told(pilot: Pilot[None]) -> str:
    """Every message that hangs over the screen."""
    return "\n".join(one.message for one in pilot.app._notifications)


def answers(pilot: Pilot[None]) -> dict[str, str]:
    return {one.step: one.outcome for one in agrees(pilot.app).steps}


async def answer(pilot: Pilot[None], step: str, outcome: str) -> None:
    """Choose a step by name and answer it, by keys."""
    await press(pilot, "l", *words(step), "enter")
    outcomes = ["unknown", *case_screen(pilot.app).desk.adviser.base.steps[step].outcomes]
    await press(pilot, str(outcomes.index(outcome)))


async def test_each_sees_the_others_answer(tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await answer(ada, "ask-braking", "brings")
        asked = case_screen(bo.app).now().step
        await look(bo)
        assert answers(bo) == {"ask-braking": "brings"}
        assert adviser.base.steps["ask-braking"].outcomes["brings"].says in told(bo)
        if not isinstance(shelves[0], Casebook):
            assert "Ada: " in told(bo)
        # What Bo was about to answer is still there: no key lands in another question.
        assert case_screen(bo.app).now().step == asked
        assert case_screen(bo.app).desk.assessment.causes == case_screen(ada.app).desk.assessment.causes
        await look(bo)
        assert told(bo).count("Only or mainly") == 1  # told once


async def test_an_answer_to_the_question_in_hand_is_said_and_can_be_left(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        asked = case_screen(bo.app).now().step
        assert asked is not None
        await answer(ada, asked.id, "unknown")
        await look(bo)
        assert case_screen(bo.app).now().step == asked
        assert "Somebody else has just answered this" in said(bo, "#step-text")
        await press(bo, "s")
        assert case_screen(bo.app).now().step != asked
        assert answers(bo) == {asked.id: "unknown"}


async def test_different_questions_answered_at_once_are_merged_on_saving(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await answer(ada, "ask-braking", "brings")
        await answer(bo, "ask-where", "steering-wheel")
        assert answers(bo) == {"ask-braking": "brings", "ask-where": "steering-wheel"}
        assert "Changed meanwhile" in told(bo)
        await press(bo, "u")
        assert answers(bo) == {"ask-braking": "brings"}  # undo takes back his own, and leaves hers
        await press(bo, "y")
        await look(ada)
        assert answers(ada) == {"ask-braking": "brings", "ask-where": "steering-wheel"}


async def test_one_question_answered_twice_is_shown_and_not_overwritten(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await answer(ada, "ask-where", "steering-wheel")
        await answer(bo, "ask-where", "whole-car")
        assert isinstance(bo.app.screen, ConflictOverlay)
        shown = text_of(bo.app)
        base = adviser.base.steps["ask-where"]
        for sentence in (base.title, base.outcomes["steering-wheel"].says, base.outcomes["whole-car"].says):
            assert sentence in shown
        assert "Ada at " in shown or isinstance(shelves[0], Casebook)
        assert answers(ada) == {"ask-where": "steering-wheel"}
        await press(bo, "escape")  # theirs stands
        assert answers(bo) == {"ask-where": "steering-wheel"}


async def test_whoever_has_seen_both_can_put_theirs_in_its_place(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await answer(ada, "ask-where", "steering-wheel")
        await answer(bo, "ask-where", "whole-car")
        await press(bo, "ctrl+s")
        assert isinstance(bo.app.screen, CaseScreen)
        assert answers(bo) == {"ask-where": "whole-car"}
        await look(ada)
        assert answers(ada) == {"ask-where": "whole-car"}


async def test_a_form_that_is_being_filled_in_is_left_alone_and_merged(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await press(bo, "w", *words("It shakes at speed"))
        assert isinstance(bo.app.screen, WordsOverlay)
        await answer(ada, "ask-braking", "brings")
        await look(bo)
        assert bo.app.screen.query_one("#words", TextArea).text == "It shakes at speed"
        await press(bo, "ctrl+s")
        assert agrees(bo.app).complaint.words == "It shakes at speed"
        assert answers(bo) == {"ask-braking": "brings"}


async def test_words_typed_twice_are_shown_whole(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    """What somebody typed is not lost, however long it is."""
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        mine = "Since the kerb it hums and shakes, mostly with four people in the car and the boot full of tools."
        await press(ada, "w", *words("Ada wrote this"), "ctrl+s")
        await press(bo, "w", *words(mine), "ctrl+s")
        assert isinstance(bo.app.screen, ConflictOverlay)
        assert mine in str(bo.app.screen.query_one(".sheet-text", Static).content)
        await press(bo, "ctrl+s")
        assert agrees(bo.app).complaint.words == mine


async def test_sheets_that_show_the_case_follow(tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await press(bo, "m")
        assert isinstance(bo.app.screen, BayOverlay)
        await answer(ada, "ask-heat", "yes")  # a danger comes up while Bo stands in the bay
        await look(bo)
        assert "!! DANGER" in str(bo.app.screen.query_one(".sheet-title", Static).content)
        await press(bo, "escape")
        assert "!!  DANGER  !!" in said(bo, "#step-text")
        await press(bo, "r")
        assert isinstance(bo.app.screen, RoadOverlay)
        assert bo.app.screen.query_one("#road-danger").display


async def test_a_danger_somebody_else_signed_for_is_not_asked_again(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        await answer(ada, "ask-heat", "yes")
        await look(bo)
        await sign_dangers(ada, "Ada")
        assert {signed.by for signed in agrees(ada.app).acknowledged} == {"Ada"}
        await look(bo)
        assert "DANGER" not in said(bo, "#step-text")
        assert f"!! {len(agrees(ada.app).acknowledged)} open danger" in said(bo, "#top")


async def test_a_new_case_appears_in_the_list(tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]) -> None:
    app = application(tmp_path / "Bo" / "cases", adviser, shelf=shelves[1])
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert isinstance(app.screen, StartScreen)
        box = app.screen.query_one("#cases", OptionList)
        assert box.option_count == 1
        shelves[0].create(by="Ada")
        app.call_later(app.screen.read_changed)
        await settle(pilot)
        assert box.option_count == 2
        assert box.get_option_at_index(box.highlighted or 0).id in ("shake", str(tmp_path / "cases" / "shake.yaml"))


async def test_something_due_is_done_in_the_store_at_once(tmp_path: Path, adviser: Adviser) -> None:
    with open_store(str(tmp_path / "cases.db")) as store:
        store.create(Case.model_validate(CLOSED), Signature("Maker", "test"))
        app = application(tmp_path / "cases", adviser, shelf=StoreShelf(store))
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            assert "DUE: check torque again" in text_of(app)
            await press(pilot, "d")
            assert isinstance(app.screen, DueOverlay)
            await press(pilot, "enter")
            assert [one.done for one in store.read("closed").case.follow_ups] == [True, False]
            assert store.history("closed")[-1].what == "done: check torque again"


async def test_search_asks_the_store(tmp_path: Path, adviser: Adviser) -> None:
    with open_store(str(tmp_path / "cases.db")) as store:
        for parts in (TREMOR, CLOSED):
            store.create(Case.model_validate(parts), Signature("Maker", "test"))
        app = application(tmp_path / "cases", adviser, shelf=StoreShelf(store))
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await press(pilot, "slash", *words("rims clea"))
            box = app.screen.query_one("#cases", OptionList)
            assert [box.get_option_at_index(each).id for each in range(box.option_count)] == ["closed"]
            await press(pilot, "escape")
            assert box.option_count == 2


# -- a danger, and keys that were meant for something else -------------------------------------------------------


async def test_keys_typed_ahead_do_not_sign_for_a_danger(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(step_panel, "IN_SIGHT_S", 3600.0)
    (tmp_path / "cases").mkdir()
    save_case(Case.model_validate(SHAKE), tmp_path / "cases" / "shake.yaml")
    app = application(tmp_path / "cases", adviser)
    app.preferences.name = "Ada"  # the name stands there already: one careless key would do
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "enter")
        await answer(pilot, "ask-heat", "yes")
        assert "!!  DANGER  !!" in said(pilot, "#step-text")
        box = app.screen.query_one("#danger-name", Input)
        await press(pilot, "1", "2", "enter", "ctrl+s", "enter", "tab", "enter")
        assert box.value == "Ada"
        assert agrees(app).acknowledged == []
        monkeypatch.setattr(step_panel, "IN_SIGHT_S", 0.0)  # it has been in sight long enough
        await press(pilot, "shift+tab", "1", "enter")
        assert agrees(app).acknowledged == []  # and still only what says so signs
        await press(pilot, "ctrl+s")
        assert [one.by for one in agrees(app).acknowledged] == ["Ada"]


# -- units, undo and redo over a sheet ---------------------------------------------------------------------------


async def test_units_undo_and_redo_work_over_a_sheet(tmp_path: Path, adviser: Adviser) -> None:
    (tmp_path / "cases").mkdir()
    save_case(Case.model_validate(TREMOR), tmp_path / "cases" / "tremor.yaml")
    app = application(tmp_path / "cases", adviser)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await press(pilot, "enter", "r")
        assert isinstance(app.screen, RoadOverlay)
        assert "110 km/h" in text_of(app)
        await press(pilot, "f2")
        assert "68 mph" in text_of(app)
        await press(pilot, "f2", "f2")
        before = agrees(app)
        while (line := app.screen.line()) is None or line.held is None:
            await press(pilot, "down")
        await press(pilot, "9")
        assert agrees(app) != before
        await press(pilot, "u")
        assert agrees(app) == before
        await press(pilot, "y")
        assert agrees(app) != before
        await press(pilot, "u", "escape", "m", "f2")
        assert isinstance(app.screen, BayOverlay)
        assert "mph" in str(app.preferences.units)
        await press(pilot, "1")
        assert agrees(app) != before
        await press(pilot, "u")
        assert agrees(app) == before


# -- two answers, in words --------------------------------------------------------------------------------------


async def test_a_conflict_speaks_no_word_of_the_rule_files(
    tmp_path: Path, adviser: Adviser, shelves: tuple[Shelf, Shelf]
) -> None:
    """Two readings of one recording, and two repairs: as a person says it."""
    async with two(tmp_path, adviser, shelves) as (ada, bo):
        for pilot, word, cause in ((ada, "wheel-1x", "bent-rim"), (bo, "propshaft-1x", "hub-runout")):
            case = case_screen(pilot.app).desk.case.model_dump()
            case["attachments"] = [
                {"path": "drive-1.csv", "signs": [{"sign": "follows", "word": word, "trust": 0.9}]},
            ]
            case["outcome"] = {"confirmed_cause": cause, "wheel": "front-left"}
            pilot.app.call_later(case_screen(pilot.app).apply, Case.model_validate(case), "recording")
            await settle(pilot)
            await settle(pilot)
        assert isinstance(bo.app.screen, ConflictOverlay)
        shown = str(bo.app.screen.query_one(".sheet-text", Static).content)
        causes = adviser.base.causes
        for said_so in (
            "wheel 1x",
            "propshaft 1x",
            causes["bent-rim"].short,
            causes["hub-runout"].short,
            "drive-1.csv",
        ):
            assert said_so in shown
        for code in ("wheel-1x", "propshaft-1x", "bent-rim", "hub-runout", "confirmed_cause", "{"):
            assert code not in shown
