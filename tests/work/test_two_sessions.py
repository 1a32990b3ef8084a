"""Two sessions on one case: the later change never silently overwrites the earlier one."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import ConflictError
from vibdiag.work.case_file import CaseFile
from vibdiag.work.desk import Desk


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "cases" / "invented.yaml"
    file.parent.mkdir()
    save_case(Case(vibdiag_case=1, id="invented", invented=True, title="It trembles"), file)
    return file


def retitled(desk: Desk, title: str) -> Case:
    return desk.case.model_copy(update={"title": title})


def test_the_later_change_is_refused_and_loses_nothing_of_the_earlier(path: Path, adviser: Adviser) -> None:
    first, second = Desk(CaseFile(path), adviser), Desk(CaseFile(path), adviser)
    first.change(retitled(first, "the first session's words"), "title")
    before = second.case
    with pytest.raises(ConflictError, match="nothing was saved") as refusal:
        second.change(retitled(second, "the second session's words"), "title")
    assert "\n" not in str(refusal.value)
    assert "invented.yaml" in str(refusal.value)
    assert load_case(path).title == "the first session's words"
    assert second.case == before
    assert second.undo() is None


def test_after_reopening_the_change_is_taken(path: Path, adviser: Adviser) -> None:
    first, second = Desk(CaseFile(path), adviser), Desk(CaseFile(path), adviser)
    first.change(retitled(first, "one"), "title")
    with pytest.raises(ConflictError):
        second.change(retitled(second, "two"), "title")
    again = Desk(CaseFile(path), adviser)
    assert again.case.title == "one"
    again.change(retitled(again, "two"), "title")
    assert load_case(path).title == "two"


@pytest.mark.parametrize("way", ["undo", "redo"])
def test_undo_and_redo_do_not_overwrite_either(path: Path, adviser: Adviser, way: str) -> None:
    mine = Desk(CaseFile(path), adviser)
    mine.change(retitled(mine, "mine"), "title")
    if way == "redo":
        mine.undo()
    other = Desk(CaseFile(path), adviser)
    other.change(retitled(other, "the other's"), "title")
    with pytest.raises(ConflictError):
        getattr(mine, way)()
    assert load_case(path).title == "the other's"
    assert mine.case.title == ("mine" if way == "undo" else "It trembles")


def test_a_session_alone_saves_undoes_and_redoes_without_end(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    for number in range(3):
        desk.change(retitled(desk, f"title {number}"), "title")
    assert desk.undo() == "title"
    assert desk.redo() == "title"
    desk.change(retitled(desk, "last"), "title")
    assert load_case(path).title == "last"


def test_a_new_time_alone_is_no_change(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    os.utime(path, (1, 1))
    desk.change(retitled(desk, "after a touch"), "title")
    assert load_case(path).title == "after a touch"


def test_the_same_time_and_size_do_not_hide_a_change(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    stamp = path.stat()
    path.write_text(path.read_text().replace("trembles", "shudders"))
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert path.stat().st_size == stamp.st_size
    with pytest.raises(ConflictError):
        desk.change(retitled(desk, "mine"), "title")
    assert load_case(path).title == "It shudders"


def test_a_case_that_was_moved_away_does_not_come_back(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    path.rename(path.with_name("archived.yaml"))
    with pytest.raises(InputError, match="moved, deleted"):
        desk.change(retitled(desk, "mine"), "title")
    assert not path.exists()


def test_a_folder_that_is_gone_is_an_error_of_the_disk(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    path.unlink()
    path.parent.rmdir()
    with pytest.raises(OSError, match=r".") as refusal:
        desk.change(retitled(desk, "mine"), "title")
    assert isinstance(refusal.value, FileNotFoundError)


def test_of_many_that_save_in_the_same_moment_none_is_lost(path: Path, adviser: Adviser) -> None:
    """The lock closes the gap between comparing and saving: each thread opens the folder anew, as a process would."""
    desks = [Desk(CaseFile(path), adviser) for _ in range(8)]
    steps = [step for step in adviser.base.steps.values() if step.kind == "question"][:8]
    together = threading.Barrier(8)

    def save(number: int) -> None:
        together.wait()
        desks[number].answer(steps[number], "unknown")

    threads = [threading.Thread(target=save, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {one.step for one in load_case(path).steps} == {step.id for step in steps}


def test_a_file_changed_by_hand_is_taken_in_field_by_field(path: Path, adviser: Adviser) -> None:
    desk = Desk(CaseFile(path), adviser)
    by_hand = load_case(path).model_copy(update={"notes": "written in an editor"})
    save_case(by_hand, path)
    (told,) = desk.look()
    assert told.sentence() == "somebody: notes: written in an editor"
    assert desk.case == by_hand


def test_a_file_that_is_half_written_is_said_and_the_case_stays(path: Path, adviser: Adviser) -> None:
    desk, text = Desk(CaseFile(path), adviser), path.read_text()
    path.write_text(text + "steps: [oops\n")
    before = desk.case
    for _ in range(2):
        with pytest.raises(InputError):
            desk.look()
    with pytest.raises(InputError):
        desk.change(retitled(desk, "mine"), "title")
    assert desk.case == before
    path.write_text(text)
    desk.change(retitled(desk, "mine"), "title")
    assert load_case(path).title == "mine"
