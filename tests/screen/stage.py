"""What the proof of the screens shares: a folder of invented cases, keys without waiting, and what stands there."""

from __future__ import annotations

import json
import os
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from rich.style import Style
from textual import events
from textual.app import App
from textual.keys import _character_to_key
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input, Static, TextArea
from textual.worker import WorkerCancelled

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.screen.app import VibdiagApp
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.preferences import Preferences
from vibdiag.work.case_file import CaseFile
from vibdiag.work.casebook import Casebook
from vibdiag.work.desk import Desk
from vibdiag.work.shelf import Shelf

__all__ = [
    "SIGHTS",
    "Cell",
    "Sight",
    "agrees",
    "application",
    "case_screen",
    "cells_of",
    "desk_on",
    "fill_folder",
    "opening",
    "press",
    "reach",
    "settle",
    "sign_dangers",
    "steady",
    "step_said",
    "text_of",
    "words",
]

TREMOR: dict[str, Any] = {
    "vibdiag_case": 1,
    "id": "tremor",
    "title": "Trembles at motorway speed",
    "invented": True,
    "vehicle": {
        "description": "estate car",
        "driven": "front",
        "engine_placement": "transverse",
        "power": "combustion",
        "cylinders": 4,
        "axle_ratio": 3.65,
        "gear_ratio": 0.76,
        "tyres": {"front": "225/45R17 91W"},
    },
    "complaint": {
        "words": "From ninety-five the wheel trembles in my hands, worst at a hundred and ten.",
        "speed": {"starts": 95, "worst": 110, "fades": 130, "unit": "km/h", "read_from": "gps"},
        "felt_at": ["steering-wheel"],
    },
    "history": {"not_happened": ["wheels-off"]},
    "steps": [
        {"step": "ask-where", "outcome": "steering-wheel", "by": "A. Tester", "at": "2026-03-18T08:00:00+00:00"},
        {"step": "ask-growth", "outcome": "unknown", "by": "A. Tester", "at": "2026-03-18T08:01:00+00:00"},
        {
            "step": "road-hold-speeds",
            "outcome": "narrow-band",
            "by": "A. Tester",
            "at": "2026-03-18T09:00:00+00:00",
            "words": "Strength 0 to 10: 95 km/h 3, 110 km/h 7.",
        },
        {"step": "road-brake", "outcome": "unchanged", "by": "A. Tester", "at": "2026-03-18T09:10:00+00:00"},
        {"step": "bay-balance-audit", "outcome": "in-balance", "how": "told", "at": "2026-03-18T09:30:00+00:00"},
    ],
    "measurements": [
        {"quantity": "tread-radial-runout", "value": 1.8, "unit": "mm", "wheel": "front-left", "taken": "before"},
        {"quantity": "tread-radial-runout", "value": 0.4, "unit": "mm", "wheel": "front-right", "taken": "before"},
    ],
}
MENDED: dict[str, Any] = TREMOR | {
    "id": "mended",
    "title": "Trembled, front tyres renewed",
    "history": TREMOR["history"] | {"repairs": [{"what": "tyres-renewed", "by": "A. Tester", "note": "Front pair."}]},
}
BULGE: dict[str, Any] = TREMOR | {
    "id": "bulge",
    "title": "Thumps since the kerb",
    "seen": {"tyre": "bulge-or-cord"},
    "steps": [],
    "measurements": [],
}
CLOSED: dict[str, Any] = TREMOR | {
    "id": "closed",
    "title": "Shook until the rims were cleaned",
    "history": TREMOR["history"] | {"repairs": [{"what": "wheel-seat-cleaned", "effect": "cured"}]},
    "outcome": {
        "confirmed_cause": "hub-centring-error",
        "axle": "front",
        "wheel": "front-left",
        "proof": "Same road at 110 km/h, 0 of 10 where it was 7.",
        "by": "A. Tester",
        "at": "2026-03-12T09:00:00+00:00",
    },
    "follow_ups": [
        {"what": "check-torque", "due": "2026-03-14", "note": "After 50 to 100 km; the maker's torque."},
        {"what": "call-back", "due": "2026-04-02", "note": "Is the shake still gone?"},
    ],
}
# In the order in which they stand on the first screen: what is due, then what was changed last.
_FOLDER = (CLOSED, TREMOR, BULGE, MENDED)
_BROKEN = "vibdiag_case: 1\nid: broken\ncomplaint:\n  speed: {starts: fast}\n"
# 2026-03-18 12:00 UTC, two days before the frozen today.
_CHANGED = 1773835200


