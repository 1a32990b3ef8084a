"""The door to the store: create, read, save, undo, history, list. Every change is one transaction and one event."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Engine, Row, select

from vibdiag.case.model import Case
from vibdiag.merging.conflict import Conflict, ConflictError
from vibdiag.merging.differ import touches
from vibdiag.merging.merge import merge
from vibdiag.merging.plain import Data, case_of, plain
from vibdiag.store import log
from vibdiag.store.connection import make_engine, reading, writing
from vibdiag.store.face import CaseLine, Entry, Saved, Signature, StoreError, Version
from vibdiag.store.log import Step
from vibdiag.store.place import shown_place, store_url
from vibdiag.store.tables import cases, events
from vibdiag.store.upgrade import bring_up_to_date

__all__ = ["CaseStore", "line_of", "open_store"]

_TOOK_BACK = "took back: "
# Asked whether a merged case may stand; raises when it may not.
Sound = Callable[[Case], object]


def open_store(place: str | None = None) -> CaseStore:
    """The store at `place` (a file or a PostgreSQL URL), or at `VIBDIAG_STORE`, or the user's own.

    Made when it is not there, brought up to date when it is old. Raises StoreError.
    """
    url = store_url(place)
    engine = make_engine(url)
    try:
        bring_up_to_date(engine)
    except BaseException:
        engine.dispose()
        raise
    return CaseStore(engine, shown_place(url))


class CaseStore:
    """Cases by their id. Use as a context manager, or `close` it; safe to use from several threads."""

    def __init__(self, engine: Engine, place: str) -> None:
        self.engine = engine
        self.place = place

    def __enter__(self) -> CaseStore:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def create(self, case: Case, signature: Signature, *, kind: str = "create", what: str = "opened") -> Version:
        """Put a new case in; raises StoreError when there is one with its id."""
        with writing(self.engine) as connection:
            return log.first(connection, case, signature, Step(kind, what))

    def read(self, case_id: str, *, as_of: datetime | None = None, revision: int | None = None) -> Version:
        """The case as it stands, as it stood at a moment (naive moments are UTC), or after a revision.

        Raises UnknownCaseError, and StoreError when it was not there yet.
        """
        with reading(self.engine) as connection:
            row = log.row_of(connection, case_id)
            if as_of is not None:
                revision = _revision_at(connection, row.number, as_of)
            found = log.version_of(connection, row, revision=revision) if revision != 0 else None
        if found is None:
            when = f"at {as_of.isoformat()}" if as_of else f"with revision {revision}"
            raise StoreError(f"the store knew nothing of this case {when}", file=case_id)
        return found

    def save(
        self,
        case: Case,
        base: Version,
        signature: Signature,
        *,
        what: str = "changed",
        kind: str = "change",
        insist: bool = False,
        sound: Sound | None = None,
    ) -> Saved:
        """Make your changes since `base`, which you had read, part of the case as it now stands.

        What others changed meanwhile stays and is handed back. Raises ConflictError when a field was changed
        differently by both; then nothing is saved. With `insist`, for whoever has seen the other's value, yours stands.
        `sound` is asked with the merged case, where that is not just yours, before it is saved; it raises if it cannot.
        """
        if case.id != base.case.id:
            raise StoreError(f"a case keeps its id; it is '{base.case.id}' and not '{case.id}'", file=base.case.id)
        yours = plain(case)
        with writing(self.engine) as connection:
            return self.join(
                connection, plain(base.case), yours, base.revision, signature, Step(kind, what), case.id,
                insist=insist, sound=sound, judged=yours,
            )  # fmt: skip

    def join(
        self,
        connection: Connection,
        base: Data,
        yours: Data,
        since: int,
        signature: Signature,
        step: Step,
        case_id: str,
        *,
        insist: bool = False,
        sound: Sound | None = None,
        judged: Data | None = None,
    ) -> Saved:
        """Make `yours` part of what stands, in the caller's transaction; after a ConflictError nothing is written."""
        row = log.for_writing(connection, case_id)
        theirs = log.data_of(row.data)
        merged = merge(base, yours, theirs, insist=insist)
        others = tuple(log.entries(connection, row, after=since))
        if merged.conflicts:
            raise ConflictError(case_id, tuple(_signed(one, others) for one in merged.conflicts))
        if sound is not None and merged.data != judged:
            sound(case_of(merged.data))
        if merged.data == theirs:
            version = log.version_of(connection, row)
            if version is None:
                raise StoreError("the history of this case has a hole; bring back the last backup", file=case_id)
        else:
            version = log.append(connection, row, merged.data, signature, step)
        return Saved(version, others)

    def history(self, case_id: str, *, after: int = 0) -> tuple[Entry, ...]:
        """Every change behind revision `after`, oldest first; raises UnknownCaseError."""
        with reading(self.engine) as connection:
            return tuple(log.entries(connection, log.row_of(connection, case_id), after=after))

    def revision(self, case_id: str) -> int:
        """The present revision: cheap to ask again and again, to see whether somebody else changed the case."""
        with reading(self.engine) as connection:
            found = connection.execute(select(cases.c.revision).where(cases.c.id == case_id)).scalar_one_or_none()
        return int(found or 0)

    def undo(
        self, case_id: str, signature: Signature, *, revision: int | None = None, sound: Sound | None = None
    ) -> Saved:
        """Take one change back, the last that still holds when none is named; later changes stay.

        The revision of an undo makes the change again that it took back. Raises StoreError when there is nothing to
        take back, ConflictError when later changes built on it.
        """
        return self._take_back(case_id, signature, revision, undos=False, sound=sound)

    def redo(self, case_id: str, signature: Signature) -> Saved:
        """Take the last undo back."""
        return self._take_back(case_id, signature, None, undos=True)

    def last_of(self, case_id: str, who: str) -> tuple[int, str] | None:
        """The last change of this person that nobody took back: its revision and words; None when none is left."""
        with reading(self.engine) as connection:
            row = log.row_of(connection, case_id)
            query = (
                select(events.c.revision, events.c.what)
                .where(
                    events.c.case_number == row.number,
                    events.c.who == log.kept(who),
                    events.c.kind == "change",
                    events.c.revision.in_(_holding(connection, row.number, undos=False)),
                )
                .order_by(events.c.revision.desc())
                .limit(1)
            )
            found = connection.execute(query).one_or_none()
        return None if found is None else (found.revision, found.what)

    def _take_back(
        self, case_id: str, signature: Signature, revision: int | None, *, undos: bool, sound: Sound | None = None
    ) -> Saved:
        with writing(self.engine) as connection:
            row = log.for_writing(connection, case_id)
            holding = _holding(connection, row.number, undos=undos)
            target = revision if revision is not None else max(holding, default=0)
            if target not in holding and not (revision and revision in _undos(connection, row.number)):
                word = "redo" if undos else "undo"
                raise StoreError(
                    f"there is nothing to {word}" if not target else f"change {target} cannot be undone", file=case_id
                )
            texts = {
                one.revision: one
                for one in connection.execute(
                    select(events).where(
                        events.c.case_number == row.number, events.c.revision.in_((target - 1, target))
                    )
                )
            }
            told = texts[target].what
            again = texts[target].kind == "undo"
            what = f"did again: {told.removeprefix(_TOOK_BACK)}" if again else _TOOK_BACK + told
            step = Step("redo" if again else "undo", what, target)
            base, yours = log.data_of(texts[target].data), log.data_of(texts[target - 1].data)
            return self.join(connection, base, yours, target, signature, step, case_id, sound=sound)

    def lines(self, *, limit: int | None = None) -> tuple[CaseLine, ...]:
        """All cases, the most recently changed first."""
        query = select(cases).order_by(cases.c.changed_at.desc(), cases.c.number.desc()).limit(limit)
        with reading(self.engine) as connection:
            return tuple(line_of(row) for row in connection.execute(query))


