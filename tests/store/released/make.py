"""Makes the dumps beside it: once for every released version of the store, on the day it is released, and never again.

.ci/postgres .venv/bin/python -m tests.store.released.make 1
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.files.shipped import shipped_folder
from vibdiag.store.face import Signature
from vibdiag.store.forget import forget
from vibdiag.store.recordings import attach_file
from vibdiag.store.store import CaseStore, open_store

HERE = Path(__file__).parent


def fill(store: CaseStore, folder: Path) -> None:
    """A little of everything the store keeps."""
    ada, bo = Signature("Ada", "desk"), Signature("Bo", "bay")
    version = store.create(load_case(shipped_folder("cases") / "motorway-tremor.yaml"), ada)
    version = store.save(version.case.model_copy(update={"notes": "Olá 🚗"}), version, bo, what="a note").version
    store.save(version.case.model_copy(update={"title": "Another title"}), version, ada)
    store.undo(version.case.id, bo)
    recording = folder / "seat.csv"
    recording.write_bytes(b"0.00,0.01\n0.01,-0.02\n")
    attach_file(store, version.case.id, recording, bo)
    store.create(Case(vibdiag_case=1, id="forgotten", invented=True, notes="somebody's name"), ada)
    forget(store, "forgotten", bo)


def sqlite_dump(file: Path) -> Iterator[str]:
    """SQL that makes the store again; the search index is filled by its own triggers."""
    connection = sqlite3.connect(file)
    try:
        tables = "SELECT name, sql FROM sqlite_master WHERE {} AND sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
        own = "name NOT LIKE 'case_search_%'"
        for kind in (f"type = 'table' AND {own}", "type = 'trigger'", f"type = 'index' AND {own}"):
            for _, sql in connection.execute(tables.format(kind)):
                yield f"{sql};\n"
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'case_search%' "
            "AND name NOT LIKE 'sqlite_%'"
        ).fetchall():
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
            quoted = " || ', ' || ".join(f"quote({column})" for column in columns)
            for (values,) in connection.execute(f"SELECT {quoted} FROM {name}"):
                yield f"INSERT INTO {name} VALUES ({values});\n"
    finally:
        connection.close()


def main() -> None:
    version = int(sys.argv[1])
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "cases.db"
        with open_store(str(file)) as store:
            fill(store, Path(name))
        (HERE / f"version-{version}.sqlite.sql").write_text("".join(sqlite_dump(file)), encoding="utf-8")
        server = os.environ["VIBDIAG_TEST_POSTGRES"]
        with open_store(server) as store:
            fill(store, Path(name))
        command = ["pg_dump", "--inserts", "--no-owner", "--no-privileges", server.replace("+psycopg", "")]
        dump = subprocess.run(command, check=True, capture_output=True, text=True).stdout
        # Comments, and what only psql understands.
        lines = [line for line in dump.splitlines() if line and not line.startswith(("--", "\\", "SET "))]
        (HERE / f"version-{version}.postgresql.sql").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
