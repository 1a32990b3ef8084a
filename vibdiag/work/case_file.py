"""One case file in hand: watched, merged by field with what another session saved meanwhile, never overwritten."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import ConflictError, FieldChange
from vibdiag.merging.differ import changes
from vibdiag.merging.merge import merge
from vibdiag.merging.plain import case_of, plain
from vibdiag.work import on_disk
from vibdiag.work.attachments import kept_path, place_of
from vibdiag.work.on_disk import alone_in, fingerprint
from vibdiag.work.shelf import Done, Sound

__all__ = ["CaseFile"]


@dataclass(frozen=True)
class _Change:
    """One change of this session: from which case to which."""

    what: str
    before: Case
    after: Case


class CaseFile:
    """A case that is one YAML file. The file keeps no history: only what this session did can be undone."""

    def __init__(self, path: Path) -> None:
        self.path = path
        # Taken before reading: a save between the two is then seen rather than lost.
        self._seen = fingerprint(path)
        self._marks = _marks(path)
        self.case = load_case(path)
        self._done: list[_Change] = []
        self._undone: list[_Change] = []

    @property
    def key(self) -> str:
        return str(self.path)

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def recordings(self) -> str:
        return f"a file in {self.path.parent}, or a whole path; it stays where it is and the case keeps its path"

    def save(self, case: Case, what: str, *, by: str | None, sound: Sound, insist: bool = False) -> Sequence[Done]:  # noqa: ARG002
        before = self.case
        others = self._write(before, case, sound, insist=insist, judged=case)
        self._done.append(_Change(what, before, case))
        self._undone.clear()
        return others

    def changed(self) -> bool:
        return _marks(self.path) != self._marks

    def look(self, *, sound: Sound) -> Sequence[Done]:
        marks = _marks(self.path)
        if marks == self._marks:
            return ()
        seen = fingerprint(self.path)
        if not seen:
            raise InputError("was moved, deleted or locked away after it was opened here", file=self.name)
        theirs = self.case if seen == self._seen else load_case(self.path)
        if theirs != self.case:
            sound(theirs)
        others = _told(self.case, theirs)
        self.case, self._seen, self._marks = theirs, seen, marks
        return others

    def undo(self, *, by: str | None, sound: Sound) -> str | None:  # noqa: ARG002
        return self._travel(self._done, self._undone, sound)

    def redo(self, *, by: str | None, sound: Sound) -> str | None:  # noqa: ARG002
        return self._travel(self._undone, self._done, sound)

    def _travel(self, source: list[_Change], target: list[_Change], sound: Sound) -> str | None:
        if not source:
            return None
        step = source[-1]
        self._write(step.after, step.before, sound)
        source.pop()
        target.append(_Change(step.what, step.after, step.before))
        return step.what

    def history(self) -> Sequence[Done]:
        return tuple(Done(one.what) for one in self._done)

    def bring(self, path: str) -> str:
        return kept_path(path, self.path.parent)

    def has(self, path: str) -> bool:
        return place_of(path, self.path.parent).is_file()

    def _write(
        self, base: Case, yours: Case, sound: Sound, *, insist: bool = False, judged: Case | None = None
    ) -> Sequence[Done]:
        """What changed from `base` to `yours` into the file, whatever others have put there meanwhile."""
        with alone_in(self.path.parent):
            there = fingerprint(self.path)
            if not there:
                raise InputError(
                    "was moved, deleted or locked away after it was opened here, so nothing was saved; "
                    "go back to the list and open the case from where it is now",
                    file=self.name,
                )
            theirs = self.case if there == self._seen else load_case(self.path)
            stands = yours if theirs == base else self._merged(base, yours, theirs, insist=insist)
            if stands is not judged:
                sound(stands)
            if stands != theirs:
                on_disk.save_case(stands, self.path)
            others = _told(self.case, theirs)
            self.case, self._seen, self._marks = stands, fingerprint(self.path), _marks(self.path)
        return others

    def _merged(self, base: Case, yours: Case, theirs: Case, *, insist: bool) -> Case:
        merged = merge(plain(base), plain(yours), plain(theirs), insist=insist)
        if merged.conflicts:
            raise ConflictError(self.name, merged.conflicts)
        return case_of(merged.data)


def _marks(path: Path) -> tuple[int, int, int] | None:
    """What tells that a file may have changed, without reading it."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _told(before: Case, after: Case) -> Sequence[Done]:
    """What somebody else changed; a file does not tell who."""
    if before == after:
        return ()
    return tuple(Done(_in_words(one)) for one in changes(plain(before), plain(after)))


def _in_words(change: FieldChange) -> str:
    """A step by its answer, anything else by its field."""
    value = change.after
    if isinstance(value, dict) and "step" in value:
        return f"{value['step']}: {value.get('outcome', 'unknown')}"
    return change.sentence()
