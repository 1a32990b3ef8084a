"""Recordings and pictures of a case, kept in the store under the SHA-256 of their content.

The same file attached twice is kept once. What is read back is compared with its name: a damaged file is said, never
handed out silently.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from sqlalchemy import Connection, delete, insert, select

from vibdiag.case.model import Attachment
from vibdiag.merging.plain import from_text, plain
from vibdiag.store import log
from vibdiag.store.connection import reading, writing
from vibdiag.store.face import Saved, Signature, StoredRecording, StoreError
from vibdiag.store.log import Step
from vibdiag.store.store import CaseStore
from vibdiag.store.tables import attached, content_parts, contents

__all__ = ["attach_file", "drop_unused", "keep", "kept_files", "names_of", "write_recording"]

_PART_BYTES = 1_000_000
_MOST_BYTES = 1_000_000_000

SensorPlace = Literal["seat-rail", "floor", "steering-column", "steering-wheel", "unknown"]
Taken = Literal["before", "after", "unknown"]


def attach_file(
    store: CaseStore, case_id: str, file: Path, signature: Signature, *,
    sensor_place: SensorPlace = "unknown", taken: Taken = "unknown",
) -> tuple[Saved, StoredRecording]:  # fmt: skip
    """Take `file` into the store and into the case, under its own name.

    Raises StoreError when it cannot be read, or when the case has another file of that name.
    """
    with writing(store.engine) as connection:
        row = log.for_writing(connection, case_id)
        recording = keep(connection, row.number, file.name, file)
        before = log.version_of(connection, row)
        data = from_text(row.data)
        names = [one["path"] for one in data.get("attachments", [])]
        if before is None or file.name in names:
            if before is None or recording.sha256 != dict(_hashes(connection, row.number)).get(file.name):
                raise StoreError(f"the case has another file '{file.name}'; rename this one first", file=case_id)
            return Saved(before), recording
        added = Attachment(path=file.name, sensor_place=sensor_place, taken=taken)
        case = before.case.model_copy(update={"attachments": [*before.case.attachments, added]})
        step = Step("attach", f"attached {file.name}")
        return Saved(log.append(connection, row, plain(case), signature, step)), recording


def keep(connection: Connection, case_number: int, name: str, file: Path) -> StoredRecording:
    """Store the content of `file` for the case under `name`, in the caller's transaction; raises StoreError."""
    sha256, size = _measured(file)
    present = connection.execute(select(contents.c.sha256).where(contents.c.sha256 == sha256)).scalar_one_or_none()
    if present is None:
        connection.execute(insert(contents).values(sha256=sha256, size_bytes=size))
        again = hashlib.sha256()
        for number, part in enumerate(_parts(file)):
            again.update(part)
            connection.execute(insert(content_parts).values(sha256=sha256, part=number, data=part))
        if again.hexdigest() != sha256:
            raise StoreError("changed while it was read; attach it when it is finished", file=file)
    known = dict(_hashes(connection, case_number))
    if name in known and known[name] != sha256:
        raise StoreError(f"the case has another file '{name}' already; rename this one first", file=file)
    if name not in known:
        connection.execute(insert(attached).values(case_number=case_number, path=name, sha256=sha256))
    return StoredRecording(name, sha256, size)


def _measured(file: Path) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    for part in _parts(file):
        digest.update(part)
        size += len(part)
        if size > _MOST_BYTES:
            raise StoreError(f"is larger than {_MOST_BYTES / 1e9:g} GB; cut the recording first", file=file)
    return digest.hexdigest(), size


def _parts(file: Path) -> Iterator[bytes]:
    if not file.is_file():
        raise StoreError("is not a file that can be attached", file=file)
    try:
        with file.open("rb") as stream:
            while part := stream.read(_PART_BYTES):
                yield part
    except OSError as error:
        raise StoreError(f"cannot be read: {error.strerror}", file=file) from error


def _hashes(connection: Connection, case_number: int) -> list[tuple[str, str]]:
    query = select(attached.c.path, attached.c.sha256).where(attached.c.case_number == case_number)
    return [(row.path, row.sha256) for row in connection.execute(query)]


def names_of(connection: Connection, case_number: int) -> list[str]:
    """The names under which the case has files in the store."""
    return sorted(name for name, _ in _hashes(connection, case_number))


def kept_files(store: CaseStore, case_id: str) -> tuple[StoredRecording, ...]:
    """The files of the case that are in the store."""
    with reading(store.engine) as connection:
        row = log.row_of(connection, case_id)
        query = (
            select(attached.c.path, contents.c.sha256, contents.c.size_bytes)
            .join(contents, contents.c.sha256 == attached.c.sha256)
            .where(attached.c.case_number == row.number)
            .order_by(attached.c.path)
        )
        return tuple(StoredRecording(one.path, one.sha256, one.size_bytes) for one in connection.execute(query))


def write_recording(store: CaseStore, recording: StoredRecording, target: Path) -> None:
    """Write the content to `target`, whole or not at all.

    Raises StoreError when it is damaged in the store, OSError when it cannot be written.
    """
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
    part = Path(name)
    digest = hashlib.sha256()
    query = (
        select(content_parts.c.data).where(content_parts.c.sha256 == recording.sha256).order_by(content_parts.c.part)
    )
    try:
        with os.fdopen(handle, "wb") as file, reading(store.engine) as connection:
            for data in connection.execution_options(stream_results=True, max_row_buffer=2).execute(query).scalars():
                digest.update(data)
                file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _compare(digest.hexdigest(), recording)
        part.chmod(0o644)
        part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _compare(sha256: str, recording: StoredRecording) -> None:
    if sha256 != recording.sha256:
        raise StoreError(f"the recording '{recording.path}' is damaged; bring back the last backup")


def drop_unused(connection: Connection) -> int:
    """Take out contents that no case has any more; returns how many."""
    used = select(attached.c.sha256)
    connection.execute(delete(content_parts).where(content_parts.c.sha256.not_in(used)))
    return int(connection.execute(delete(contents).where(contents.c.sha256.not_in(used))).rowcount)
