"""What was acknowledged is there, and nothing is there by half: after kill -9, on a full disk, where nothing can be
written, and with several processes at once."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, select, text

from tests.store.conftest import ADA, BO, case_of, with_parts
from vibdiag.merging.plain import digest, from_text, plain
from vibdiag.store.connection import reading, writing
from vibdiag.store.face import StoreError
from vibdiag.store.recordings import attach_file, kept_files
from vibdiag.store.search import search
from vibdiag.store.store import CaseStore, open_store
from vibdiag.store.tables import cases, content_parts, contents, events

WRITES = 1_000
ROOT = Path(__file__).parents[2]


def writer(place: str, field: str, times: int) -> subprocess.Popen[bytes]:
    command = [sys.executable, str(Path(__file__).with_name("writer.py")), place, field, str(times)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)


def acknowledged(process: subprocess.Popen[bytes], *, until: int | None = None) -> Iterator[int]:
    """Numbers as they are told; only whole lines count."""
    assert process.stdout is not None
    for count, line in enumerate(process.stdout, 1):
        if line.endswith(b"\n"):
            yield int(line)
        if count == until:
            return


def number_in(value: str | None) -> int:
    """The number at both ends of what the writer wrote; fails when they are not of one write."""
    if value is None:
        return 0
    words = value.split()
    assert words[0] == words[-1]
    assert len(words) == 82
    return int(words[0])


def sound(store: CaseStore) -> None:
    """Nothing by half: tables, events and index agree, and the database finds no fault with itself."""
    with reading(store.engine) as connection:
        rows = connection.execute(select(cases)).all()
        for row in rows:
            past = connection.execute(
                select(events).where(events.c.case_number == row.number).order_by(events.c.revision)
            ).all()
            assert [one.revision for one in past] == list(range(1, row.revision + 1))
            assert all(digest(one.data) == one.digest for one in past)
            assert [one.at for one in past] == sorted(one.at for one in past)
            assert past[-1].data == row.data
            assert plain(store.read(row.id).case) == from_text(row.data)
            assert row.id in [line.id for line in search(store, row.id, limit=1_000)]
    if store.engine.dialect.name == "sqlite":
        with writing(store.engine) as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            # Raises when the index and the table disagree.
            connection.execute(text("INSERT INTO case_search(case_search, rank) VALUES ('integrity-check', 1)"))


def settled(store: CaseStore) -> None:
    """Until the server has noticed that a killed writer is gone: what it was just doing it still finishes."""
    if store.engine.dialect.name == "sqlite":
        return
    others = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    for _ in range(500):
        with reading(store.engine) as connection:
            if not connection.execute(text(others)).scalar():
                return
        time.sleep(0.01)
    raise AssertionError("a killed writer still has a session")


def test_killed_at_random_points_of_a_thousand_writes(place: str) -> None:
    # Other moments on every run; the seed is told when it fails.
    seed = random.randrange(10**9)
    chance = random.Random(seed)
    told, kills, deadline = 0, 0, time.monotonic() + 40
    while told < WRITES and time.monotonic() < deadline:
        with writer(place, "notes", WRITES) as process:
            for number in acknowledged(process, until=chance.randint(40, 160)):
                assert number == told + 1, seed
                told = number
            time.sleep(chance.random() * 0.004)
            process.send_signal(signal.SIGKILL)
            # What had been told before the kill and not yet read was acknowledged too.
            for number in acknowledged(process):
                told = number
            assert process.wait(10) == -signal.SIGKILL, seed
        kills += 1
        with open_store(place) as store:
            settled(store)
            kept = number_in(store.read("invented").case.notes)
            # One more may be there whose acknowledgement was cut off.
            assert told <= kept <= told + 1, seed
            told = kept
    with open_store(place) as store:
        sound(store)
        past = [entry.changes for entry in store.history("invented", after=1)]
        assert [number_in(changes[0].after) for changes in past] == list(range(1, told + 1))
    assert told >= WRITES, f"only {told} writes in time"
    assert kills >= 5


def test_two_processes_make_and_write_one_store(place: str) -> None:
    fields, times = ("notes", "source"), 60
    with writer(place, fields[0], times) as one, writer(place, fields[1], times) as two:
        for process in (one, two):
            out, problems = process.communicate(timeout=60)
            assert (process.returncode, problems) == (0, b"")
            assert [int(line) for line in out.split()] == list(range(1, times + 1))
    with open_store(place) as store:
        found = store.read("invented")
        assert [number_in(getattr(found.case, field)) for field in fields] == [times, times]
        assert found.revision == 2 * times + 1
        sound(store)


def test_two_processes_on_one_field_and_neither_overwrites(place: str) -> None:
    """Each write is there or was refused; the acknowledged ones, no more and no fewer, are the history."""
    told: list[int] = []
    with writer(place, "notes", 30) as one, writer(place, "notes", 30) as two:
        for process in (one, two):
            out, problems = process.communicate(timeout=60)
            told += [int(line) for line in out.split()]
            assert process.returncode == 0 or b"ConflictError" in problems, problems.decode()[-3000:]
    with open_store(place) as store:
        past = [entry.changes for entry in store.history("invented", after=1)]
        written = [number_in(changes[0].after) for changes in past]
        # Both may write the same next number: the second then finds it done, and there is nothing to change.
        assert set(written) == set(told)
        assert written == sorted(set(written))
        sound(store)


# --- a full disk


def limited(store: CaseStore, more_pages: int) -> None:
    """No room for more than so many pages from now on."""
    with writing(store.engine) as connection:
        pages = int(connection.execute(text("PRAGMA page_count")).scalar_one())
    store.engine.dispose()

    @event.listens_for(store.engine, "connect")
    def _connected(connection: Any, _record: Any) -> None:
        connection.execute(f"PRAGMA max_page_count={pages + more_pages}")


def test_a_full_disk_loses_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    place = str(tmp_path / "cases.db")
    with open_store(place) as store:
        version = store.create(case_of(), ADA)
        limited(store, 40)
        with pytest.raises(StoreError, match="disk is full, so nothing was saved") as refused:  # noqa: PT012
            for number in range(1, 1_000):
                version = store.save(with_parts(version, notes=f"{number} " * 800), version, BO).version
        assert str(refused.value).startswith(place)
        assert version.revision > 3
        assert store.read("invented") == version
    with open_store(place) as store:
        assert store.read("invented") == version
        sound(store)
        assert store.save(with_parts(version, notes="room again"), version, BO).version.revision == version.revision + 1


def test_a_full_disk_keeps_no_half_of_a_recording(tmp_path: Path) -> None:
    recording = tmp_path / "long.wav"
    recording.write_bytes(os.urandom(3_500_000))
    place = str(tmp_path / "cases.db")
    with open_store(place) as store:
        store.create(case_of(), ADA)
        limited(store, 500)
        with pytest.raises(StoreError, match="disk is full"):
            attach_file(store, "invented", recording, BO)
    with open_store(place) as store:
        assert kept_files(store, "invented") == ()
        with reading(store.engine) as connection:
            assert connection.execute(select(contents)).all() == []
            assert connection.execute(select(content_parts)).all() == []
        attach_file(store, "invented", recording, BO)
        sound(store)


def test_an_error_in_the_middle_of_a_write_leaves_nothing_of_it(
    store: CaseStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On either database: the event is in, the case is not yet, and then it fails."""
    version = store.create(case_of(title="old"), ADA)

    def fails(_texts: object) -> str:
        raise OSError("no space left on device")

    monkeypatch.setattr("vibdiag.store.log.search_text", fails)
    with pytest.raises(OSError, match="no space"):
        store.save(with_parts(version, title="new"), version, BO)
    monkeypatch.undo()
    assert store.read("invented") == version
    assert len(store.history("invented")) == 1
    sound(store)


