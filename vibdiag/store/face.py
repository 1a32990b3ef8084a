"""What the store hands out and what it raises: frozen, and free of any database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from vibdiag.case.model import Case
from vibdiag.files.errors import InputError

__all__ = [
    "CaseLine",
    "Conflict",
    "ConflictError",
    "Entry",
    "FieldChange",
    "Forgotten",
    "Saved",
    "Signature",
    "StoreError",
    "StoredRecording",
    "UnknownCaseError",
    "Version",
]

_LONGEST_SHOWN = 60


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
class FieldChange:
    """One field, before and after, as plain data; None where it was or is not given."""

    field: str
    before: Any
    after: Any

    def sentence(self) -> str:
        """The change in words, one line."""
        if self.before is None:
            return f"{self.field}: {shown(self.after)}"
        if self.after is None:
            return f"{self.field}: {shown(self.before)} taken out"
        return f"{self.field}: {shown(self.before)} -> {shown(self.after)}"


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
class Conflict:
    """One field that two people changed differently: both values, and who had changed it in the store."""

    field: str
    base: Any
    yours: Any
    theirs: Any
    who: str = "unknown"
    at: datetime | None = None

    def sentence(self) -> str:
        """Both values and the other person's name, one line."""
        return f"{self.field}: {self.who} has {shown(self.theirs)}, you have {shown(self.yours)}"


class ConflictError(StoreError):
    """Two people changed the same field differently; nothing was overwritten and nothing was saved."""

    def __init__(self, case_id: str, conflicts: tuple[Conflict, ...]) -> None:
        self.case_id = case_id
        self.conflicts = conflicts
        more = f", and {len(conflicts) - 1} more" if len(conflicts) > 1 else ""
        super().__init__(
            f"somebody else changed the same thing meanwhile, nothing was saved: {conflicts[0].sentence()}{more}; "
            "look at both and enter the right one again",
            file=case_id,
        )


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


def shown(value: Any) -> str:
    """A value short enough for a sentence."""
    text = "nothing" if value is None else value if isinstance(value, str) else repr(value)
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."
