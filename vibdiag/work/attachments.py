"""Recordings that belong to a case: the file stays where it is, the case keeps its path."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from vibdiag.case.model import Attachment, Case
from vibdiag.work.desk import now

__all__ = ["SensorPlace", "Taken", "attach", "detach", "is_there", "place_of"]

SensorPlace = Literal["seat-rail", "floor", "steering-column", "steering-wheel", "unknown"]
Taken = Literal["before", "after", "unknown"]


def place_of(path: str, folder: Path) -> Path:
    """Where an attached file lies: as written, or beside the case when the path is a relative one."""
    return folder / Path(path).expanduser()


def is_there(attachment: Attachment, folder: Path) -> bool:
    """Whether the file is still where the case says."""
    return place_of(attachment.path, folder).is_file()


def attach(case: Case, path: str, *, folder: Path, sensor_place: SensorPlace, taken: Taken) -> Case:
    """The case with one more recording; `folder` is where the case lies.

    A file in that folder is kept by its name alone, so that the folder can be moved. Raises ValueError with one
    sentence when there is no such file, or when it is attached already.
    """
    typed = path.strip()
    if not typed:
        raise ValueError("write the path of the recording")
    file = place_of(typed, folder)
    if file.is_dir():
        raise ValueError(f"'{typed}' is a folder; write the path of one recording in it")
    if not file.is_file():
        raise ValueError(f"there is no file '{typed}', looked for at {file}; copy the recording there first")
    kept = str(file.relative_to(folder)) if file.is_relative_to(folder) else str(file.resolve())
    if any(one.path == kept for one in case.attachments):
        raise ValueError(f"'{kept}' is attached to this case already")
    added = Attachment(path=kept, sensor_place=sensor_place, taken=taken, at=now())
    return case.model_copy(update={"attachments": [*case.attachments, added]})


def detach(case: Case, path: str) -> Case:
    """The case without that recording; the file itself is not touched."""
    return case.model_copy(update={"attachments": [one for one in case.attachments if one.path != path]})
