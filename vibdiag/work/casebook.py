"""The folder of case files: list, open, create. A case is one YAML file; what cannot be read is said, not hidden."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.files.errors import InputError
from vibdiag.work.on_disk import fingerprint, save_unless_changed

__all__ = ["DUE_NAMES", "CaseEntry", "Casebook", "default_folder", "with_done"]

DUE_NAMES = {"check-torque": "check torque again", "call-back": "call back", "other": "follow up"}


def default_folder() -> Path:
    """`VIBDIAG_CASES`, or the user's own data folder."""
    chosen = os.environ.get("VIBDIAG_CASES")
    if chosen:
        return Path(chosen)
    from platformdirs import user_data_path

    return user_data_path("vibdiag", appauthor=False) / "cases"


@dataclass(frozen=True)
class CaseEntry:
    """One file of the folder; `case` is None where it cannot be read, and `problem` says why."""

    path: Path
    changed: datetime
    case: Case | None
    problem: str | None = None

    @property
    def title(self) -> str:
        if self.case is None:
            return self.path.name
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

    def matches(self, text: str) -> bool:
        """Whether every word of `text` occurs in the file's name, title, words or vehicle."""
        if self.case is None:
            return text.lower() in self.path.name.lower()
        vehicle = self.case.vehicle.description or ""
        haystack = f"{self.path.stem} {self.title} {self.case.complaint.words} {vehicle}".lower()
        return all(word in haystack for word in text.lower().split())


class Casebook:
    """Case files in one folder, made when it is first needed."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or default_folder()

    def entries(self) -> list[CaseEntry]:
        """Every case file, due ones first, then the most recently changed."""
        today = date.today()
        found = list(self._read())
        return sorted(found, key=lambda entry: (not entry.due(today), -entry.changed.timestamp()))

    def _read(self) -> Iterator[CaseEntry]:
        if not self.folder.is_dir():
            return
        for path in self.folder.glob("*.yaml"):
            changed = datetime.fromtimestamp(path.stat().st_mtime, tz=UTC)
            try:
                yield CaseEntry(path, changed, load_case(path))
            except InputError as error:
                yield CaseEntry(path, changed, None, str(error))

    def create(self, *, by: str | None = None) -> tuple[Path, Case]:
        """A new, empty case file; raises OSError when the folder cannot be written."""
        self.folder.mkdir(parents=True, exist_ok=True)
        now = datetime.now(UTC).replace(microsecond=0)
        stem, number = now.strftime("%Y-%m-%d"), 1
        while (path := self.folder / f"{stem}-{number:02}.yaml").exists():
            number += 1
        case = Case(vibdiag_case=1, id=_identity(path.stem), opened_at=now, opened_by=by)
        save_case(case, path)
        return path, case

    def follow_up_done(self, path: Path, place: int, *, today: date, by: str | None) -> Case:
        """Mark the follow-up at `place` (from 0) of the case at `path` as done, on the disk at once.

        Raises InputError when the case cannot be read or was changed meanwhile, OSError when it cannot be saved,
        ValueError when there is no such follow-up or it is done already.
        """
        seen = fingerprint(path)
        case = with_done(load_case(path), place, today=today, by=by)
        save_unless_changed(case, path, seen)
        return case


def with_done(case: Case, place: int, *, today: date, by: str | None) -> Case:
    """The case with that follow-up done, and when and by whom in its note; raises ValueError when there is none."""
    if not 0 <= place < len(case.follow_ups) or case.follow_ups[place].done:
        raise ValueError("this follow-up is not open any more")
    item = case.follow_ups[place]
    signed = f"Done {today.isoformat()}" + (f", {by}." if by else ".")
    done = item.model_copy(update={"done": True, "note": f"{item.note} {signed}" if item.note else signed})
    return case.model_copy(update={"follow_ups": [*case.follow_ups[:place], done, *case.follow_ups[place + 1 :]]})


def _identity(stem: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]", "-", stem)
