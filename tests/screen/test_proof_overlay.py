"""From the repair to the proof by keyboard alone, and what falls due on the first screen."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Input, OptionList, Select, Static, TextArea

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.case.strengths import Held
from vibdiag.screen.overlays.call import CallOverlay
from vibdiag.screen.overlays.due import DueOverlay
from vibdiag.screen.overlays.finish import FinishOverlay, LearnedOverlay
from vibdiag.screen.overlays.proof import ProofOverlay
from vibdiag.screen.overlays.repair_done import RepairDoneOverlay
from vibdiag.screen.overlays.road import RepeatOverlay
from vibdiag.screen.start import StartScreen
from vibdiag.work.figures import CALL_QUESTIONS
from vibdiag.work.road_sheet import result_of, strengths_of

from .stage import application, finished, opening, settle, text_of

SIZES = [(80, 24), (120, 40)]
SHAKE: dict[str, Any] = {
    "vibdiag_case": 1,
    "id": "shake",
    "title": "Shakes at speed",
    "invented": True,
    "complaint": {
        "words": "It shakes.",
        "speed": {"starts": 95, "worst": 110, "unit": "km/h", "read_from": "gps"},
        "felt_at": ["steering-wheel"],
    },
    "history": {"not_happened": ["wheels-off"]},
    "steps": [
        {"step": "road-brake", "outcome": "unchanged"},
        {"step": "road-hold-speeds", "outcome": "fast", "words": "Strength 0 to 10: 95 km/h 3, 110 km/h 7."},
    ],
}
MENDED: dict[str, Any] = SHAKE | {
    "history": SHAKE["history"] | {"repairs": [{"what": "tyres-renewed", "note": "Front pair."}]}
}
DANGER: dict[str, Any] = MENDED | {
    "seen": {"tyre": "bulge-or-cord"},
    "acknowledged": [{"danger": "tyre-belt-damage", "by": "A. Tester"}],
}


opened = opening(SHAKE, "p", until=ProofOverlay)


def text(pilot: Pilot[None], selector: str = "#proof-text") -> str:
    return str(pilot.app.screen.query_one(selector, Static).content)


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Keys that open or close something take a moment; letters are typed in one go."""
    for key in keys:
        await pilot.press(key)
        if len(keys) < 5:
            await pilot.pause()
    await pilot.pause()


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_the_first_causes_repair_is_in_hand_with_its_caution_and_proof(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size, SHAKE) as (pilot, path):
        first = adviser.assess(load_case(path)).causes[0]
        known = adviser.base.causes[first.id].repair
        said = text(pilot)
        assert first.name in said
        assert known.does in said
        assert f"! CAUTION: {known.caution}" in said
        assert f"MUST CHANGE  {known.proof}" in said
        await press(pilot, "down")
        assert f"! CAUTION: {known.caution}" not in text(pilot)
        assert "! CAUTION: " in text(pilot)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_from_the_repair_to_the_closed_case(tmp_path: Path, adviser: Adviser, size: tuple[int, int]) -> None:
    async with opened(tmp_path, adviser, size, SHAKE) as (pilot, path):
        first = adviser.assess(load_case(path)).causes[0].id
        await press(pilot, "d")
        assert isinstance(pilot.app.screen, RepairDoneOverlay)
        await press(pilot, *"Kim", "tab", *"15 g off", "ctrl+s")
        (repair,) = load_case(path).history.repairs
        assert (repair.by, repair.note, repair.effect) == ("Kim", "15 g off", "unknown")
        assert "not repeated" in text(pilot)

        await press(pilot, "r")
        assert isinstance(pilot.app.screen, RepeatOverlay)
        box = pilot.app.screen.query_one("#road-lines", OptionList)
        ids = [str(box.get_option_at_index(place).id) for place in range(box.option_count)]
        assert [one for one in ids if one.startswith(("held", "step road"))] == [
            "held 95 km/h",
            "held 110 km/h",
            "step road-hold-speeds",
            "step road-brake",
        ]
        while box.highlighted is None or ids[box.highlighted] != "held 95 km/h":
            await press(pilot, "down")
        assert "was 3" in str(box.get_option_at_index(ids.index("held 95 km/h")).prompt)
        await press(pilot, "0", "down", "0", "down", "9", "escape")
        case = load_case(path)
        assert strengths_of(case, taken="after") == {Held(95, "km/h"): 0, Held(110, "km/h"): 0}
        assert strengths_of(case, taken="before") == {Held(95, "km/h"): 3, Held(110, "km/h"): 7}
        gone = result_of(case, "road-hold-speeds", taken="after")
        assert gone is not None
        assert gone.outcome == "gone"
        assert "0 gone" in text(pilot)

        await press(pilot, "1")
        assert load_case(path).history.repairs[-1].effect == "cured"
        assert "EFFECT  cured" in text(pilot)
        await press(pilot, "f")
        assert isinstance(pilot.app.screen, FinishOverlay)
        assert pilot.app.screen.query_one("#cause", Select).value == first
        assert "7 before and 0 after at 110 km/h" in pilot.app.screen.query_one("#proof", TextArea).text
        pilot.app.screen.query_one("#place", Input).focus()
        await press(pilot, *"left one", "ctrl+s")
        case = load_case(path)
        assert case.outcome is not None
        assert (case.outcome.confirmed_cause, case.outcome.place) == (first, "left one")
        assert [item.what for item in case.follow_ups] == ["check-torque", "call-back"]
        assert "CLOSED" in text(pilot)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("key", "effect"), [("3", "none"), ("4", "worse")])
