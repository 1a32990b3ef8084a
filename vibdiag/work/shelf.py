"""Where cases are kept, as the screens see it: one narrow face before a folder of files and before a store.

A shelf lists and opens; a case in hand saves every change at once, takes in what others changed, and goes back and
forth. Whatever stands behind it, two people on one case merge by field, and a true conflict raises ConflictError with
nothing saved.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from vibdiag.case.model import Case, FollowUp

__all__ = ["DUE_NAMES", "CaseEntry", "CaseInHand", "Done", "Shelf", "Sound", "with_done"]

DUE_NAMES = {"check-torque": "check torque again", "call-back": "call back", "other": "follow up"}

# Asked with the case as it is about to stand, before it is saved or shown; raises InputError when it cannot stand.
Sound = Callable[[Case], object]


@dataclass(frozen=True)
class Done:
    """One change of a case, in words; who and when are None where the place does not keep them."""

    what: str
    who: str | None = None
    at: datetime | None = None

    def sentence(self) -> str:
        """Who did what, one line."""
        return f"{self.who or 'somebody'}: {self.what}"


@dataclass(frozen=True)
class CaseEntry:
    """One case of the list; `case` is None where it cannot be read, and `problem` says why. `key` opens it."""

    key: str
    name: str
    changed: datetime
    case: Case | None
    problem: str | None = None

    @property
    def title(self) -> str:
        if self.case is None:
            return self.name
        return self.case.title or self.case.complaint.words.strip().split("\n")[0][:60] or self.case.id

    @property
    def stands(self) -> str:
        """Where the case stands, in words."""
        if self.case is None:
            return "cannot be read"
        if self.case.outcome is not None:
            return "closed, proven" if self.case.outcome.proof else "closed"
        if any(repair.effect == "unknown" for repair in self.case.history.repairs):
            return "repaired, to be proven"
        kinds = {result.step.split("-")[0] for result in self.case.steps}
        if "bay" in kinds:
            return "in the bay"
        if "road" in kinds:
            return "road-tested"
        return "interview" if kinds or self.case.complaint.words else "new"

    def due(self, today: date) -> list[str]:
        """What has fallen due by `today`."""
        if self.case is None:
            return []
        return [DUE_NAMES[item.what] for item in self.case.follow_ups if not item.done and item.due <= today]


class CaseInHand(Protocol):
    """One case, open in one session. `by` is who changes it; `sound` is asked before anything is written, unless what
    is to stand is just the case that was handed in.

    Every method raises ConflictError where another's change stands against it, another InputError or OSError when it
    cannot be done; the case in hand then stays as it was.
    """

    @property
    def key(self) -> str:
        """Opens it again."""

    @property
    def name(self) -> str:
        """What people call it: a file name, an id."""

    @property
    def recordings(self) -> str:
        """Where a recording of the case is looked for when only its name is typed, in words."""

    @property
    def case(self) -> Case:
        """As it was last seen or saved here."""

    def save(self, case: Case, what: str, *, by: str | None, sound: Sound, insist: bool = False) -> Sequence[Done]:
        """Make the changes since `self.case` part of what stands; returns what others had changed meanwhile.

        `insist` puts your value in place of another's, for whoever has seen both.
        """

    def changed(self) -> bool:
        """Whether somebody else may have changed it since; cheap enough to ask every second, from any thread."""

    def look(self, *, sound: Sound) -> Sequence[Done]:
        """Take in what others changed since; empty when they changed nothing."""

    def undo(self, *, by: str | None, sound: Sound) -> str | None:
        """Take the last change of this person back, and nothing of others; what it was, or None."""

    def redo(self, *, by: str | None, sound: Sound) -> str | None:
        """Make the change again that was taken back last."""

    def history(self) -> Sequence[Done]:
        """What became of the case, oldest first, as far as the place keeps it."""

    def bring(self, path: str) -> str:
        """Take the recording at `path` to the case's own; returns the path to write into the case.

        Raises ValueError with one sentence when there is no such file.
        """

    def has(self, path: str) -> bool:
        """Whether the recording that the case calls `path` is still there."""


class Shelf(Protocol):
    """All cases of one place."""

    @property
    def place(self) -> str:
        """Where they are kept, to be shown."""

    def stamp(self) -> Hashable:
        """Changes whenever any case does; cheap to ask again and again."""

    def entries(self, words: str = "") -> Sequence[CaseEntry]:
        """The cases, due ones first, then the most recently changed; with `words` only those that have them all."""

    def each(self) -> Iterator[tuple[str, Case]]:
        """Every case with its name, in the order of the names; raises InputError for one that cannot be read."""

    def create(self, *, by: str | None) -> str:
        """A new, empty case; returns its key. Raises InputError or OSError."""

    def holds(self, key: str) -> bool:
        """Whether there is such a case."""

    def open(self, key: str) -> CaseInHand:
        """Take a case in hand; raises InputError when it cannot be read."""


def with_done(case: Case, item: FollowUp, *, today: date, by: str | None, said: str = "") -> Case:
    """The case with that follow-up done, and when, by whom and what was `said` in its note.

    It is named by what it is, not by its place: the list may have changed since it was seen. Raises ValueError when it
    is not open any more.
    """
    if item.done or item not in case.follow_ups:
        raise ValueError("this follow-up is not open any more")
    place = case.follow_ups.index(item)
    signed = f"Done {today.isoformat()}" + (f", {by}." if by else ".") + (f" {said}" if said else "")
    done = item.model_copy(update={"done": True, "note": f"{item.note} {signed}" if item.note else signed})
    return case.model_copy(update={"follow_ups": [*case.follow_ups[:place], done, *case.follow_ups[place + 1 :]]})
