"""A recording and its signs into the case it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from vibdiag.case.model import Case, RecordedSign
from vibdiag.case.storage import save_case
from vibdiag.files.errors import InputError
from vibdiag.recording.evidence import SignWord
from vibdiag.recording.signal import Place
from vibdiag.work.attachments import attach, place_of

__all__ = ["keep"]


def keep(
    case: Case,
    path: Path,
    files: Sequence[Path],
    signs: Sequence[SignWord],
    *,
    place: Place,
    taken: Literal["before", "after"],
) -> Case:
    """Attach the files to the case at `path`, the signs to the first of them, and save it atomically.

    A file that is attached already keeps its note and gets the new signs. Raises InputError when it cannot be written.
    """
    folder = path.resolve().parent
    recorded = [
        RecordedSign(sign=each.sign, word=each.word, trust=round(float(each.trust), 4), because=each.because)
        for each in signs
    ]
    for number, file in enumerate(files):
        whole = file.resolve()
        if not any(place_of(one.path, folder).resolve() == whole for one in case.attachments):
            try:
                case = attach(case, str(whole), folder=folder, sensor_place=place, taken=taken)
            except ValueError as error:
                raise InputError(str(error), file=file) from error
        case = case.model_copy(
            update={
                "attachments": [
                    one.model_copy(
                        update={"sensor_place": place, "taken": taken, "signs": recorded if number == 0 else []}
                    )
                    if place_of(one.path, folder).resolve() == whole
                    else one
                    for one in case.attachments
                ]
            }
        )
    try:
        save_case(case, path)
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}; the case is as it was", file=path) from error
    return case
