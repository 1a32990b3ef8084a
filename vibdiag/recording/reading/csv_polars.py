"""A large, clean text table through polars (optional): the fastest way, and strict, so that nothing is passed over."""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np

from vibdiag.recording.reading.dialect import Dialect
from vibdiag.recording.reading.table import MAX_VALUES, TEXT_WIDTH, Text, check_size, plausible
from vibdiag.recording.signal import FloatArray

__all__ = ["WORTH_POLARS_BYTES", "read_with_polars", "worth_polars"]

WORTH_POLARS_BYTES: Final = 4 << 20  # below, its import alone takes longer
_MOST_BYTES: Final = MAX_VALUES * 20
_MOST_TEXT_BYTES: Final = 100 << 20  # polars keeps whole columns of text: 700 MB for an hour of dates at 1 kHz


def worth_polars(size_bytes: int, *, with_text: bool) -> bool:
    """Whether polars is there and gains time without taking too much memory."""
    most = _MOST_TEXT_BYTES if with_text else _MOST_BYTES
    return WORTH_POLARS_BYTES <= size_bytes <= most and importlib.util.find_spec("polars") is not None


def read_with_polars(
    path: Path, label: str, dialect: Dialect, wanted: Mapping[int, str]
) -> dict[int, FloatArray | Text] | None:
    """The whole file through polars, strictly; None when the file is not clean enough for it."""
    if dialect.encoding not in ("utf-8", "utf-8-sig") or dialect.delimiter == " " or dialect.quoted:
        return None
    polars = importlib.import_module("polars")
    schema = {
        f"column_{i + 1}": polars.Float64 if wanted.get(i) == "number" else polars.String for i in range(dialect.width)
    }
    try:
        frame = polars.read_csv(
            path,
            has_header=False,
            skip_lines=dialect.first_line - 1,
            separator=dialect.delimiter,
            quote_char=None,
            decimal_comma=dialect.decimal == ",",
            schema=schema,
            columns=[f"column_{i + 1}" for i in sorted({*wanted, dialect.width - 1})],
            null_values=["nan", "NaN", "NA", "null"],
            low_memory=True,
        )
    except (polars.exceptions.PolarsError, polars.exceptions.PanicException):
        return None  # whatever it objects to, the patient way says it by line
    check_size(frame.height, frame.width, label)
    # A line that breaks off is filled up silently; it always lacks the last column.
    if frame[f"column_{dialect.width}"].null_count():
        return None
    out: dict[int, FloatArray | Text] = {}
    for index, kind in wanted.items():
        series = frame.drop_in_place(f"column_{index + 1}")
        if kind == "number":
            out[index] = plausible(series.to_numpy())  # nulls come as not-a-number
        else:
            filled = series.fill_null("")
            steps = range(0, filled.len(), 1 << 16)
            parts = [
                np.array([c.encode()[:TEXT_WIDTH] for c in filled.slice(i, 1 << 16)], dtype=f"S{TEXT_WIDTH}")
                for i in steps
            ]
            out[index] = np.concatenate(parts) if parts else np.empty(0, dtype="S1")
    return out