def fill_folder(folder: Path) -> Path:
    """Four invented cases and one file that cannot be read in `folder/cases`, preferences beside; the folder."""
    cases = folder / "cases"
    cases.mkdir(parents=True)
    for place, parts in enumerate(_FOLDER):
        path = cases / f"{parts['id']}.yaml"
        save_case(Case.model_validate(parts), path)
        os.utime(path, (_CHANGED - 3600 * place, _CHANGED - 3600 * place))
    broken = cases / "broken.yaml"
    broken.write_text(_BROKEN, encoding="utf-8")
    os.utime(broken, (_CHANGED - 90000, _CHANGED - 90000))
    chosen = {"theme": "paper", "role": "all", "name": "A. Tester"}
    (folder / "preferences.json").write_text(json.dumps(chosen), encoding="utf-8")
    return cases


def application(cases: Path, adviser: Adviser, *, shelf: Shelf | None = None) -> VibdiagApp:
    """The application on that folder, or on another shelf; nothing glides, so that nobody waits for it."""
    chosen = Preferences.load(cases.parent / "preferences.json")
    app = VibdiagApp(shelf or Casebook(cases), chosen, adviser=adviser)
    app.animation_level = "none"
    return app


def desk_on(path: Path, adviser: Adviser, **more: Any) -> Desk:
    """A second session on that case file."""
    return Desk(CaseFile(path), adviser, **more)


Opened = Callable[..., AbstractAsyncContextManager[tuple[Pilot[None], Path]]]


def opening(usual: dict[str, Any], *keys: str, until: type[Screen[Any]]) -> Opened:
    """How a test of one sheet begins: the application with one case, and by these keys on the sheet `until`."""

    @asynccontextmanager
    async def opened(
        folder: Path, adviser: Adviser, size: tuple[int, int], case: dict[str, Any] = usual
    ) -> AsyncIterator[tuple[Pilot[None], Path]]:
        path = folder / "cases" / "shake.yaml"
        path.parent.mkdir(parents=True)
        save_case(Case.model_validate(case), path)
        app = application(path.parent, adviser)
        async with app.run_test(size=size) as pilot:
            app.action_open_case(str(path))
            await pilot.pause()
            await sign_dangers(pilot)
            await pilot.press(*keys)
            await pilot.pause()
            assert isinstance(app.screen, until)
            yield pilot, path

    return opened


async def sign_dangers(pilot: Pilot[None], name: str = "Kim") -> None:
    """Every danger that stands there is read and signed for."""
    while case_screen(pilot.app).now().danger is not None:
        box = case_screen(pilot.app).query_one("#danger-name", Input)
        box.value = name
        await press(pilot, "ctrl+s")


# -- keys -------------------------------------------------------------------------------------------------------


async def finished(app: App[None]) -> None:
    """Until no worker is under way; one that a newer one has taken the place of is not waited for."""
    while True:
        try:
            await app.workers.wait_for_complete()
        except WorkerCancelled:
            continue
        return


async def settle(pilot: Pilot[None]) -> None:
    """Until nothing is under way: no worker, no message, no repaint."""
    await pilot.pause()
    await finished(pilot.app)
    await pilot.pause()


