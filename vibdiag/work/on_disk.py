"""Case files on the disk: what a file holds, and one session at a time in a folder."""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from vibdiag.case.model import Case
from vibdiag.case.storage import save_case

__all__ = ["alone_in", "create_case", "fingerprint", "save_case"]


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
def alone_in(folder: Path) -> Iterator[None]:
    """Only one process at a time compares and saves in `folder`; the lock ends with the process that held it."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        # Some network file systems cannot lock a folder: there the comparison alone must do.
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def create_case(case: Case, path: Path) -> bool:
    """Write a new case, whole or not at all, unless there is a file of that name: then False, and nothing is touched.

    Two sessions that choose one name at the same moment do not both get it. Raises OSError when it cannot be written.
    """
    with alone_in(path.parent), tempfile.TemporaryDirectory(dir=path.parent, prefix=".new-") as aside:
        whole = Path(aside) / path.name
        save_case(case, whole)
        try:
            os.link(whole, path)
        except FileExistsError:
            return False
        except OSError:
            # A file system without links: the lock above keeps out all but those on the far side of a network.
            if path.exists():
                return False
            whole.replace(path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    return True
