"""The file of an open case, watched: what another session saved meanwhile is never overwritten."""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.files.errors import InputError

__all__ = ["CaseChangedError", "fingerprint", "save_unless_changed"]


class CaseChangedError(InputError):
    """The file is no longer the one that was read; nothing was written."""


def fingerprint(path: Path) -> str:
    """What the file holds, as a short text to compare; empty when it cannot be read.

    The content alone decides, not its time: two saves within one tick of the file system's clock have the same time,
    and a file copied back has another one. A case is a few kilobytes, so reading it costs less than the saving.
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


@contextlib.contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Only one process at a time compares and saves in `folder`; the lock ends with the process that held it."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        # Some network file systems cannot lock a folder: there the comparison alone must do.
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def save_unless_changed(case: Case, path: Path, seen: str) -> str:
    """Save `case` when `path` still holds what was `seen` (a fingerprint); returns the new fingerprint.

    Raises CaseChangedError when it holds something else, OSError when it cannot be saved; the file then stays as it is.
    """
    with _alone_in(path.parent):
        there = fingerprint(path)
        if there != seen:
            what = "was changed by another session" if there else "was moved, deleted or locked away"
            raise CaseChangedError(
                f"{what} after it was opened here, so nothing was overwritten; "
                "go back to the list, open the case again, and repeat this one entry",
                file=path.name,
            )
        save_case(case, path)
        return fingerprint(path)
