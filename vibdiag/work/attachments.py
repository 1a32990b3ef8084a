"""Recordings that belong to a case: what the case keeps of them, and where a case file looks for them."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from vibdiag.case.model import Attachment, Case
from vibdiag.work.desk import now

__all__ = ["SensorPlace", "Taken", "attach", "detach", "kept_path", "place_of", "with_recording"]

SensorPlace = Literal["seat-rail", "floor", "steering-column", "steering-wheel", "unknown"]
Taken = Literal["before", "after", "unknown"]


def place_of(path: str, folder: Path) -> Path:
    """Where an attached file lies: as written, or beside the case when the path is a relative one."""
    return folder / Path(path).expanduser()


def kept_path(path: str, folder: Path) -> str:
    """What a case in `folder` calls the file at `path`: its name alone in that folder, so that the folder can be moved.

    Raises ValueError with one sentence when there is no such file.
    """
    typed = path.strip()
    if not typed:
        raise ValueError("write the path of the recording")
    file = place_of(typed, folder)
    if file.is_dir():
        raise ValueError(f"'{typed}' is a folder; write the path of one recording in it")
    if not file.is_file():
        raise ValueError(f"there is no file '{typed}', looked for at {file}; copy the recording there first")
    return str(file.relative_to(folder)) if file.is_relative_to(folder) else str(file.resolve())


def with_recording(case: Case, kept: str, *, sensor_place: SensorPlace, taken: Taken) -> Case:
    """The case with one more recording, called `kept`; raises ValueError when it is attached already."""
    if any(one.path == kept for one in case.attachments):
        raise ValueError(f"'{kept}' is attached to this case already")
    added = Attachment(path=kept, sensor_place=sensor_place, taken=taken, at=now())
    return case.model_copy(update={"attachments": [*case.attachments, added]})


def attach(case: Case, path: str, *, folder: Path, sensor_place: SensorPlace, taken: Taken) -> Case:
    """The case with one more recording; `folder` is where its file lies.

    Raises ValueError with one sentence when there is no such recording, or when it is attached already.
    """
    return with_recording(case, kept_path(path, folder), sensor_place=sensor_place, taken=taken)


def detach(case: Case, path: str) -> Case:
    """The case without that recording; the file itself is not touched."""
    return case.model_copy(update={"attachments": [one for one in case.attachments if one.path != path]})
