"""A backup is one file, whole, and opens as a store; it comes from either database and goes back into either."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.store.conftest import ADA, BO, case_of, with_parts
from vibdiag.case.model import Case
from vibdiag.store.backup import backup, restore
from vibdiag.store.face import StoreError
from vibdiag.store.recordings import attach_file, kept_files, write_recording
from vibdiag.store.search import search
from vibdiag.store.store import CaseStore, open_store


@pytest.fixture
def filled(store: CaseStore, demos: list[Case], tmp_path: Path) -> CaseStore:
    for case in demos[:5]:
        version = store.create(case, ADA)
        store.save(with_parts(version, notes="backed up"), version, BO)
    recording = tmp_path / "seat.wav"
    recording.write_bytes(bytes(range(256)) * 8_000)
    attach_file(store, demos[0].id, recording, BO)
    return store


def same(one: CaseStore, other: CaseStore) -> None:
    assert one.lines() == other.lines()
    for line in one.lines():
        assert one.history(line.id) == other.history(line.id)
        assert one.read(line.id) == other.read(line.id)
        assert kept_files(one, line.id) == kept_files(other, line.id)
    assert search(one, "backed up") == search(other, "backed up")


def test_everything_is_in_it(filled: CaseStore, tmp_path: Path, demos: list[Case]) -> None:
    target = tmp_path / "backup.db"
    assert backup(filled, target) == 5
    assert sorted(file.name for file in tmp_path.glob("*backup.db*")) == ["backup.db"]
    assert target.stat().st_mode & 0o777 == 0o600
    with open_store(str(target)) as copied:
        same(filled, copied)
        (kept,) = kept_files(copied, demos[0].id)
        write_recording(copied, kept, tmp_path / "back.wav")
    assert (tmp_path / "back.wav").read_bytes() == (tmp_path / "seat.wav").read_bytes()


def test_it_goes_back_into_an_empty_store_and_work_goes_on(filled: CaseStore, place: str, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup.db")
    with open_store(str(tmp_path / "new.db")) as fresh:
        assert restore(fresh, tmp_path / "backup.db") == 5
        same(filled, fresh)
        fresh.create(case_of(), ADA)
        assert fresh.lines()[0].id == "invented"
        with pytest.raises(StoreError, match="holds cases already"):
            restore(fresh, tmp_path / "backup.db")
    with pytest.raises(StoreError, match="holds cases already"):
        restore(filled, tmp_path / "backup.db")


def test_from_a_file_into_either(store: CaseStore, tmp_path: Path, demos: list[Case]) -> None:
    with open_store(str(tmp_path / "old.db")) as old:
        version = old.create(demos[0], ADA)
        old.save(with_parts(version, notes="backed up"), version, BO)
        backup(old, tmp_path / "backup.db")
        assert restore(store, tmp_path / "backup.db") == 1
        same(old, store)
    store.create(case_of(), ADA)
    version = store.read(demos[0].id)
    assert store.save(with_parts(version, notes="on"), version, BO).version.revision == 3


def test_a_backup_never_overwrites(filled: CaseStore, tmp_path: Path) -> None:
    target = tmp_path / "backup.db"
    target.write_text("precious", encoding="utf-8")
    with pytest.raises(StoreError, match="never overwrites"):
        backup(filled, target)
    assert target.read_text(encoding="utf-8") == "precious"
    with pytest.raises(StoreError, match="folder is not there"):
        backup(filled, tmp_path / "nowhere" / "backup.db")


def test_what_is_no_backup_is_told(store: CaseStore, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no such backup"):
        restore(store, tmp_path / "missing.db")
    text = tmp_path / "text.db"
    text.write_text(
        "this is not a database, only some text that is long enough to look like one" * 20, encoding="utf-8"
    )
    with pytest.raises(StoreError, match="not a case store"):
        restore(store, text)
    other = tmp_path / "other.db"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE cases (x)")
    connection.close()
    with pytest.raises(StoreError, match="belongs to another program"):
        open_store(str(other))
