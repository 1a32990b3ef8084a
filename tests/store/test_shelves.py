"""One suite for every place where cases are kept: a folder of files, SQLite, and PostgreSQL where there is one.

What the screens may rely on: saved before it is shown, merged by field, a true conflict never overwritten, undo of
one's own changes alone, and recordings that are there.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.store.conftest import both, case_of, server_database
from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import ConflictError
from vibdiag.store.exchange import import_files
from vibdiag.store.face import Signature
from vibdiag.store.shelf import StoreShelf
from vibdiag.store.store import open_store
from vibdiag.work.attachments import with_recording
from vibdiag.work.casebook import Casebook
from vibdiag.work.desk import Desk
from vibdiag.work.shelf import CaseInHand, Shelf, with_done


@pytest.fixture(params=["folder", "sqlite", both])
def shelf(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Shelf]:
    """An empty shelf of each kind."""
    if request.param == "folder":
        yield Casebook(tmp_path / "cases")
        return
    places = iter([str(tmp_path / "cases.db")]) if request.param == "sqlite" else server_database()
    for place in places:
        with open_store(place) as store:
            yield StoreShelf(store)


def put(shelf: Shelf, tmp_path: Path, **parts: Any) -> str:
    """A case of these parts on the shelf; its key."""
    case = case_of(**parts)
    file = (shelf.folder if isinstance(shelf, Casebook) else tmp_path / "from") / f"{case.id}.yaml"
    file.parent.mkdir(parents=True, exist_ok=True)
    save_case(case, file)
    if isinstance(shelf, Casebook):
        return str(file)
    assert isinstance(shelf, StoreShelf)
    (done,) = import_files(shelf.store, [file], Signature("Maker", "test"))
    assert done.outcome == "new"
    return case.id


def sound(_: Case) -> None:
    """Everything may stand."""


def change(hand: CaseInHand, what: str = "changed", by: str = "Ada", **parts: Any) -> list[str]:
    case = Case.model_validate(hand.case.model_dump(mode="json", exclude_defaults=True) | parts)
    return [one.what for one in hand.save(case, what, by=by, sound=sound)]


def test_a_new_case_is_there_for_everybody_at_once(shelf: Shelf) -> None:
    before = shelf.stamp()
    key = shelf.create(by="Ada")
    assert shelf.holds(key)
    assert shelf.stamp() != before
    assert shelf.open(key).case.opened_by == "Ada"
    (entry,) = shelf.entries()
    assert (entry.key, entry.stands) == (key, "new")
    assert shelf.create(by=None) != key


def test_many_that_open_a_case_in_the_same_moment_get_one_each(shelf: Shelf) -> None:
    """Nobody's new case is overwritten by somebody else's."""
    together, keys = threading.Barrier(8), list[str]()

    def create(number: int) -> None:
        together.wait()
        key = shelf.create(by=f"person {number}")
        assert shelf.open(key).case.opened_by == f"person {number}"
        keys.append(key)

    threads = [threading.Thread(target=create, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(set(keys)) == 8
    assert {shelf.open(key).case.opened_by for key in keys} == {f"person {number}" for number in range(8)}
    assert len(shelf.entries()) == 8


def test_a_change_is_kept_before_anything_else_happens(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    hand = shelf.open(key)
    assert change(hand, title="new") == []
    assert hand.case.title == shelf.open(key).case.title == "new"
    assert not hand.changed()


def test_two_people_merge_by_field_and_see_each_others_change(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, "wrote the title", title="Ada's")
    assert bo.changed()
    others = change(bo, "a note", by="Bo", notes="Bo's")
    assert len(others) == 1
    assert (bo.case.title, bo.case.notes) == ("Ada's", "Bo's")
    assert ada.changed()
    (told,) = ada.look(sound=sound)
    assert ada.case == bo.case == shelf.open(key).case
    if not isinstance(shelf, Casebook):  # a file does not tell who
        assert (told.who, told.what) == ("Bo", "a note")
        assert told.at is not None
    assert not ada.changed()
    assert list(ada.look(sound=sound)) == []


def test_a_true_conflict_is_shown_and_nothing_is_overwritten(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, title="Ada's")
    with pytest.raises(ConflictError) as shown:
        change(bo, title="Bo's", notes="Bo's too")
    (conflict,) = shown.value.conflicts
    assert (conflict.field, conflict.base, conflict.theirs, conflict.yours) == ("title", "old", "Ada's", "Bo's")
    stands = shelf.open(key).case
    assert (stands.title, stands.notes) == ("Ada's", None)
    assert bo.case.title == "old"  # what he typed can still be made from it


def test_whoever_has_seen_both_may_insist(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old", notes="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, title="Ada's", source="Ada's")
    case = bo.case.model_copy(update={"title": "Bo's", "notes": "Bo's"})
    with pytest.raises(ConflictError):
        bo.save(case, "both", by="Bo", sound=sound)
    bo.save(case, "both", by="Bo", sound=sound, insist=True)
    stands = shelf.open(key).case
    assert (stands.title, stands.notes, stands.source) == ("Bo's", "Bo's", "Ada's")
    assert bo.undo(by="Bo", sound=sound) == "both"
    assert shelf.open(key).case.title == "Ada's" if not isinstance(shelf, Casebook) else True


def test_undo_takes_back_ones_own_and_leaves_what_others_did(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, "the title", title="Ada's")
    change(bo, "the note", by="Bo", notes="Bo's")
    assert ada.undo(by="Ada", sound=sound) == "the title"
    assert (shelf.open(key).case.title, shelf.open(key).case.notes) == ("old", "Bo's")
    assert ada.undo(by="Ada", sound=sound) is None  # Bo's is not hers to take back
    assert ada.redo(by="Ada", sound=sound) == "the title"
    assert (shelf.open(key).case.title, shelf.open(key).case.notes) == ("Ada's", "Bo's")
    assert ada.redo(by="Ada", sound=sound) is None
    assert ada.undo(by="Ada", sound=sound) == "the title"
    bo.look(sound=sound)
    assert bo.undo(by="Bo", sound=sound) == "the note"
    assert shelf.open(key).case == case_of(title="old")


def test_redo_behind_somebody_elses_change(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, "the title", title="Ada's")
    ada.undo(by="Ada", sound=sound)
    change(bo, "the note", by="Bo", notes="Bo's")
    assert ada.redo(by="Ada", sound=sound) == "the title"
    assert (shelf.open(key).case.title, shelf.open(key).case.notes) == ("Ada's", "Bo's")


def test_undoing_what_somebody_built_on_is_a_conflict(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, title="Ada's")
    bo.look(sound=sound)
    change(bo, by="Bo", title="Bo's")
    with pytest.raises(ConflictError):
        ada.undo(by="Ada", sound=sound)
    assert shelf.open(key).case.title == "Bo's"


def test_a_store_remembers_what_can_be_undone(shelf: Shelf, tmp_path: Path) -> None:
    """After the program was ended; a folder of files keeps no history, and says nothing can be undone."""
    key = put(shelf, tmp_path, title="old")
    change(shelf.open(key), "by Ada", title="Ada's")
    change(shelf.open(key), "by Bo", by="Bo", notes="Bo's")
    later = shelf.open(key)
    if isinstance(shelf, Casebook):
        assert later.undo(by="Ada", sound=sound) is None
        return
    assert [one.what for one in later.history()][1:] == ["by Ada", "by Bo"]
    assert later.undo(by="Ada", sound=sound) == "by Ada"
    assert later.undo(by="Ada", sound=sound) is None
    assert later.redo(by="Ada", sound=sound) == "by Ada"
    assert (later.case.title, later.case.notes) == ("Ada's", "Bo's")


def refuse(_: Case) -> None:
    raise InputError("cannot stand")


def test_what_cannot_stand_is_neither_saved_nor_taken_in(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, title="old")
    ada, bo = shelf.open(key), shelf.open(key)
    change(ada, title="Ada's")
    with pytest.raises(InputError, match="cannot stand"):
        bo.look(sound=refuse)
    with pytest.raises(InputError, match="cannot stand"):  # together they make a case that cannot be
        bo.save(bo.case.model_copy(update={"notes": "Bo's"}), "note", by="Bo", sound=refuse)
    with pytest.raises(InputError, match="cannot stand"):
        ada.undo(by="Ada", sound=refuse)
    assert (bo.case.title, ada.case.title, shelf.open(key).case.title) == ("old", "Ada's", "Ada's")
    assert shelf.open(key).case.notes is None


def test_search_wants_every_word(shelf: Shelf, tmp_path: Path) -> None:
    put(shelf, tmp_path, id="one", title="Trembles on the motorway", vehicle={"description": "estate car"})
    put(shelf, tmp_path, id="two", title="Hums")
    assert [entry.title for entry in shelf.entries("ESTATE trembles")] == ["Trembles on the motorway"]
    assert list(shelf.entries("estate pickup")) == []
    assert len(shelf.entries()) == len(shelf.entries(" ")) == 2


def test_what_is_due_comes_first(shelf: Shelf, tmp_path: Path) -> None:
    put(shelf, tmp_path, id="due", follow_ups=[{"what": "call-back", "due": "2026-01-02"}])
    put(shelf, tmp_path, id="later", follow_ups=[{"what": "call-back", "due": "2999-01-02"}])
    put(shelf, tmp_path, id="newer", complaint={"words": "It shakes."})
    entries = shelf.entries()
    assert next(entry.case.id for entry in entries if entry.case) == "due"
    assert entries[0].due(date(2026, 1, 2)) == ["call back"]
    assert entries[0].due(date(2026, 1, 1)) == []
    hand = shelf.open(entries[0].key)
    done = with_done(hand.case, hand.case.follow_ups[0], today=date(2026, 1, 3), by="Ada")
    hand.save(done, "called", by="Ada", sound=sound)
    assert [entry.case.id for entry in shelf.entries() if entry.case][-1] != "newer"
    assert not any(entry.due(date(2026, 1, 3)) for entry in shelf.entries())


def test_two_people_cannot_both_do_one_follow_up(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path, follow_ups=[{"what": "call-back", "due": "2026-01-02"}])
    ada, bo = shelf.open(key), shelf.open(key)
    for hand, by in ((ada, "Ada"), (bo, "Bo")):
        case = with_done(hand.case, hand.case.follow_ups[0], today=date(2026, 1, 3), by=by)
        if by == "Ada":
            hand.save(case, "called", by=by, sound=sound)
        else:
            with pytest.raises(ConflictError):
                hand.save(case, "called", by=by, sound=sound)
    assert "Ada" in str(shelf.open(key).case.follow_ups[0].note)


def test_each_case_with_its_name(shelf: Shelf, tmp_path: Path) -> None:
    put(shelf, tmp_path, id="two")
    put(shelf, tmp_path, id="one")
    assert [(Path(name).stem, case.id) for name, case in shelf.each()] == [("one", "one"), ("two", "two")]


def test_a_recording_is_brought_and_is_there(shelf: Shelf, tmp_path: Path) -> None:
    key = put(shelf, tmp_path)
    hand = shelf.open(key)
    drive = tmp_path / "stick" / "drive.csv"
    drive.parent.mkdir()
    drive.write_bytes(b"0,0.1\n")
    kept = hand.bring(f" {drive} ")
    case = with_recording(hand.case, kept, sensor_place="seat-rail", taken="before")
    hand.save(case, "recording", by="Ada", sound=sound)
    again = shelf.open(key)
    assert again.has(again.case.attachments[0].path)
    if not isinstance(shelf, Casebook):  # the store keeps the content: the stick may go
        drive.unlink()
        assert shelf.open(key).has(kept)
    assert not again.has("another.csv")
    for typed, sentence in (("", "write the path"), (str(tmp_path / "none.csv"), "there is no file")):
        with pytest.raises(ValueError, match=sentence):
            hand.bring(typed)


def test_a_case_that_is_not_there_is_said(shelf: Shelf, tmp_path: Path) -> None:
    put(shelf, tmp_path)
    assert not shelf.holds("nothing")
    with pytest.raises(InputError):
        shelf.open("nothing")


def answered(desk: Desk) -> list[tuple[str, str]]:
    return [(one.step, one.outcome) for one in desk.case.steps]


def test_two_desks_on_one_case(shelf: Shelf, tmp_path: Path, adviser: Adviser) -> None:
    """Answers to different questions merge, and each desk ranks by both; one question answered twice is a conflict."""
    key = put(shelf, tmp_path, complaint={"words": "It shakes."})
    ada = Desk(shelf.open(key), adviser, by="Ada")
    bo = Desk(shelf.open(key), adviser, by="Bo")
    where, braking = adviser.base.steps["ask-where"], adviser.base.steps["ask-braking"]
    ada.answer(where, "steering-wheel", role="desk")
    assert bo.answer(braking, "brings", role="desk")
    assert answered(bo) == [("ask-where", "steering-wheel"), ("ask-braking", "brings")]
    assert ada.look()
    assert ada.assessment.causes == bo.assessment.causes == adviser.assess(bo.case).causes
    ada.answer(where, "seat-or-floor", role="desk")
    with pytest.raises(ConflictError):
        bo.answer(where, "whole-car", role="desk")
    assert answered(bo)[0] == ("ask-where", "steering-wheel")
    bo.answer(where, "whole-car", role="desk", insist=True)
    ada.look()
    assert ("ask-where", "whole-car") in answered(ada)
