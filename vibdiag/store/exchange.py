"""Case files into the store and out of it, losing nothing on either way and overwriting nobody's work.

An exported file says in its first line, as a comment, which version it was made from. Changed by hand and brought
back, it is merged on that version, as if the change had been made in the store.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, select

from vibdiag.case.model import Case
from vibdiag.case.storage import case_from_text, case_to_text
from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError
from vibdiag.merging.plain import Data, digest, plain, to_text
from vibdiag.store import log
from vibdiag.store.connection import reading, writing
from vibdiag.store.face import Signature, StoreError, UnknownCaseError
from vibdiag.store.log import Step
from vibdiag.store.recordings import keep, kept_files, write_recording
from vibdiag.store.store import CaseStore
from vibdiag.store.tables import cases, events

__all__ = ["Exchanged", "export_folder", "import_files"]

_HEAD = re.compile(r"# From the case store, version ([0-9a-f]{16})\b")


@dataclass(frozen=True)
class Exchanged:
    """What became of one file: new, changed, unchanged, older, written or refused, and why it was refused."""

    file: Path
    case_id: str | None
    outcome: str
    problem: str | None = None
    recordings: int = 0


def import_files(store: CaseStore, paths: Iterable[Path], signature: Signature) -> Iterator[Exchanged]:
    """Take case files, and those of folders, into the store one by one; each is taken whole or refused.

    Recordings beside a case file come with it. Raises InputError for a folder without case files.
    """
    seen: dict[str, Path] = {}
    for file in [file for path in paths for file in _files(path)]:
        case_id = None
        try:
            content = _content(file)
            case = case_from_text(content, file=str(file))
            case_id = case.id
            if case.id in seen:
                raise StoreError(f"has the same id '{case.id}' as {seen[case.id].name}; give one another", file=file)
            seen[case.id] = file
            yield _import(store, file, case, _made_from(content), signature)
        except InputError as error:
            yield Exchanged(file, case_id, "refused", str(error))


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    found = sorted(path.glob("*.yaml"))
    if not found:
        raise InputError("holds no case file (*.yaml)", file=path)
    return found


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=file) from error


def _made_from(content: bytes) -> str | None:
    found = _HEAD.match(content.split(b"\n", 1)[0].decode("utf-8-sig", "replace"))
    return found[1] if found else None


def _import(store: CaseStore, file: Path, case: Case, made_from: str | None, signature: Signature) -> Exchanged:
    data = plain(case)
    step = Step("import", f"imported {file.name}")
    with writing(store.engine) as connection:
        try:
            row = log.for_writing(connection, case.id)
        except UnknownCaseError:
            log.first(connection, case, signature, step)
            outcome = "new"
            row = log.row_of(connection, case.id)
        else:
            outcome = "unchanged"
            if data != log.data_of(row.data):
                outcome = _bring_in(store, connection, row, data, made_from, signature, step)
        found = _recordings_beside(case, file.parent)
        for name, recording in found:
            keep(connection, row.number, name, recording)
    return Exchanged(file, case.id, outcome, recordings=len(found))


def _bring_in(
    store: CaseStore, connection: Connection, row: Row[Any], data: Data, made_from: str | None,
    signature: Signature, step: Step,
) -> str:  # fmt: skip
    past = connection.execute(
        select(events.c.revision, events.c.kind, events.c.digest)
        .where(events.c.case_number == row.number)
        .order_by(events.c.revision.desc())
    ).all()
    if digest(to_text(data)) in {event.digest for event in past}:
        return "older"
    base = next((one.revision for one in past if made_from and one.digest.startswith(made_from)), None)
    if base is None and row.forgotten_at is not None:
        raise StoreError(
            "personal data was taken out of this case after this file was written, and the file would bring it back; "
            "export the case again and delete this file",
            file=row.id,
        )
    if base is None:
        base = next((one.revision for one in past if one.kind == "import"), None)
    if base is None:
        raise StoreError(
            "the store has another case of this id that never came from a file; give the file another id", file=row.id
        )
    text = connection.execute(
        select(events.c.data).where(events.c.case_number == row.number, events.c.revision == base)
    ).scalar_one()
    revision = store.join(connection, log.data_of(text), data, base, signature, step, row.id).version.revision
    return "changed" if revision != row.revision else "unchanged"


def _recordings_beside(case: Case, folder: Path) -> list[tuple[str, Path]]:
    """Files of the case that lie in its folder; a path that leads out of it is never followed."""
    found = []
    for one in case.attachments:
        place = _inside(folder, one.path)
        if place is not None and place.is_file():
            found.append((one.path, place))
    return found


def _inside(folder: Path, path: str) -> Path | None:
    """Where `path` lies when that is inside `folder`, links followed; None otherwise."""
    if not path.strip() or "\0" in path:
        return None
    try:
        place = (folder / path).resolve()
    except (OSError, RuntimeError):
        return None
    return place if place.is_relative_to(folder.resolve()) else None


def export_folder(store: CaseStore, folder: Path) -> Iterator[Exchanged]:
    """Write every case, and the recordings kept with it, into `folder`, which is made when it is not there.

    A file that holds changes the store does not know is left alone and refused. Raises StoreError when the folder
    cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"the folder cannot be made: {error.strerror}", file=folder) from error
    there = dict(_cases_in(folder))
    with reading(store.engine) as connection:
        ids = list(connection.execute(select(cases.c.id).order_by(cases.c.number)).scalars())
    for case_id in ids:
        target, old = there.get(case_id, (folder / f"{case_id}.yaml", None))
        try:
            outcome = _export(store, case_id, target, old)
            yield Exchanged(target, case_id, outcome, recordings=_export_recordings(store, case_id, folder))
        except InputError as error:
            yield Exchanged(target, case_id, "refused", str(error))
        except OSError as error:
            yield Exchanged(target, case_id, "refused", f"{target}: cannot be written: {error.strerror}")


def _cases_in(folder: Path) -> Iterator[tuple[str, tuple[Path, Case]]]:
    for file in sorted(folder.glob("*.yaml")):
        try:
            case = case_from_text(_content(file), file=str(file))
        except InputError:
            # Not ours to judge here; should a case want this very name, writing it is refused.
            continue
        yield case.id, (file, case)


def _export(store: CaseStore, case_id: str, target: Path, old: Case | None) -> str:
    case = store.read(case_id).case
    if old == case:
        return "unchanged"
    if target.exists():
        known = set()
        with reading(store.engine) as connection:
            row = log.row_of(connection, case_id)
            known = set(connection.execute(select(events.c.digest).where(events.c.case_number == row.number)).scalars())
        if old is None or digest(to_text(plain(old))) not in known:
            what = "holds changes the store does not know, so it was left alone; import it first, or move it away"
            raise StoreError(what, file=target)
    version = digest(to_text(plain(case)))[:16]
    write_atomically(target, f"# From the case store, version {version}\n{case_to_text(case)}")
    return "written"


def _export_recordings(store: CaseStore, case_id: str, folder: Path) -> int:
    written = 0
    for recording in kept_files(store, case_id):
        target = _inside(folder, recording.path)
        if target is None:
            continue
        if target.exists():
            if not target.is_file() or not _same(target, recording.sha256):
                raise StoreError(f"there is another file '{recording.path}' in the folder; move it away", file=case_id)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        write_recording(store, recording, target)
        written += 1
    return written


def _same(file: Path, sha256: str) -> bool:
    import hashlib

    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == sha256
