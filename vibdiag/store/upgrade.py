"""Old stores keep opening: at opening, each is brought to the present form, in one transaction or not at all."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from vibdiag.store.connection import reading, sentences, writing
from vibdiag.store.face import StoreError

__all__ = ["PRESENT", "bring_up_to_date"]

# The newest file in `versions/`; compared first, because loading alembic takes longer than everything else here.
PRESENT = "002"
# Any number will do, as long as every vibdiag takes the same: one at a time changes the tables of a server.
_LOCK = 7_316_011
_FOLDER = Path(__file__).parent


def bring_up_to_date(engine: Engine) -> None:
    """Make the tables or change them to the present form.

    Raises StoreError when the store is from a newer program, is something else, or cannot be written.
    """
    with reading(engine) as connection:
        found = _version(connection)
    if found == PRESENT:
        return
    with sentences(engine), writing(engine) as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        found = _version(connection)
        if found != PRESENT:
            _upgrade(connection, found)


def _version(connection: Connection) -> str | None:
    """The version the store is in; None when it is empty."""
    tables = set(inspect(connection).get_table_names())
    if "alembic_version" in tables:
        return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if tables & {"cases", "events"}:
        raise StoreError("this database belongs to another program; choose an empty one for the cases")
    return None


def _upgrade(connection: Connection, found: str | None) -> None:
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(_FOLDER), version_locations=[str(_FOLDER / "versions")])
    known = {one.revision for one in script.walk_revisions()}
    if found is not None and found not in known:
        raise StoreError(f"the store has version {found}, this program knows up to {PRESENT}; update vibdiag")
    context = EnvironmentContext(
        Config(), script, fn=lambda revision, _context: script._upgrade_revs("head", revision), destination_rev="head"
    )
    with context:
        context.configure(connection=connection, transactional_ddl=True)
        context.run_migrations()
