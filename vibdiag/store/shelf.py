"""The store as a shelf: the narrow face through which the screens work on it."""

from __future__ import annotations

import socket
from collections.abc import Hashable, Iterator, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import func, select

from vibdiag.case.model import Case
from vibdiag.files.errors import InputError
from vibdiag.merging.plain import case_of, from_text
from vibdiag.store import log
from vibdiag.store.connection import reading, writing
from vibdiag.store.face import Entry, Saved, Signature, StoreError, Version
from vibdiag.store.recordings import keep, kept_files
from vibdiag.store.search import search
from vibdiag.store.store import CaseStore
from vibdiag.store.tables import cases, events
from vibdiag.store.typed import login
from vibdiag.work.shelf import CaseEntry, Done, Sound

__all__ = ["StoreShelf", "StoredCase"]

# More are found by words: a list of thousands helps nobody.
_SHOWN = 200


class StoreShelf:
    """All cases of a store; `source` says from where they are changed: the screens, and the machine."""

    def __init__(self, store: CaseStore, *, source: str = "screens") -> None:
        self.store = store
        self.source = f"{source}, {socket.gethostname()}"

    @property
    def place(self) -> str:
        return self.store.place

    def stamp(self) -> Hashable:
        # Every change is an event, and its number is found without reading any.
        with reading(self.store.engine) as connection:
            return int(connection.execute(select(func.max(events.c.number))).scalar() or 0)

    def entries(self, words: str = "") -> Sequence[CaseEntry]:
        today = date.today().isoformat()
        newest = select(cases).order_by(cases.c.changed_at.desc(), cases.c.number.desc()).limit(_SHOWN)
        if words.strip():
            newest = newest.where(cases.c.id.in_([line.id for line in search(self.store, words)]))
        # Two questions that an index answers each, instead of one that puts every case in order.
        with reading(self.store.engine) as connection:
            rows = {row.number: row for row in connection.execute(newest.where(cases.c.due <= today))}
            rows |= {row.number: row for row in connection.execute(newest) if row.number not in rows}
        found = []
        for row in list(rows.values())[:_SHOWN]:
            changed = log.moment(row.changed_at)
            try:
                found.append(CaseEntry(row.id, row.id, changed, case_of(from_text(row.data))))
            except InputError as error:
                found.append(CaseEntry(row.id, row.id, changed, None, str(error)))
        return found

    def each(self) -> Iterator[tuple[str, Case]]:
        query = select(cases.c.id, cases.c.data).order_by(cases.c.id)
        with reading(self.store.engine) as connection:
            rows = connection.execution_options(stream_results=True, max_row_buffer=_SHOWN).execute(query)
            for row in rows:
                yield row.id, case_of(from_text(row.data))

    def create(self, *, by: str | None = None) -> str:
        now = datetime.now(UTC).replace(microsecond=0)
        number = 1
        while True:
            case_id = f"{now:%Y-%m-%d}-{number:02}"
            if not self.holds(case_id):
                case = Case(vibdiag_case=1, id=case_id, opened_at=now, opened_by=by)
                try:
                    self.store.create(case, self.signature(by))
                except StoreError:
                    # Somebody took the name between the two; any other reason is the caller's to know.
                    if not self.holds(case_id):
                        raise
                else:
                    return case_id
            number += 1

    def holds(self, key: str) -> bool:
        return self.store.revision(key) > 0

    def open(self, key: str) -> StoredCase:
        return StoredCase(self, self.store.read(key))

    def signature(self, by: str | None) -> Signature:
        """Who, or the login where no name is given, and from where."""
        return Signature(by or login(), self.source)


class StoredCase:
    """A case of the store in hand. Undo goes back over what this session did, then over what this person did before."""

    def __init__(self, shelf: StoreShelf, version: Version) -> None:
        self.shelf = shelf
        self._version = version
        self._done: list[tuple[int, str]] = []
        # The undo, the change it took back, and its words.
        self._undone: list[tuple[int, int, str]] = []
        self._recordings: frozenset[str] | None = None

    @property
    def key(self) -> str:
        return self.case.id

    @property
    def name(self) -> str:
        return self.case.id

    @property
    def recordings(self) -> str:
        return "the path of the file; the store keeps a copy of it"

    @property
    def case(self) -> Case:
        return self._version.case

    def save(self, case: Case, what: str, *, by: str | None, sound: Sound, insist: bool = False) -> Sequence[Done]:
        saved = self.shelf.store.save(
            case, self._version, self.shelf.signature(by), what=what, insist=insist, sound=sound
        )
        others = saved.from_others
        if _is_own(saved, self._version.revision):
            self._done.append((saved.version.revision, what))
            self._undone.clear()
        self._version = saved.version
        return _told(others)

    def changed(self) -> bool:
        return self.shelf.store.revision(self.key) != self._version.revision

    def look(self, *, sound: Sound) -> Sequence[Done]:
        if not self.changed():
            return ()
        version = self.shelf.store.read(self.key)
        sound(version.case)
        others = self.shelf.store.history(self.key, after=self._version.revision)
        self._version = version
        return _told(others)

    def undo(self, *, by: str | None, sound: Sound) -> str | None:
        step = self._done[-1] if self._done else self.shelf.store.last_of(self.key, self.shelf.signature(by).who)
        if step is None:
            return None
        undo = self._take_back(step[0], by, sound)
        del self._done[-1:]
        if undo is not None:
            self._undone.append((undo, *step))
        return step[1]

    def redo(self, *, by: str | None, sound: Sound) -> str | None:
        if not self._undone:
            return None
        undo, change, what = self._undone[-1]
        if self._take_back(undo, by, sound) is not None:
            self._done.append((change, what))
        del self._undone[-1]
        return what

    def _take_back(self, revision: int, by: str | None, sound: Sound) -> int | None:
        """The revision that took it back; None when it was taken back already, in other words."""
        saved = self.shelf.store.undo(self.key, self.shelf.signature(by), revision=revision, sound=sound)
        self._version = saved.version
        return saved.version.revision if _is_own(saved, revision) else None

    def history(self) -> Sequence[Done]:
        return _told(self.shelf.store.history(self.key))

    def bring(self, path: str) -> str:
        file = Path(path.strip()).expanduser()
        if not path.strip():
            raise ValueError("write the path of the recording")
        if not file.is_file():
            raise ValueError(f"there is no file '{path.strip()}', looked for at {file.absolute()}")
        with writing(self.shelf.store.engine) as connection:
            row = log.for_writing(connection, self.key)
            keep(connection, row.number, file.name, file)
        self._recordings = None
        return file.name

    def has(self, path: str) -> bool:
        if self._recordings is None or path not in self._recordings:
            self._recordings = frozenset(one.path for one in kept_files(self.shelf.store, self.key))
        return path in self._recordings or Path(path).expanduser().is_file()


def _is_own(saved: Saved, since: int) -> bool:
    """Whether saving made a change of its own, behind `since` and behind what others did."""
    return saved.version.revision > max([since, *(one.revision for one in saved.from_others)])


def _told(entries: Sequence[Entry]) -> tuple[Done, ...]:
    return tuple(Done(one.what, one.who, one.at) for one in entries)