# --- where nothing can be written


@pytest.fixture
def locked_folder() -> Iterator[Path]:
    """A folder with a store that this process may read and not write; root first becomes nobody."""
    folder = Path(tempfile.mkdtemp(prefix="vibdiag-"))
    with open_store(str(folder / "cases.db")) as store:
        store.create(case_of(title="old"), ADA)
    folder.chmod(0o555)
    (folder / "cases.db").chmod(0o444)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield folder
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)
        shutil.rmtree(folder)


def test_a_folder_that_cannot_be_written_can_be_read(locked_folder: Path) -> None:
    before = (locked_folder / "cases.db").read_bytes()
    with open_store(str(locked_folder / "cases.db")) as store:
        version = store.read("invented")
        assert version.case.title == "old"
        assert [line.id for line in search(store, "old")] == ["invented"]
        with pytest.raises(StoreError, match="cannot be written here"):
            store.save(with_parts(version, title="new"), version, BO)
        assert store.read("invented") == version
    assert (locked_folder / "cases.db").read_bytes() == before
    assert [file.name for file in locked_folder.iterdir()] == ["cases.db"]
    with pytest.raises(StoreError, match=r"cannot be made: Permission denied"):
        open_store(str(locked_folder / "new.db"))


# --- what is no store


def read_all(file: Path) -> None:
    with open_store(str(file)) as store:
        for line in store.lines():
            store.history(line.id)


def test_a_damaged_file_is_told_in_one_sentence(tmp_path: Path) -> None:
    file = tmp_path / "cases.db"
    with open_store(str(file)) as store:
        for number in range(200):
            store.create(case_of(id=f"case-{number}", notes="words " * 200), ADA)
    content = bytearray(file.read_bytes())
    content[8_192:120_000] = os.urandom(120_000 - 8_192)
    file.write_bytes(content)
    with pytest.raises(StoreError, match=r"damaged|belongs to another|not a case store") as told:
        read_all(file)
    assert "\n" not in str(told.value)


def test_a_store_held_by_another_program_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vibdiag.store.connection._WAIT_S", 0.2)
    with open_store(str(tmp_path / "cases.db")) as store:
        version = store.create(case_of(), ADA)
        other = sqlite3.connect(tmp_path / "cases.db", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="another program held the store"):
            store.save(with_parts(version, title="x"), version, BO)
        assert store.read("invented") == version
        other.execute("ROLLBACK")
        other.close()
        assert store.save(with_parts(version, title="x"), version, BO).version.revision == 2
