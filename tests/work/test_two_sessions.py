"""Two sessions on one case: the later change never silently overwrites the earlier one."""

from __future__ import annotations

import asyncio
import os
import threading
from pathlib import Path

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.files.errors import InputError
from vibdiag.work.casebook import Casebook
from vibdiag.work.desk import Desk
from vibdiag.work.on_disk import CaseChangedError, fingerprint, save_unless_changed


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "cases" / "invented.yaml"
    file.parent.mkdir()
    save_case(Case(vibdiag_case=1, id="invented", invented=True, title="It trembles"), file)
    return file


def retitled(desk: Desk, title: str) -> Case:
    return desk.case.model_copy(update={"title": title})


def test_the_later_change_is_refused_and_loses_nothing_of_the_earlier(path: Path, adviser: Adviser) -> None:
    first, second = Desk(path, adviser), Desk(path, adviser)
    first.change(retitled(first, "the first session's words"), "title")
    before = second.case
    with pytest.raises(CaseChangedError, match="open the case again") as refusal:
        second.change(retitled(second, "the second session's words"), "title")
    assert "\n" not in str(refusal.value)
    assert "invented.yaml" in str(refusal.value)
    assert load_case(path).title == "the first session's words"
    assert second.case == before
    assert second.done == []


def test_after_reopening_the_change_is_taken(path: Path, adviser: Adviser) -> None:
    first, second = Desk(path, adviser), Desk(path, adviser)
    first.change(retitled(first, "one"), "title")
    with pytest.raises(CaseChangedError):
        second.change(retitled(second, "two"), "title")
    again = Desk(path, adviser)
    assert again.case.title == "one"
    again.change(retitled(again, "two"), "title")
    assert load_case(path).title == "two"


@pytest.mark.parametrize("way", ["undo", "redo"])
def test_undo_and_redo_do_not_overwrite_either(path: Path, adviser: Adviser, way: str) -> None:
    mine = Desk(path, adviser)
    mine.change(retitled(mine, "mine"), "title")
    if way == "redo":
        mine.undo()
    other = Desk(path, adviser)
    other.change(retitled(other, "the other's"), "title")
    with pytest.raises(CaseChangedError):
        getattr(mine, way)()
    assert load_case(path).title == "the other's"
    assert (len(mine.done), len(mine.undone)) == ((1, 0) if way == "undo" else (0, 1))


def test_a_session_alone_saves_undoes_and_redoes_without_end(path: Path, adviser: Adviser) -> None:
    desk = Desk(path, adviser)
    for number in range(3):
        desk.change(retitled(desk, f"title {number}"), "title")
    assert desk.undo() == "title"
    assert desk.redo() == "title"
    desk.change(retitled(desk, "last"), "title")
    assert load_case(path).title == "last"


def test_a_new_time_alone_is_no_change(path: Path, adviser: Adviser) -> None:
    desk = Desk(path, adviser)
    os.utime(path, (1, 1))
    desk.change(retitled(desk, "after a touch"), "title")
    assert load_case(path).title == "after a touch"


def test_the_same_time_and_size_do_not_hide_a_change(path: Path, adviser: Adviser) -> None:
    desk = Desk(path, adviser)
    stamp = path.stat()
    path.write_text(path.read_text().replace("trembles", "shudders"))
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert path.stat().st_size == stamp.st_size
    with pytest.raises(CaseChangedError):
        desk.change(retitled(desk, "mine"), "title")
    assert load_case(path).title == "It shudders"


def test_a_case_that_was_moved_away_does_not_come_back(path: Path, adviser: Adviser) -> None:
    desk = Desk(path, adviser)
    path.rename(path.with_name("archived.yaml"))
    with pytest.raises(CaseChangedError, match="moved, deleted"):
        desk.change(retitled(desk, "mine"), "title")
    assert not path.exists()


def test_a_folder_that_is_gone_is_an_error_of_the_disk(path: Path, adviser: Adviser) -> None:
    desk = Desk(path, adviser)
    path.unlink()
    path.parent.rmdir()
    with pytest.raises(OSError, match=r".") as refusal:
        desk.change(retitled(desk, "mine"), "title")
    assert isinstance(refusal.value, FileNotFoundError)


def test_the_refusal_is_no_error_of_the_disk() -> None:
    assert issubclass(CaseChangedError, InputError)
    assert not issubclass(CaseChangedError, OSError)


def test_of_many_that_save_in_the_same_moment_exactly_one_succeeds(path: Path) -> None:
    """The lock closes the gap between comparing and saving: each thread opens the folder anew, as a process would."""
    seen, case = fingerprint(path), load_case(path)
    together, won, refused = threading.Barrier(8), [], []

    def save(number: int) -> None:
        mine = case.model_copy(update={"title": f"session {number}"})
        together.wait()
        try:
            save_unless_changed(mine, path, seen)
            won.append(number)
        except CaseChangedError:
            refused.append(number)

    threads = [threading.Thread(target=save, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(won), len(refused)) == (1, 7)
    assert load_case(path).title == f"session {won[0]}"


@pytest.mark.parametrize("key", ["1", "u"])
def test_the_screen_says_so_and_goes_on(path: Path, adviser: Adviser, key: str) -> None:
    """An answer and an undo in one session, after another session saved: refused in words, nothing falls over."""

    async def test() -> None:
        from vibdiag.screen.app import VibdiagApp
        from vibdiag.screen.case_screen import CaseScreen

        app = VibdiagApp(Casebook(path.parent), adviser=adviser)
        async with app.run_test(size=(100, 30)) as pilot:
            app.action_open_case(str(path))
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, CaseScreen)
            mine = screen.desk
            screen.apply(retitled(mine, "mine"), "title")
            other = Desk(path, adviser)
            other.change(retitled(other, "the other's"), "title")
            await pilot.press(key)
            await pilot.pause()
            assert app.screen is screen
            assert any("open the case again" in note.message for note in app._notifications)
            assert mine.case.title == "mine"
            assert mine.case.steps == []
        assert load_case(path).title == "the other's"

    asyncio.run(test())