def line_of(row: Row[Any]) -> CaseLine:
    """A row of `cases` as it is handed out."""
    get = row._mapping
    return CaseLine(
        get["id"], get["title"], get["revision"], log.moment(get["changed_at"]), get["changed_by"],
        get["forgotten_at"] is not None,
    )  # fmt: skip


def _revision_at(connection: Connection, number: int, as_of: datetime) -> int:
    moment = log.stamp(as_of if as_of.tzinfo else as_of.replace(tzinfo=UTC))
    query = select(events.c.revision, events.c.at).where(events.c.case_number == number)
    return max((row.revision for row in connection.execute(query) if row.at <= moment), default=0)


def _undos(connection: Connection, number: int) -> set[int]:
    """Undos that still hold, also those behind which others have changed something."""
    return _holding(connection, number, undos=True, behind_changes=True)


def _holding(connection: Connection, number: int, *, undos: bool, behind_changes: bool = False) -> set[int]:
    """Revisions that can be taken back: changes that no undo, itself still holding, has taken back.

    With `undos`, the undos since the last change: after a new change there is nothing to do again.
    """
    query = select(events.c.revision, events.c.kind, events.c.undoes).where(events.c.case_number == number)
    taken_back: set[int] = set()
    holding = set()
    for event in connection.execute(query.order_by(events.c.revision.desc())):
        change = event.kind not in ("undo", "redo")
        if undos and change and not behind_changes:
            break
        if event.revision in taken_back:
            continue
        if not change:
            taken_back.add(event.undoes)
        wanted = event.kind == "undo" if undos else change and event.kind != "forget"
        if wanted and event.revision > 1:
            holding.add(event.revision)
    return holding


def _signed(conflict: Conflict, others: tuple[Entry, ...]) -> Conflict:
    """The conflict with the name of whoever changed that field last."""
    for entry in reversed(others):
        if any(touches(change.field, conflict.field) for change in entry.changes):
            return replace(conflict, who=entry.who, at=entry.at)
    return conflict
