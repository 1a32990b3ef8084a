"""Recordings by the hash of their content: kept once, given back whole, damage told."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from sqlalchemy import func, select, update

from tests.store.conftest import ADA, BO, case_of
from vibdiag.store.connection import reading, writing
from vibdiag.store.face import StoreError, UnknownCaseError
from vibdiag.store.recordings import attach_file, kept_files, write_recording
from vibdiag.store.store import CaseStore
from vibdiag.store.tables import content_parts, contents

CONTENT = bytes(range(256)) * 10_000


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    path = tmp_path / "seat rail.wav"
    path.write_bytes(CONTENT)
    return path


def contents_kept(store: CaseStore) -> int:
    with reading(store.engine) as connection:
        return int(connection.execute(select(func.count()).select_from(contents)).scalar_one())


def test_it_comes_back_whole(store: CaseStore, recording: Path, tmp_path: Path) -> None:
    store.create(case_of(), ADA)
    saved, kept = attach_file(store, "invented", recording, BO, sensor_place="seat-rail", taken="before")
    assert kept.sha256 == hashlib.sha256(CONTENT).hexdigest()
    (attachment,) = saved.version.case.attachments
    assert (attachment.path, attachment.sensor_place, attachment.taken) == ("seat rail.wav", "seat-rail", "before")
    assert kept_files(store, "invented") == (kept,)
    recording.unlink()
    write_recording(store, kept, tmp_path / "back.wav")
    assert (tmp_path / "back.wav").read_bytes() == CONTENT
    assert store.history("invented")[-1].what == "attached seat rail.wav"


def test_the_same_content_is_kept_once(store: CaseStore, recording: Path) -> None:
    for case_id in ("one", "two"):
        store.create(case_of(id=case_id), ADA)
        attach_file(store, case_id, recording, BO)
    again, _ = attach_file(store, "two", recording, BO)
    assert again.version.revision == 2
    assert contents_kept(store) == 1


def test_another_file_of_the_same_name_is_refused(store: CaseStore, recording: Path) -> None:
    store.create(case_of(), ADA)
    attach_file(store, "invented", recording, BO)
    recording.write_bytes(b"other")
    with pytest.raises(StoreError, match=r"another file 'seat rail\.wav'"):
        attach_file(store, "invented", recording, BO)
    assert contents_kept(store) == 1


def test_what_cannot_be_attached(store: CaseStore, tmp_path: Path, recording: Path) -> None:
    store.create(case_of(), ADA)
    for wrong in (tmp_path, tmp_path / "missing.wav"):
        with pytest.raises(StoreError, match="not a file"):
            attach_file(store, "invented", wrong, BO)
    with pytest.raises(UnknownCaseError):
        attach_file(store, "another", recording, BO)
    assert contents_kept(store) == 0


def test_a_damaged_recording_is_never_handed_out(store: CaseStore, recording: Path, tmp_path: Path) -> None:
    store.create(case_of(), ADA)
    _, kept = attach_file(store, "invented", recording, BO)
    with writing(store.engine) as connection:
        connection.execute(update(content_parts).where(content_parts.c.part == 1).values(data=b"x"))
    with pytest.raises(StoreError, match="damaged"):
        write_recording(store, kept, tmp_path / "back.wav")
    assert sorted(file.name for file in tmp_path.glob("*.wav")) == ["seat rail.wav"]
    assert list(tmp_path.glob(".*")) == []


def test_an_empty_file_is_a_file(store: CaseStore, tmp_path: Path) -> None:
    store.create(case_of(), ADA)
    empty = tmp_path / "empty.csv"
    empty.touch()
    _, kept = attach_file(store, "invented", empty, BO)
    write_recording(store, kept, tmp_path / "back.csv")
    assert (tmp_path / "back.csv").read_bytes() == b""
