"""What the tests of the store share: every test runs on SQLite, and on PostgreSQL where VIBDIAG_TEST_POSTGRES is set.

`.ci/postgres COMMAND` starts one and sets it.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from vibdiag.case.model import Case
from vibdiag.case.storage import load_folder
from vibdiag.files.shipped import shipped_folder
from vibdiag.store.face import Signature, Version
from vibdiag.store.store import CaseStore, open_store

SERVER = os.environ.get("VIBDIAG_TEST_POSTGRES")
ADA = Signature("Ada", "desk")
BO = Signature("Bo", "bay")

both = pytest.param("postgresql", marks=pytest.mark.skipif(not SERVER, reason="VIBDIAG_TEST_POSTGRES is not set"))


def case_of(**parts: Any) -> Case:
    """An invented case from its parts, as they stand in a file."""
    return Case.model_validate({"vibdiag_case": 1, "id": "invented", "invented": True, **parts})


def with_parts(version: Version, **parts: Any) -> Case:
    """The case of `version` with other parts."""
    return Case.model_validate(version.case.model_dump(mode="json", exclude_defaults=True) | parts)


def server_database() -> Iterator[str]:
    """The URL of an empty database on the server, gone afterwards."""
    import sqlalchemy

    assert SERVER is not None
    name = f"vibdiag_{uuid.uuid4().hex}"
    keeper = sqlalchemy.create_engine(SERVER, isolation_level="AUTOCOMMIT")
    with keeper.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    try:
        yield keeper.url.set(database=name).render_as_string(hide_password=False)
    finally:
        with keeper.connect() as connection:
            connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        keeper.dispose()


@pytest.fixture(params=["sqlite", both])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where an empty store can be: a file, or a database on the server."""
    if request.param == "sqlite":
        yield str(tmp_path / "store" / "cases.db")
    else:
        yield from server_database()


@pytest.fixture
def store(place: str) -> Iterator[CaseStore]:
    """An open, empty store."""
    with open_store(place) as opened:
        yield opened


@pytest.fixture(scope="session")
def demos() -> list[Case]:
    """The shipped invented cases."""
    return [case for _, case in load_folder(shipped_folder("cases"))]
