"""What the store hands out and what it raises: frozen, and free of any database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from vibdiag.case.model import Case
from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import FieldChange

__all__ = [
    "CaseLine",
    "Entry",
    "Forgotten",
    "Saved",
    "Signature",
    "StoreError",
    "StoredRecording",
    "UnknownCaseError",
    "Version",
]


class StoreError(InputError):
    """The store cannot do it: one sentence says why and what helps. Nothing was changed."""


class UnknownCaseError(StoreError):
    """The store has no case of that name."""


@dataclass(frozen=True)
class Signature:
    """Who makes a change, and from where: a screen, a command, a file, and the machine."""

    who: str
    source: str


@dataclass(frozen=True)
class Version:
    """A case as it stood after its change number `revision` (from 1)."""

    case: Case
    revision: int
    at: datetime
    who: str


@dataclass(frozen=True)
class Entry:
    """One change of a case: who, when, from where, in words, and field by field."""

    revision: int
    at: datetime
    who: str
    source: str
    kind: str
    what: str
    undoes: int | None
    changes: tuple[FieldChange, ...]


@dataclass(frozen=True)
class Saved:
    """What stands in the store after a change, and what others had changed since the version it was made on."""

    version: Version
    from_others: tuple[Entry, ...] = ()


@dataclass(frozen=True)
class CaseLine:
    """A case in a list: no more than is needed to find it."""

    id: str
    title: str
    revision: int
    changed_at: datetime
    changed_by: str
    forgotten: bool


@dataclass(frozen=True)
class StoredRecording:
    """A file kept in the store under the SHA-256 of its content."""

    path: str
    sha256: str
    size_bytes: int


@dataclass(frozen=True)
class Forgotten:
    """What was gone over when personal data was taken out of a case."""

    case_id: str
    events: int
    recordings_kept: tuple[str, ...] = ()
    recordings_removed: int = 0
