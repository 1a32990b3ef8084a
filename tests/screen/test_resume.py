"""What happens when things go wrong: killed in the middle, damaged preferences, a disk that refuses."""

from __future__ import annotations

import errno
import fcntl
import json
import os
import pty
import random
import select
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.store.test_crashes import sound as store_is_sound
from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.start import StartScreen
from vibdiag.store.face import Signature
from vibdiag.store.store import open_store
from vibdiag.work import on_disk

from .stage import TREMOR, agrees, application, case_screen, fill_folder, press, said, settle, words

MOST_SECONDS = 30.0


class Terminal:
    """A real process of the program in a terminal of its own; what it paints is read and kept."""

    def __init__(self, *arguments: str, **more: str) -> None:
        mine, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        environment = {key: value for key, value in os.environ.items() if key not in ("TEXTUAL_DRIVER", "NO_COLOR")}
        self.process = subprocess.Popen(
            [sys.executable, "-c", "from vibdiag.commands.main import run; run()", *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=environment | {"TERM": "xterm-256color", "VIBDIAG_CASES": "", "VIBDIAG_STORE": ""} | more,
            start_new_session=True,
        )
        os.close(theirs)
        self.mine, self.painted, self.over = mine, b"", False
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        while not self.over:
            ready, _, _ = select.select([self.mine], [], [], 0.1)
            if ready:
                try:
                    self.painted += os.read(self.mine, 65536)
                except OSError as error:
                    if error.errno != errno.EIO:  # EIO: the other end is gone
                        raise
                    return

    def wait_for(self, text: str) -> None:
        """Until `text` was painted since the last key."""
        wait_until(lambda: text.encode() in self.painted, f"'{text}' was never painted")

    def type(self, keys: str) -> None:
        self.painted = b""
        os.write(self.mine, keys.encode())

    def type_until(self, keys: str, text: str) -> None:
        """Once a second, until `text` was painted."""
        tried = [0.0]

        def painted() -> bool:
            if time.monotonic() - tried[-1] > 1:
                tried.append(time.monotonic())
                os.write(self.mine, keys.encode())
            return text.encode() in self.painted

        wait_until(painted, f"'{text}' was never painted")

    def kill(self) -> None:
        """kill -9, and nothing is left behind."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait(timeout=MOST_SECONDS)
        self.over = True
        self.reader.join(timeout=5)
        os.close(self.mine)


def wait_until(holds: Callable[[], bool], otherwise: str) -> None:
    """Look every 20 ms; gives up with one sentence."""
    end = time.monotonic() + MOST_SECONDS
    while not holds():
        if time.monotonic() > end:
            pytest.fail(otherwise)
        time.sleep(0.02)


@contextmanager
def running(*arguments: str, **more: str) -> Iterator[Terminal]:
    """A process that is killed at the end, whatever happens."""
    terminal = Terminal(*arguments, **more)
    try:
        yield terminal
    finally:
        terminal.kill()


@dataclass(frozen=True)
class Kept:
    """A place with one case: how the program is started on it, where its preferences are, and what the case holds."""

    arguments: tuple[str, ...]
    environment: dict[str, str]
    preferences: Path
    steps: Callable[[], list[tuple[str, str]]]
    sound: Callable[[], None]


def _answers(case: Case) -> list[tuple[str, str]]:
    return [(one.step, one.outcome) for one in case.steps]


def in_a_folder(root: Path, case: Case) -> Kept:
    cases = root / "cases"
    cases.mkdir()
    path = cases / "tremor.yaml"
    save_case(case, path)

    def sound() -> None:
        assert {each.name for each in cases.iterdir()} == {"tremor.yaml"}  # no half-written file stays behind

    arguments = ("--cases", str(cases))
    return Kept(arguments, {}, root / "preferences.json", lambda: _answers(load_case(path)), sound)


def in_the_store(root: Path, case: Case) -> Kept:
    """The usual store of the person, without any option."""
    place = str(root / "vibdiag" / "cases.db")
    with open_store(place) as store:
        store.create(case, Signature("Maker", "test"))

    def steps() -> list[tuple[str, str]]:
        with open_store(place) as store:
            return _answers(store.read(case.id).case)

    def sound() -> None:
        with open_store(place) as store:
            store_is_sound(store)

    return Kept((), {"XDG_DATA_HOME": str(root)}, root / "vibdiag" / "preferences.json", steps, sound)


def some_other_question(adviser: Adviser, answered: set[str]) -> StepText:
    """One that nobody asked yet, which raises no flag, and whose name finds nothing else."""
    ids = [step.id for step in adviser.base.steps.values()]
    return next(
        step
        for step in adviser.base.steps.values()
        if step.kind == "question"
        and step.id not in answered
        and not step.red_flag
        and sum(step.id in other for other in ids) == 1
    )


@pytest.mark.parametrize("keep", [in_a_folder, in_the_store])
def test_killed_in_the_middle_nothing_is_lost_and_the_next_start_goes_on_there(
    tmp_path: Path, adviser: Adviser, keep: Callable[[Path, Case], Kept]
) -> None:
    kept = keep(tmp_path, Case.model_validate(TREMOR))
    before = kept.steps()
    with running(*kept.arguments, **kept.environment) as terminal:
        terminal.wait_for(TREMOR["title"])
        terminal.type_until("\r", "tells ")  # the rule base is read aside; until then the list says so
        for count in (1, 2, 3):
            terminal.type("0")  # don't know weighs nothing, so no danger comes up whatever the rules say
            wait_until(lambda count=count: len(kept.steps()) == len(before) + count, f"answer {count} was not saved")  # type: ignore[misc]
        told = kept.steps()
        chosen = some_other_question(adviser, {step for step, _ in told})
        terminal.type("l")
        terminal.wait_for("CHOOSE A STEP")
        terminal.type(chosen.id)
        terminal.wait_for(chosen.title)
        terminal.type("\r")
        wait_until(
            lambda: f'"{chosen.id}"' in kept.preferences.read_text(encoding="utf-8"), "the step was not remembered"
        )
    assert terminal.process.returncode == -signal.SIGKILL
    assert kept.steps() == told
    assert len(told) == len(before) + 3
    kept.sound()

    with running(*kept.arguments, **kept.environment) as terminal:
        terminal.wait_for(chosen.title)
        terminal.type("2")
        wait_until(lambda: len(kept.steps()) == len(told) + 1, "the answer after the restart was not saved")
    assert kept.steps() == [*told, (chosen.id, list(chosen.outcomes)[1])]


def test_killed_while_keys_come_in_what_was_shown_as_saved_is_there(tmp_path: Path) -> None:
    """Three rounds of answers, each killed at a random moment: never fewer than the screen had shown, never half."""
    kept = in_the_store(tmp_path, Case.model_validate(TREMOR))
    chance = random.Random()
    for _ in range(3):
        before = len(kept.steps())
        with running(*kept.arguments, **kept.environment) as terminal:
            terminal.type_until("\r", "tells ")
            terminal.type("0")  # don't know weighs nothing, so no danger comes up
            wait_until(lambda before=before: len(kept.steps()) > before, "an answer was not saved")  # type: ignore[misc]
            terminal.type("000000")
            time.sleep(chance.random() * 0.3)
            shown = len(kept.steps())
        assert len(kept.steps()) >= shown
        kept.sound()


@pytest.mark.parametrize("damage", ["{", "[]", '{"units": {"speed": "knots", "what": 1}}', "\x00\x01", '"text"'])
async def test_damaged_preferences_are_said_and_not_fatal(tmp_path: Path, adviser: Adviser, damage: str) -> None:
    cases = fill_folder(tmp_path)
    (tmp_path / "preferences.json").write_text(damage, encoding="utf-8")
    app = application(cases, adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        (told,) = [one.message for one in app._notifications]
        assert told.startswith("the settings in preferences.json could not be read (")
        assert isinstance(app.screen, StartScreen)
        await press(pilot, "enter")
        assert isinstance(app.screen, CaseScreen)
        await press(pilot, "f3")
    assert json.loads((tmp_path / "preferences.json").read_text(encoding="utf-8"))["theme"] == "night"


@pytest.mark.parametrize(
    ("code", "said_so"), [(errno.ENOSPC, "No space left on device"), (errno.EROFS, "Read-only file system")]
)
async def test_a_disk_that_refuses_is_said_and_the_case_stays_as_it_was(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch, code: int, said_so: str
) -> None:
    app = application(fill_folder(tmp_path), adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter")
        case, shown = agrees(app), said(pilot, "#step-text")
        causes = case_screen(app).desk.assessment.causes

        def refuse(*_: object, **__: object) -> None:
            raise OSError(code, os.strerror(code))

        with monkeypatch.context() as refusing:
            refusing.setattr(on_disk, "save_case", refuse)
            for keys, back in (
                (["1"], []),
                (["t", "end", "delete", "t"], []),
                (["w", "5", "ctrl+s"], ["escape", "ctrl+d"]),
            ):
                app._notifications.clear()
                await press(pilot, *keys)
                assert f"The disk refused: not saved: {said_so}" in [one.message for one in app._notifications]
                await press(pilot, *back)
                assert agrees(app) == case
                assert said(pilot, "#step-text") == shown
                assert case_screen(app).desk.assessment.causes == causes
        await press(pilot, "1")  # the disk is back: the same key now does what it says
        assert len(agrees(app).steps) == len(case.steps) + 1


async def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path, adviser: Adviser) -> None:
    (tmp_path / "cases").write_text("a file where the folder should be", encoding="utf-8")
    app = application(tmp_path / "cases", adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "n")
        assert isinstance(app.screen, StartScreen)
        (told,) = list(app._notifications)
        assert told.message.startswith("No case can be made there: ")
        assert str(tmp_path / "cases") in told.message


async def test_a_note_in_hand_survives_a_disk_that_refuses(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = application(fill_folder(tmp_path), adviser)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "down", "enter", "n", *words("only when wet"), "ctrl+s")

        def refuse(*_: object, **__: object) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with monkeypatch.context() as refusing:
            refusing.setattr(on_disk, "save_case", refuse)
            await press(pilot, "1")
        await press(pilot, "1")
        assert agrees(app).steps[-1].words == "only when wet"
