"""What is typed into a form outlives a disk that is full: the form stays open with it until it is saved."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.app import App
from textual.widgets import Input, TextArea

from tests.screen.stage import (
    Sight,
    agrees,
    application,
    fill_folder,
    press,
    reach,
    settle,
    text_of,
    words,
)
from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.conflict import ConflictOverlay
from vibdiag.store.face import Signature, StoreError
from vibdiag.store.shelf import StoreShelf
from vibdiag.store.store import CaseStore, open_store
from vibdiag.work import on_disk
from vibdiag.work.desk import Desk

from .stage import TREMOR

pytestmark = pytest.mark.asyncio

_FULL = os.strerror(errno.ENOSPC)
_TYPED = "Mind the kerb"
# How each form is reached from the first screen, and the keys that type into it after that.
_FORMS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "words": (("down", "enter", "w"), ()),
    "vehicle": (("down", "enter", "v"), tuple("205/55R16 91V")),
    "line note": (("down", "enter", "r", "down", "n"), ()),
    "repair": (("down", "enter", "p", "d"), ()),
    "finish": (("down", "down", "down", "enter", "p", "1", "f"), ()),
    "it came back": (("enter", "p", "o"), ()),
    "call": (("d", "down", "enter"), ("tab", "tab", "tab", *words(_TYPED))),
}


@contextmanager
def full_disk() -> Iterator[None]:
    """Until it ends, every save of a case finds no room."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, _FULL)

    with pytest.MonkeyPatch.context() as refusing:
        refusing.setattr(on_disk, "save_case", refuse)
        yield


def told(app: App[Any]) -> str:
    return "\n".join(one.message for one in app._notifications)


def on_disk_now(folder: Path) -> str:
    return "\n".join(each.read_text(encoding="utf-8") for each in sorted(folder.glob("*.yaml")))


@pytest.mark.parametrize("form", _FORMS)
async def test_a_form_stays_open_with_what_was_typed_until_it_is_saved(
    tmp_path: Path, adviser: Adviser, form: str
) -> None:
    cases = fill_folder(tmp_path)
    app = application(cases, adviser)
    way, typing = _FORMS[form]
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await reach(pilot, Sight(form, way))
        sheet = app.screen
        await press(pilot, *(typing or words(_TYPED)))
        typed = sheet.typed_in()  # type: ignore[attr-defined]
        before = on_disk_now(cases)
        with full_disk():
            await press(pilot, "ctrl+s")
            assert app.screen is sheet
            assert f"not saved: {_FULL}" in told(app)
            assert sheet.typed_in() == typed  # type: ignore[attr-defined]
            assert on_disk_now(cases) == before
            await press(pilot, "escape", "enter")  # keep it, says who leaves; it still cannot be kept
            assert app.screen is sheet
            assert sheet.typed_in() == typed  # type: ignore[attr-defined]
        await press(pilot, "ctrl+s")  # there is room again: the same key saves
        assert app.screen is not sheet
        assert ("205/55R16 91V" if form == "vehicle" else _TYPED) in on_disk_now(cases)


async def test_a_recording_stays_typed(tmp_path: Path, adviser: Adviser) -> None:
    cases = fill_folder(tmp_path)
    (cases / "drive.csv").write_text("t,a\n0,0\n", encoding="utf-8")
    app = application(cases, adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "r", "a")
        await press(pilot, *words("drive.csv"))
        sheet = app.screen
        with full_disk():
            await press(pilot, "enter")
            assert app.screen is sheet
            assert sheet.query_one("#path", Input).value == "drive.csv"
        await press(pilot, "enter")
        assert [one.path for one in agrees(app).attachments] == ["drive.csv"]


async def test_a_reading_in_the_bay_stays_typed(tmp_path: Path, adviser: Adviser) -> None:
    app = application(fill_folder(tmp_path), adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "m", "f4")
        await press(pilot, "1", ".", "2")
        sheet = app.screen
        assert isinstance(sheet, BayOverlay)
        with full_disk():
            await press(pilot, "enter")
            assert sheet.query_one("#value", Input).value == "1.2"
        await press(pilot, "enter")
        assert sheet.query_one("#value", Input).value == ""
        assert 1.2 in [one.value for one in agrees(app).measurements]


async def test_a_store_that_refuses_leaves_the_form_open(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise StoreError("database or disk is full")

    with open_store(str(tmp_path / "cases.db")) as store:
        store.create(Case.model_validate(TREMOR), Signature("Maker", "test"))
        app = application(tmp_path / "cases", adviser, shelf=StoreShelf(store))
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await press(pilot, "enter", "w", *words(_TYPED))
            with monkeypatch.context() as refusing:
                refusing.setattr(CaseStore, "save", refuse)
                await press(pilot, "ctrl+s")
                assert _TYPED in app.screen.query_one("#words", TextArea).text
                assert "database or disk is full" in told(app)
            await press(pilot, "ctrl+s")
            assert isinstance(app.screen, CaseScreen)
            assert _TYPED in agrees(app).complaint.words


async def test_yours_stays_in_sight_when_it_was_to_stand_and_the_disk_refuses(tmp_path: Path, adviser: Adviser) -> None:
    cases = fill_folder(tmp_path)
    app = application(cases, adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "w", *words(_TYPED))
        other = Desk(app.shelf.open(str(cases / "tremor.yaml")), adviser)
        theirs = other.case.complaint.model_copy(update={"words": "Somebody else was quicker."})
        other.change(other.case.model_copy(update={"complaint": theirs}), "words")
        await press(pilot, "ctrl+s")
        sheet = app.screen
        assert isinstance(sheet, ConflictOverlay)
        with full_disk():
            await press(pilot, "ctrl+s")
            assert app.screen is sheet
            assert _TYPED in " ".join(text_of(app).split())
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, CaseScreen)
        assert _TYPED in agrees(app).complaint.words


@pytest.mark.parametrize("leave", ["escape", "ctrl+q"])
async def test_a_note_that_no_answer_took_goes_to_the_notes_of_the_case(
    tmp_path: Path, adviser: Adviser, leave: str
) -> None:
    cases = fill_folder(tmp_path)
    app = application(cases, adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "n", *words(_TYPED), "ctrl+s")
        with full_disk():
            await press(pilot, leave)
            assert isinstance(app.screen, CaseScreen)
            assert app.screen.note == _TYPED
        await press(pilot, leave)
        assert load_case(cases / "tremor.yaml").notes == _TYPED
