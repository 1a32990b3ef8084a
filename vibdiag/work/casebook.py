"""A folder of case files as a shelf: a case is one YAML file; what cannot be read is said, not hidden."""

from __future__ import annotations

import os
import re
from collections.abc import Hashable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, load_folder
from vibdiag.files.errors import InputError
from vibdiag.work.case_file import CaseFile
from vibdiag.work.on_disk import create_case
from vibdiag.work.shelf import CaseEntry

__all__ = ["Casebook", "chosen_folder", "usual_folder"]


def chosen_folder() -> Path | None:
    """The folder that `VIBDIAG_CASES` names; None when nobody chose one."""
    chosen = os.environ.get("VIBDIAG_CASES")
    return Path(chosen) if chosen else None


def usual_folder() -> Path:
    """Where case files lay before there was a store: in the user's own data folder."""
    from platformdirs import user_data_path

    return user_data_path("vibdiag", appauthor=False) / "cases"


class Casebook:
    """Case files in one folder, made when it is first needed."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @property
    def place(self) -> str:
        return str(self.folder)

    def stamp(self) -> Hashable:
        return tuple(sorted((path.name, _changed(path)) for path in self._files()))

    def entries(self, words: str = "") -> list[CaseEntry]:
        today = date.today()
        found = [entry for entry in self._read() if _has(entry, words)]
        return sorted(found, key=lambda entry: (not entry.due(today), -entry.changed.timestamp()))

    def each(self) -> Iterator[tuple[str, Case]]:
        yield from ((str(path), case) for path, case in load_folder(self.folder))

    def create(self, *, by: str | None = None) -> str:
        self.folder.mkdir(parents=True, exist_ok=True)
        now = datetime.now(UTC).replace(microsecond=0)
        number = 1
        while True:
            path = self.folder / f"{now:%Y-%m-%d}-{number:02}.yaml"
            case = Case(vibdiag_case=1, id=_identity(path.stem), opened_at=now, opened_by=by)
            if create_case(case, path):
                return str(path)
            number += 1

    def holds(self, key: str) -> bool:
        path = Path(key)
        return path.parent == self.folder and path.is_file()

    def open(self, key: str) -> CaseFile:
        return CaseFile(Path(key))

    def _files(self) -> list[Path]:
        return list(self.folder.glob("*.yaml")) if self.folder.is_dir() else []

    def _read(self) -> Iterator[CaseEntry]:
        for path in self._files():
            changed = datetime.fromtimestamp(_changed(path) / 1e9, tz=UTC)
            try:
                yield CaseEntry(str(path), path.name, changed, load_case(path))
            except InputError as error:
                if path.exists():  # else it was taken away while the folder was read
                    problem = str(error).replace(str(path), path.name)
                    yield CaseEntry(str(path), path.name, changed, None, problem)


def _changed(path: Path) -> int:
    """When the file was changed, in nanoseconds; 0 when it has just been taken away."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _has(entry: CaseEntry, words: str) -> bool:
    """Whether every word occurs in the file's name, title, words or vehicle."""
    haystack = f"{Path(entry.name).stem} {entry.title}"
    if entry.case is not None:
        haystack += f" {entry.case.complaint.words} {entry.case.vehicle.description or ''}"
    return all(word in haystack.lower() for word in words.lower().split())


def _identity(stem: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]", "-", stem)
