"""A table of words and numbers as CSV or Parquet, written so that a crash leaves the old file or the new one."""

from __future__ import annotations

import csv
import importlib
import io
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError

__all__ = ["Cell", "write_csv", "write_parquet"]

Cell = str | int | float | None


def write_csv(path: Path, rows: Sequence[Mapping[str, Cell]]) -> None:
    """CSV (RFC 4180: commas, a head line) in UTF-8; None is an empty cell. Raises OSError, ValueError for no rows."""
    if not rows:
        raise ValueError("a table without rows has no columns")
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    write_atomically(path, text.getvalue())


def write_parquet(path: Path, rows: Sequence[Mapping[str, Cell]]) -> None:
    """Apache Parquet, one column for each key of the first row; None is null, a column of nothing else is floats.

    Raises ValueError for no rows, InputError when pyarrow is not installed, OSError when the file cannot be written.
    """
    try:
        arrow, parquet = importlib.import_module("pyarrow"), importlib.import_module("pyarrow.parquet")
    except ImportError as error:
        raise InputError(
            "Parquet needs pyarrow, which is not installed: install 'vibdiag[parquet]', or use --csv"
        ) from error
    if not rows:
        raise ValueError("a table without rows has no columns")
    # Without this an empty rate would have another type than the same column of a fuller folder.
    columns = {key: [row[key] for row in rows] for key in rows[0]}
    empty = arrow.float64()
    table = arrow.table(
        {key: arrow.array(cells, type=empty if set(cells) == {None} else None) for key, cells in columns.items()}
    )
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            parquet.write_table(table, file)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o644)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
