"""The whole store as one file: always an SQLite store, whatever it was taken from, which opens like any other."""

from __future__ import annotations

import os
from pathlib import Path

from sqlalchemy import Connection, func, insert, select, text

from vibdiag.store.connection import make_private, reading, sentences, writing
from vibdiag.store.face import StoreError
from vibdiag.store.store import CaseStore, open_store
from vibdiag.store.tables import cases, metadata

__all__ = ["backup", "restore"]

_ROWS = 200


def backup(store: CaseStore, target: Path) -> int:
    """Write everything to `target`, a new file, while others may go on working; returns the number of cases.

    The file is whole or it is not there. Raises StoreError when it exists or cannot be written.
    """
    if target.exists():
        raise StoreError("is there already; a backup never overwrites, choose another name", file=target)
    if not os.access(target.parent, os.W_OK):
        raise StoreError("the folder is not there or cannot be written", file=target.parent)
    part = target.with_name(f".{target.name}.part")
    try:
        _clear(part)
        make_private(part)
        if store.engine.dialect.name == "sqlite":
            with sentences(store.engine), store.engine.connect() as connection:
                plain = connection.connection.cursor()
                plain.execute("VACUUM INTO ?", (str(part),))
                plain.close()
            with open_store(str(part)) as copied:
                number = _sound(copied)
        else:
            with open_store(str(part)) as copied:
                number = _copy(store, copied)
                _sound(copied)
        _settle(part, target)
    except OSError as error:
        raise StoreError(f"cannot be written: {error.strerror}", file=target) from error
    finally:
        _clear(part)
    return number


def restore(store: CaseStore, source: Path) -> int:
    """Fill an empty store from a backup; returns the number of cases.

    Raises StoreError when the store holds cases, or the file is no backup.
    """
    if not source.is_file():
        raise StoreError("there is no such backup", file=source)
    with open_store(str(source)) as copied:
        return _copy(copied, store)


def _clear(part: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        part.with_name(f"{part.name}{ending}").unlink(missing_ok=True)


def _settle(part: Path, target: Path) -> None:
    """Give the finished file its name, on the disk."""
    handle = os.open(part, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    part.replace(target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _sound(store: CaseStore) -> int:
    with writing(store.engine) as connection:
        told = connection.execute(text("PRAGMA integrity_check")).scalars().all()
        if told != ["ok"]:
            raise StoreError("the copy is damaged; check the disk and do it again", file=store.place)
        return _count(connection)


def _count(connection: Connection) -> int:
    return int(connection.execute(select(func.count()).select_from(cases)).scalar_one())


def _copy(source: CaseStore, target: CaseStore) -> int:
    with reading(source.engine) as old, writing(target.engine) as new:
        if _count(new):
            raise StoreError("the store holds cases already; a backup goes into an empty one", file=target.place)
        for table in metadata.sorted_tables:
            rows = old.execution_options(stream_results=True, max_row_buffer=_ROWS).execute(select(table))
            for some in rows.mappings().partitions(_ROWS if table.name != "content_parts" else 1):
                new.execute(insert(table), [dict(row) for row in some])
            if new.dialect.name == "postgresql" and "number" in table.c:
                # The next number must come after those that were brought along.
                new.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('{table.name}', 'number'), "  # noqa: S608
                        f"(SELECT coalesce(max(number), 0) + 1 FROM {table.name}), false)"
                    )
                )
        return _count(new)
