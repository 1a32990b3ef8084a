"""The folder of cases: what is due on top, what cannot be read is said, a follow-up is done on the disk at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.files.errors import InputError
from vibdiag.work.casebook import Casebook, default_folder, with_done

OnDisk = Callable[..., Path]
CaseOf = Callable[..., Case]
DUE = {"what": "check-torque", "due": "2026-03-14"}
LATER = {"what": "call-back", "due": "2026-03-19", "note": "Is the shake still gone?"}
DAY = date(2026, 3, 15)


def test_what_is_due_comes_first_and_is_named(on_disk: OnDisk, tmp_path: Path) -> None:
    on_disk("due", follow_ups=[DUE, LATER])
    on_disk("newer", complaint={"words": "It shakes."})
    first, second = Casebook(tmp_path).entries()
    assert (first.path.stem, second.path.stem) == ("due", "newer")
    assert first.due(DAY) == ["check torque again"]
    assert first.due(date(2026, 3, 1)) == []
    assert second.due(DAY) == []


def test_a_follow_up_is_done_with_day_and_name(case_of: CaseOf) -> None:
    case = with_done(case_of(follow_ups=[DUE, LATER]), 1, today=DAY, by="A. Tester")
    assert [item.done for item in case.follow_ups] == [False, True]
    assert case.follow_ups[1].note == "Is the shake still gone? Done 2026-03-15, A. Tester."


@pytest.mark.parametrize("place", [-1, 2])
def test_a_follow_up_that_is_not_there_is_refused(case_of: CaseOf, place: int) -> None:
    with pytest.raises(ValueError, match="not open any more"):
        with_done(case_of(follow_ups=[DUE, LATER]), place, today=DAY, by=None)


def test_a_follow_up_is_not_done_twice(case_of: CaseOf) -> None:
    done = with_done(case_of(follow_ups=[DUE]), 0, today=DAY, by=None)
    with pytest.raises(ValueError, match="not open any more"):
        with_done(done, 0, today=DAY, by=None)


def test_it_is_on_the_disk_at_once(on_disk: OnDisk, tmp_path: Path) -> None:
    path = on_disk(follow_ups=[DUE])
    returned = Casebook(tmp_path).follow_up_done(path, 0, today=DAY, by=None)
    assert load_case(path) == returned
    assert returned.follow_ups[0].done
    assert list(tmp_path.iterdir()) == [path]


def test_a_case_that_is_gone_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        Casebook(tmp_path).follow_up_done(tmp_path / "none.yaml", 0, today=DAY, by=None)


def test_a_file_that_cannot_be_read_stands_in_the_list_with_its_reason(tmp_path: Path) -> None:
    (tmp_path / "broken.yaml").write_text("vibdiag_case: 1\nid: x\nsteps: [oops\n", encoding="utf-8")
    (entry,) = Casebook(tmp_path).entries()
    assert entry.case is None
    assert entry.problem
    assert entry.stands == "cannot be read"
    assert entry.matches("broken")


def test_new_cases_of_one_day_have_names_of_their_own(tmp_path: Path) -> None:
    book = Casebook(tmp_path / "not yet there")
    first, second = book.create(by="A. Tester"), book.create()
    assert first[0] != second[0]
    assert load_case(first[0]).opened_by == "A. Tester"


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


def test_search_wants_every_word(on_disk: OnDisk, tmp_path: Path) -> None:
    on_disk(title="Trembles on the motorway", vehicle={"description": "estate car"})
    (entry,) = Casebook(tmp_path).entries()
    assert entry.matches("ESTATE trembles")
    assert not entry.matches("estate pickup")


def test_the_folder_can_be_chosen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("VIBDIAG_CASES", str(tmp_path))
    assert default_folder() == tmp_path
    monkeypatch.delenv("VIBDIAG_CASES")
    assert default_folder().name == "cases"
