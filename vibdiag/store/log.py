"""The log of changes: one event for each, with the whole case as it stood after it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update
from sqlalchemy.exc import IntegrityError

from vibdiag.case.model import Case
from vibdiag.merging.differ import changes
from vibdiag.merging.plain import Data, case_of, digest, from_text, plain, texts, to_text
from vibdiag.store.face import Entry, Signature, StoreError, UnknownCaseError, Version
from vibdiag.store.tables import cases, events
from vibdiag.store.words import search_text

__all__ = [
    "Step",
    "append",
    "data_of",
    "entries",
    "first",
    "for_writing",
    "kept",
    "moment",
    "row_of",
    "stamp",
    "version_of",
]


@dataclass(frozen=True)
class Step:
    """What kind of change it is, in words, and which earlier one it takes back."""

    kind: str
    what: str
    undoes: int | None = None


def stamp(at: datetime) -> str:
    """A moment as the tables keep it."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def moment(text: str) -> datetime:
    """The inverse of `stamp`."""
    return datetime.fromisoformat(text)


def row_of(connection: Connection, case_id: str, *, lock: bool = False) -> Row[Any]:
    """The case's line in the table; raises UnknownCaseError. With `lock`, others wait until this transaction ends."""
    query = select(cases).where(cases.c.id == case_id)
    row = connection.execute(query.with_for_update() if lock else query).one_or_none()
    if row is None:
        raise UnknownCaseError(
            "there is no such case in the store; `vibdiag store list` shows those there are", file=case_id
        )
    return row


def for_writing(connection: Connection, case_id: str) -> Row[Any]:
    """The case's line, held until this transaction ends."""
    return row_of(connection, case_id, lock=True)


def _title(case: Case) -> str:
    """What a list calls the case."""
    words = case.complaint.words.strip().split("\n")[0][:60]
    return "".join(sign for sign in (case.title or words or case.id) if sign.isprintable())


def _first_due(case: Case) -> str | None:
    return min((one.due.isoformat() for one in case.follow_ups if not one.done), default=None)


def first(connection: Connection, case: Case, signature: Signature, step: Step) -> Version:
    """Put a new case in; raises StoreError when there is one with its id."""
    now = stamp(datetime.now(UTC))
    empty = {"revision": 0, "changed_at": now, "changed_by": "", "title": "", "data": "", "search_text": ""}
    try:
        query = insert(cases).values(id=case.id, **empty).returning(cases.c.number)
        number = connection.execute(query).scalar_one()
    except IntegrityError as error:
        raise StoreError("there is a case with this id already; give the new one another", file=case.id) from error
    row = connection.execute(select(cases).where(cases.c.number == number)).one()
    return append(connection, row, plain(case), signature, step)


def append(connection: Connection, row: Row[Any], data: Data, signature: Signature, step: Step) -> Version:
    """Add one event and make `data` the present case, both in the caller's transaction."""
    case, text = case_of(data), to_text(data)
    # A clock that was set back must not turn the history round.
    at = datetime.now(UTC)
    if row.revision:
        at = max(at, moment(row.changed_at) + timedelta(microseconds=1))
    revision = row.revision + 1
    connection.execute(
        insert(events).values(
            case_number=row.number, revision=revision, at=stamp(at), who=kept(signature.who),
            source=kept(signature.source), kind=step.kind, what=kept(step.what), undoes=step.undoes,
            digest=digest(text), data=text,
        )
    )  # fmt: skip
    connection.execute(
        update(cases)
        .where(cases.c.number == row.number)
        .values(
            revision=revision, title=_title(case), changed_at=stamp(at), changed_by=kept(signature.who),
            data=text, search_text=search_text(texts(data)), due=_first_due(case),
        )
    )  # fmt: skip
    return Version(case, revision, at, signature.who)


def kept(text: str) -> str:
    """Text that every database takes."""
    return text.replace("\0", "").encode("utf-8", "replace").decode("utf-8")


def data_of(text: str) -> Data:
    """Plain data in the present form of a case, whatever form the store has it in."""
    return plain(case_of(from_text(text)))


def version_of(connection: Connection, row: Row[Any], *, revision: int | None = None) -> Version | None:
    """The case as it stood after `revision`, or as it stands; None when there never was that revision."""
    query = select(events).where(events.c.case_number == row.number, events.c.revision == (revision or row.revision))
    found = connection.execute(query).one_or_none()
    if found is None:
        return None
    return Version(case_of(from_text(found.data)), found.revision, moment(found.at), found.who)


def entries(connection: Connection, row: Row[Any], *, after: int = 0) -> list[Entry]:
    """The changes behind revision `after`, oldest first, each field by field against the one before it."""
    query = select(events).where(events.c.case_number == row.number, events.c.revision >= max(after, 1))
    found: list[Entry] = []
    before: Data = {}
    for event in connection.execute(query.order_by(events.c.revision)):
        data = from_text(event.data)
        if event.revision > after:
            # A new case is told by what is in it, not by the version of the form.
            changed = tuple(change for change in changes(before, data) if change.field != "vibdiag_case")
            found.append(
                Entry(
                    event.revision, moment(event.at), event.who, event.source, event.kind, event.what, event.undoes,
                    changed,
                )
            )  # fmt: skip
        before = data
    return found