async def test_a_repair_that_did_not_help_shows_what_it_did_to_the_ranking(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int], key: str, effect: str
) -> None:
    async with opened(tmp_path, adviser, size, MENDED) as (pilot, path):
        before = adviser.believe(load_case(path))[1].of_cause("tyre-runout")
        await press(pilot, key)
        assert load_case(path).history.repairs[-1].effect == effect
        after = adviser.believe(load_case(path))[1].of_cause("tyre-runout")
        assert after < before if effect == "none" else after != before
        said = text(pilot)
        assert "WHAT THIS DID TO THE RANKING" in said
        assert "▼" in said or "▲" in said
        await press(pilot, "a")
        assert pilot.app.screen.query_one("#repairs").display


@pytest.mark.asyncio
async def test_cured_without_driving_again_is_called_an_opinion(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24), MENDED) as (pilot, _):
        await press(pilot, "1")
        assert "is an opinion" in text(pilot)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_an_open_danger_keeps_the_case_open_until_its_check(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    async with opened(tmp_path, adviser, size, DANGER) as (pilot, path):
        said = text(pilot, "#proof-danger")
        assert "A case with an open danger is not closed" in said
        assert adviser.base.steps["bay-feel-tyres"].title in said
        await press(pilot, "f")
        assert isinstance(pilot.app.screen, ProofOverlay)
        await press(pilot, "r")
        screen = pilot.app.screen
        assert isinstance(screen, RepeatOverlay)
        assert text(pilot, "#road-danger").startswith("!! THE CAR DOES NOT MOVE YET")
        line = screen.line()
        assert line is not None
        assert line.id == "step bay-feel-tyres"
        words = list(adviser.base.steps["bay-feel-tyres"].outcomes)
        await press(pilot, str(words.index("sound") + 1))
        assert not screen.query_one("#road-danger").display
        await press(pilot, "escape", "1", "f")
        assert isinstance(pilot.app.screen, FinishOverlay)
        assert load_case(path).steps[-1].taken == "after"


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_a_closed_case_is_reopened_with_what_was_learned(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    closed = MENDED | {"outcome": {"confirmed_cause": "tyre-runout", "axle": "front", "proof": "0 of 10 at 110 km/h"}}
    async with opened(tmp_path, adviser, size, closed) as (pilot, path):
        assert "0 of 10 at 110 km/h" in text(pilot)
        await press(pilot, "o", "ctrl+s")
        assert isinstance(pilot.app.screen, LearnedOverlay)
        await press(pilot, *"it came back", "ctrl+s")
        case = load_case(path)
        assert case.outcome is None
        assert case.notes is not None
        assert "it came back" in case.notes
        assert case.history.repairs[-1].effect == "came-back"
        assert "WHAT THIS DID TO THE RANKING" in text(pilot)


@pytest.mark.asyncio
@pytest.mark.parametrize("size", SIZES)
async def test_what_is_due_is_done_from_the_first_screen(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    yesterday, later = date.today() - timedelta(days=1), date.today() + timedelta(days=5)
    due = [
        {"what": "check-torque", "due": yesterday.isoformat()},
        {"what": "call-back", "due": later.isoformat(), "note": "Is the shake still gone?"},
    ]
    path = tmp_path / "cases" / "shake.yaml"
    path.parent.mkdir()
    save_case(Case.model_validate(SHAKE | {"follow_ups": due}), path)
    app = application(path.parent, adviser)
    async with app.run_test(size=size) as pilot:
        await finished(app)
        await pilot.pause()
        assert isinstance(app.screen, StartScreen)
        cases = app.screen.query_one("#cases", OptionList)
        assert "DUE: check torque again" in str(cases.get_option_at_index(0).prompt)
        await press(pilot, "d")
        assert isinstance(app.screen, DueOverlay)
        await press(pilot, "escape")
        assert not load_case(path).follow_ups[0].done
        await press(pilot, "d", "enter")
        await finished(app)
        await pilot.pause()
        assert [item.done for item in load_case(path).follow_ups] == [True, False]
        assert "DUE" not in str(cases.get_option_at_index(0).prompt)
        await press(pilot, "d", "enter")
        assert isinstance(app.screen, CallOverlay)
        assert all(f"“{question}”" in flat(app) for question in CALL_QUESTIONS)
        await press(pilot, "ctrl+s")  # nothing was asked yet
        assert isinstance(app.screen, CallOverlay)
        await say(pilot, "yes", "no", "yes")
        assert "ask for the car" not in flat(app)
        await press(pilot, "ctrl+s", "d")
        await finished(app)
        assert all(item.done for item in load_case(path).follow_ups)
        note = str(load_case(path).follow_ups[1].note)
        assert "Still gone: yes. Anything new: no. Fasteners checked again: yes." in note
        assert isinstance(app.screen, StartScreen)


@pytest.mark.asyncio
async def test_a_shake_that_is_back_leads_from_the_call_to_the_open_case(tmp_path: Path, adviser: Adviser) -> None:
    path = tmp_path / "cases" / "shake.yaml"
    path.parent.mkdir()
    due = [{"what": "call-back", "due": str(date.today())}]
    outcome = {"confirmed_cause": "tyre-runout", "proof": "0 of 10 at 110 km/h", "axle": "front"}
    save_case(Case.model_validate(MENDED | {"follow_ups": due, "outcome": outcome}), path)
    app = application(path.parent, adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "d", "enter")
        assert "0 of 10 at 110 km/h" in text_of(app)
        await say(pilot, "no", "not asked", "yes")
        assert "ask for the car" in flat(app)
        await press(pilot, "ctrl+s")
        await settle(pilot)
        assert isinstance(app.screen, ProofOverlay)
        assert load_case(path).follow_ups[0].done
        await press(pilot, "o", *"Since Monday", "ctrl+s")
        case = load_case(path)
        assert case.outcome is None
        assert "0 of 10 at 110 km/h" in str(case.notes)
        assert "Still gone: no." in str(case.follow_ups[0].note)


def flat(app: App[Any]) -> str:
    """The screen in one line, however it is folded."""
    return " ".join(text_of(app).split())


async def say(pilot: Pilot[None], *answers: str) -> None:
    """Choose an answer to each question, by keys."""
    order = ["yes", "no", "not asked"]
    for place, answer in enumerate(answers):
        pilot.app.screen.query_one(f"#call-{place}").focus()
        await press(pilot, "enter", "home", *["down"] * order.index(answer), "enter")


@pytest.mark.asyncio
async def test_a_case_is_not_closed_before_it_is_known_what_the_repair_did(tmp_path: Path, adviser: Adviser) -> None:
    async with opened(tmp_path, adviser, (80, 24), MENDED) as (pilot, path):
        await press(pilot, "a", "f")
        assert not isinstance(pilot.app.screen, FinishOverlay)
        assert [one.message for one in pilot.app._notifications][-1].startswith("Not finished: Say first what")
        await press(pilot, "1")  # the view where it is said is in sight
        assert not list(pilot.app._notifications), "what was asked for has been said"
        await press(pilot, "f")
        assert isinstance(pilot.app.screen, FinishOverlay)
        assert load_case(path).outcome is None


@pytest.mark.asyncio
async def test_something_else_reopens_the_case_and_leaves_the_repair_as_it_was(
    tmp_path: Path, adviser: Adviser
) -> None:
    cured = {"repairs": [{"what": "tyres-renewed", "effect": "cured"}]}
    closed = MENDED | {"history": cured, "outcome": {"confirmed_cause": "tyre-runout"}}
    async with opened(tmp_path, adviser, (80, 24), closed) as (pilot, path):
        await press(pilot, "o")
        (head,) = [line.strip() for line in text_of(pilot.app).splitlines() if "REOPEN" in line]
        assert head == LearnedOverlay.heading  # whole at 80 columns
        await press(pilot, *"a hum now", "ctrl+o")
        case = load_case(path)
        assert case.outcome is None
        assert case.history.repairs[-1].effect == "cured"


@pytest.mark.asyncio
async def test_closing_without_a_proof_is_asked_about_once(tmp_path: Path, adviser: Adviser) -> None:
    bare = SHAKE | {"steps": [], "history": {"repairs": [{"what": "engine-work", "effect": "cured"}]}}
    async with opened(tmp_path, adviser, (80, 24), bare) as (pilot, path):
        await press(pilot, "f", "ctrl+s")
        assert text(pilot, "#fault").startswith("! nothing shows yet that it is gone")
        assert load_case(path).outcome is None
        await press(pilot, "ctrl+s")
        outcome = load_case(path).outcome
        assert outcome is not None
        assert outcome.proof is None
        assert "! none was written down" in text(pilot)
