"""Writing so that a crash leaves either the old file or the new one, never half of one."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

__all__ = ["write_atomically"]


def write_atomically(path: Path, text: str) -> None:
    """Replace `path` by `text` (UTF-8). The new content is on the disk before the old name points at it.

    Raises OSError when the folder cannot be written or the disk is full; the old file is then untouched.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        mode = path.stat().st_mode if path.exists() else 0o644
        temporary.chmod(mode & 0o777)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