# So many letters in a row are words that are typed: they come as fast as the program takes them, as from a hand that
# types ahead, and not one picture each.
_WORDS_FROM = 5


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys one after another, and wait until all of them have done what they do."""
    for typed, some in groupby(keys, key=lambda key: len(key) == 1):
        several = list(some)
        if typed and len(several) >= _WORDS_FROM:
            await pilot.press(several[0])
            for key in several[1:]:
                pilot.app.post_message(events.Key(_character_to_key(key), key))
            await pilot.pause()
        else:
            for key in several:
                await pilot.press(key)
    await settle(pilot)


def words(text: str) -> list[str]:
    """The keys that type `text`."""
    return ["enter" if each == "\n" else each for each in text]


async def steady(pilot: Pilot[None]) -> None:
    """No cursor blinks and no message hangs over the screen, so that two pictures of one state are equal."""
    for widget in pilot.app.screen.query("Input, TextArea"):
        if isinstance(widget, Input | TextArea):
            widget.cursor_blink = False
    await settle(pilot)


# -- what stands there ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Cell:
    """One character and how it is drawn."""

    char: str
    style: Style

    @property
    def without_colour(self) -> tuple[str, bool, bool, bool]:
        """What is left on a screen that shows no colour: the character, bold, underline, reverse."""
        return self.char, bool(self.style.bold), bool(self.style.underline), bool(self.style.reverse)


def cells_of(app: App[Any]) -> list[list[Cell]]:
    """Every cell of the screen as it is drawn now, row by row."""
    rows = []
    for strip in app.screen._compositor.render_strips():
        row: list[Cell] = []
        for segment in strip:
            row += [Cell(char, segment.style or Style.null()) for char in segment.text]
        rows.append(row)
    return rows


def text_of(app: App[Any]) -> str:
    """The screen as plain characters."""
    return "\n".join("".join(cell.char for cell in row).rstrip() for row in cells_of(app))


def said(pilot: Pilot[None], selector: str) -> str:
    """What a text of the screen in hand says, whole, also where it is scrolled."""
    return str(pilot.app.screen.query_one(selector, Static).content)


def step_said(pilot: Pilot[None]) -> str:
    """The step in hand, whole: what stays in sight and what scrolls between."""
    return "\n".join(said(pilot, place) for place in ("#step-text", "#step-manner", "#step-outcomes"))


def case_screen(app: App[Any]) -> CaseScreen:
    """The case that is open, below whatever lies over it."""
    return next(screen for screen in app.screen_stack if isinstance(screen, CaseScreen))


def agrees(app: App[Any]) -> Case:
    """The case as anybody else would find it now, which must be equal to the one that is shown."""
    assert isinstance(app, VibdiagApp)
    desk = case_screen(app).desk
    kept = app.shelf.open(desk.hand.key).case
    assert kept == desk.case
    return kept


# -- the sights -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Sight:
    """A screen worth looking at: the keys that lead there from the first screen."""

    name: str
    keys: tuple[str, ...]


def _case(place: int, *keys: str) -> tuple[str, ...]:
    return (*["down"] * place, "enter", *keys)


SIGHTS = (
    Sight("start", ()),
    Sight("question", _case(1)),
    Sight("danger", _case(2)),
    Sight("causes", _case(1, "c")),
    Sight("trail", _case(1, "t", "down")),
    Sight("vehicle", _case(1, "v")),
    Sight("road", _case(1, "r")),
    Sight("bay", _case(1, "m")),
    Sight("readings", _case(1, "m", "f4", "1", ".", "2")),
    Sight("mend", _case(1, "p")),
    Sight("proof", _case(3, "p")),
    Sight("help", _case(1, "f1")),
    Sight("closed", _case(0)),
    Sight("words", _case(1, "w")),
    Sight("finish", _case(3, "p", "f")),
    Sight("due", ("d",)),
)


async def reach(pilot: Pilot[None], sight: Sight) -> None:
    """Go to a sight from the first screen, by keys alone."""
    await settle(pilot)
    for key in sight.keys:
        await press(pilot, key)
    await steady(pilot)


def folders(root: Path) -> Iterator[Path]:
    """Every case file below `root`."""
    yield from sorted((root / "cases").glob("*.yaml"))
