"""Stores of every released version open, with all they held; newer and foreign ones are refused in one sentence."""

from __future__ import annotations

import re
import sqlite3
import threading
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from tests.store.conftest import ADA, case_of, with_parts
from tests.store.test_crashes import sound
from vibdiag.case.storage import load_case
from vibdiag.files.shipped import shipped_folder
from vibdiag.store import upgrade
from vibdiag.store.connection import make_engine, reading, writing
from vibdiag.store.face import StoreError
from vibdiag.store.place import store_url
from vibdiag.store.recordings import kept_files, write_recording
from vibdiag.store.search import search
from vibdiag.store.store import open_store
from vibdiag.store.tables import metadata

RELEASED = Path(__file__).parent / "released"
VERSIONS = sorted({int(file.name.split(".")[0].removeprefix("version-")) for file in RELEASED.glob("*.sql")})


def load_dump(place: str, version: int) -> None:
    if place.endswith(".db"):
        Path(place).parent.mkdir(parents=True)
        connection = sqlite3.connect(place)
        connection.executescript((RELEASED / f"version-{version}.sqlite.sql").read_text(encoding="utf-8"))
        connection.commit()
        connection.close()
    else:
        import psycopg

        dump = (RELEASED / f"version-{version}.postgresql.sql").read_text(encoding="utf-8")
        with psycopg.connect(place.replace("+psycopg", "")) as server:
            server.execute(dump.encode())


@pytest.mark.parametrize("version", VERSIONS)
def test_a_store_of_a_released_version_opens_with_all_it_held(place: str, version: int, tmp_path: Path) -> None:
    load_dump(place, version)
    demo = load_case(shipped_folder("cases") / "motorway-tremor.yaml")
    with open_store(place) as store:
        sound(store)
        found = store.read(demo.id)
        assert (found.revision, found.case.notes, found.case.title) == (5, "Olá 🚗", demo.title)
        assert [one.step for one in found.case.steps] == [one.step for one in demo.steps]
        assert [(one.who, one.kind, one.undoes) for one in store.history(demo.id)] == [
            ("Ada", "create", None),
            ("Bo", "change", None),
            ("Ada", "change", None),
            ("Bo", "undo", 3),
            ("Bo", "attach", None),
        ]
        assert store.read(demo.id, revision=3).case.title == "Another title"
        assert store.read("forgotten").case.notes is None
        assert [line.forgotten for line in store.lines()] == [True, False]
        assert [line.id for line in search(store, "trembles motorway")] == [demo.id]
        (kept,) = kept_files(store, demo.id)
        write_recording(store, kept, tmp_path / "back.csv")
        assert (tmp_path / "back.csv").read_bytes() == b"0.00,0.01\n0.01,-0.02\n"
        # And work goes on.
        assert store.save(with_parts(found, notes="on"), found, ADA).version.revision == 6
        store.create(case_of(), ADA)
        sound(store)


def test_every_version_has_its_dump_and_the_newest_is_the_present_one() -> None:
    script = ScriptDirectory(str(Path(upgrade.__file__).parent))
    known = sorted(int(one.revision) for one in script.walk_revisions())
    assert known == VERSIONS
    assert script.get_current_head() == upgrade.PRESENT
    for version in VERSIONS:
        assert (RELEASED / f"version-{version}.sqlite.sql").is_file()
        assert (RELEASED / f"version-{version}.postgresql.sql").is_file()


def test_the_migrations_make_the_tables_the_program_expects(place: str) -> None:
    """Alembic's own comparison of the database with the tables as declared."""

    def ours(_object: Any, name: str | None, _kind: str, _reflected: bool, _compared: Any) -> bool:
        return not (name or "").startswith("case_search")

    with open_store(place) as store, reading(store.engine) as connection:
        context = MigrationContext.configure(connection, opts={"include_object": ours, "compare_type": True})
        assert compare_metadata(context, metadata) == []


def test_opening_again_changes_nothing_and_loads_no_alembic(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    open_store(place).close()
    monkeypatch.setattr(upgrade, "_upgrade", lambda *_: pytest.fail("there was nothing to upgrade"))
    open_store(place).close()


def test_a_store_of_a_newer_program_is_refused_and_left_alone(place: str) -> None:
    open_store(place).close()
    engine = make_engine(store_url(place))
    with writing(engine) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '999'"))
    with pytest.raises(StoreError, match=re.escape("has version 999, this program knows up to 002; update vibdiag")):
        open_store(place)
    with reading(engine) as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == "999"
    engine.dispose()


def test_another_programs_database_is_refused_and_left_alone(place: str) -> None:
    engine = make_engine(store_url(place))
    with writing(engine) as connection:
        connection.execute(text("CREATE TABLE cases (lawyer integer)"))
    with pytest.raises(StoreError, match="belongs to another program"):
        open_store(place)
    engine.dispose()


def test_a_migration_that_fails_leaves_the_store_as_it_was(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise OSError("in the middle")

    with monkeypatch.context() as patch:
        patch.setattr("alembic.op.create_index", fails)
        with pytest.raises(OSError, match="in the middle"):
            open_store(place)
    with open_store(place) as store:
        store.create(case_of(), ADA)
        sound(store)


def test_many_open_a_new_store_at_once(place: str) -> None:
    problems: list[Exception] = []

    def work(number: int) -> None:
        try:
            with open_store(place) as store:
                store.create(case_of(id=f"case-{number}"), ADA)
        except Exception as error:  # noqa: BLE001 - told by the test itself
            problems.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert problems == []
    with open_store(place) as store:
        assert len(store.lines()) == 4
