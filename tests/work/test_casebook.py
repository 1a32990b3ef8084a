"""The folder of cases: what cannot be read is said, a new case is whole. tests/store/test_shelves.py has the rest."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.work import on_disk
from vibdiag.work.casebook import Casebook, chosen_folder, usual_folder
from vibdiag.work.on_disk import create_case
from vibdiag.work.shelf import with_done

OnDisk = Callable[..., Path]
CaseOf = Callable[..., Case]
DUE = {"what": "check-torque", "due": "2026-03-14"}
LATER = {"what": "call-back", "due": "2026-03-19", "note": "Is the shake still gone?"}
DAY = date(2026, 3, 15)


def test_a_follow_up_is_done_with_day_and_name(case_of: CaseOf) -> None:
    case = case_of(follow_ups=[DUE, LATER])
    done = with_done(case, case.follow_ups[1], today=DAY, by="A. Tester")
    assert [item.done for item in done.follow_ups] == [False, True]
    assert done.follow_ups[1].note == "Is the shake still gone? Done 2026-03-15, A. Tester."


def test_a_follow_up_is_named_by_what_it_is(case_of: CaseOf) -> None:
    """Somebody else took the first one out while the list was in sight: not the one behind it is marked."""
    seen = case_of(follow_ups=[DUE, LATER])
    now = case_of(follow_ups=[LATER])
    with pytest.raises(ValueError, match="not open any more"):
        with_done(now, seen.follow_ups[0], today=DAY, by=None)
    assert with_done(now, seen.follow_ups[1], today=DAY, by=None).follow_ups[0].done


def test_a_follow_up_is_not_done_twice(case_of: CaseOf) -> None:
    case = case_of(follow_ups=[DUE])
    done = with_done(case, case.follow_ups[0], today=DAY, by=None)
    for item in (case.follow_ups[0], done.follow_ups[0]):
        with pytest.raises(ValueError, match="not open any more"):
            with_done(done, item, today=DAY, by=None)


def test_a_file_that_cannot_be_read_stands_in_the_list_with_its_reason(tmp_path: Path) -> None:
    (tmp_path / "broken.yaml").write_text("vibdiag_case: 1\nid: x\nsteps: [oops\n", encoding="utf-8")
    (entry,) = Casebook(tmp_path).entries()
    assert entry.case is None
    assert entry.problem
    assert entry.stands == "cannot be read"
    assert [one.name for one in Casebook(tmp_path).entries("broken")] == ["broken.yaml"]
    assert Casebook(tmp_path).entries("other") == []


def test_a_new_case_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = Casebook(tmp_path / "not yet there")
    key = book.create(by="A. Tester")
    assert load_case(Path(key)).opened_by == "A. Tester"

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as refusing:
        refusing.setattr(on_disk, "save_case", refuse)
        with pytest.raises(OSError, match="No space"):
            book.create()
    assert [each.name for each in book.folder.iterdir()] == [Path(key).name]


@pytest.mark.parametrize("links", [True, False])
def test_a_name_that_is_taken_is_left_alone(
    case_of: CaseOf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Also where a file system has no links, such as that of a memory stick."""

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    if not links:
        monkeypatch.setattr(os, "link", refuse)
    path = tmp_path / "one.yaml"
    assert create_case(case_of(title="first"), path)
    assert not create_case(case_of(title="second"), path)
    assert load_case(path).title == "first"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("parts", "stands"),
    [
        ({}, "new"),
        ({"complaint": {"words": "It shakes."}}, "interview"),
        ({"steps": [{"step": "road-brake", "outcome": "brings"}]}, "road-tested"),
        ({"steps": [{"step": "bay-fasteners", "outcome": "tight"}]}, "in the bay"),
        ({"history": {"repairs": [{"what": "balance"}]}}, "repaired, to be proven"),
        ({"outcome": {"confirmed_cause": "bent-rim"}}, "closed"),
        ({"outcome": {"confirmed_cause": "bent-rim", "proof": "0 of 10 at 110 km/h"}}, "closed, proven"),
    ],
)
def test_where_a_case_stands(on_disk: OnDisk, tmp_path: Path, parts: dict[str, object], stands: str) -> None:
    on_disk(**parts)
    assert Casebook(tmp_path).entries()[0].stands == stands


def test_the_folder_can_be_chosen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("VIBDIAG_CASES", str(tmp_path))
    assert chosen_folder() == tmp_path
    for nothing in ("", None):
        monkeypatch.delenv("VIBDIAG_CASES") if nothing is None else monkeypatch.setenv("VIBDIAG_CASES", nothing)
        assert chosen_folder() is None
    assert usual_folder().name == "cases"
