"""Taking personal data out of a case and out of its whole history, for good; its evidence stays.

What a backup or an exported file holds is out of reach from here; the command says so.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import delete, insert, select, text, update

from vibdiag.merging.plain import digest, from_text, to_text
from vibdiag.store import log
from vibdiag.store.connection import sentences, writing
from vibdiag.store.face import Forgotten, Signature
from vibdiag.store.log import Step
from vibdiag.store.personal import REMOVED, without_personal
from vibdiag.store.recordings import drop_unused
from vibdiag.store.store import CaseStore
from vibdiag.store.tables import attached, cases, events

__all__ = ["forget"]

# Words of our own making, in which nobody's name can stand.
_KINDS = {
    "create": "opened",
    "import": "imported",
    "change": "changed",
    "attach": "attached",
    "undo": "took back: changed",
    "redo": "did again: changed",
    "forget": "personal data removed",
}


def forget(store: CaseStore, case_id: str, signature: Signature, *, with_recordings: bool = False) -> Forgotten:
    """Take names and free text out of the case and of all its past; recordings only when told so.

    Raises UnknownCaseError. The id of the case stays: it is how files and people refer to it.
    """
    with writing(store.engine) as connection:
        row = log.for_writing(connection, case_id)
        past = connection.execute(select(events).where(events.c.case_number == row.number)).all()
        for event in past:
            cleaned = to_text(without_personal(from_text(event.data)))
            connection.execute(
                update(events)
                .where(events.c.number == event.number)
                .values(
                    data=cleaned,
                    digest=digest(cleaned),
                    who=REMOVED,
                    source=REMOVED,
                    what=_KINDS.get(event.kind, "changed"),
                )
            )
        old = from_text(row.data)
        now = without_personal(old)
        names = {
            before["path"]: after["path"]
            for before, after in zip(old.get("attachments", []), now.get("attachments", []), strict=True)
        }
        files = connection.execute(select(attached).where(attached.c.case_number == row.number)).all()
        connection.execute(delete(attached).where(attached.c.case_number == row.number))
        kept = []
        for file in files:
            # A file whose attachment was taken out of the case is in nobody's hands any more.
            if not with_recordings and file.path in names:
                values = {"case_number": row.number, "path": names[file.path], "sha256": file.sha256}
                connection.execute(insert(attached).values(**values))
                kept.append(names[file.path])
        drop_unused(connection)
        connection.execute(
            update(cases).where(cases.c.number == row.number).values(forgotten_at=log.stamp(datetime.now(UTC)))
        )
        log.append(connection, row, now, signature, Step("forget", "personal data removed"))
    _wipe(store)
    return Forgotten(case_id, len(past), tuple(sorted(kept)), len(files) - len(kept))


def _wipe(store: CaseStore) -> None:
    """Overwrite what was deleted: until then the words are still in the file, if in no table."""
    sqlite = store.engine.dialect.name == "sqlite"
    with sentences(store.engine), store.engine.connect() as connection:
        if sqlite:
            plain = connection.connection.cursor()
            plain.execute("INSERT INTO case_search(case_search) VALUES ('optimize')")
            plain.execute("VACUUM")
            plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            plain.close()
        else:
            free = connection.execution_options(isolation_level="AUTOCOMMIT")
            for table in ("cases", "events", "content_parts"):
                free.execute(text(f"VACUUM {table}"))
