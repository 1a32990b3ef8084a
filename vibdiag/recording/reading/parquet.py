"""Parquet, through polars (optional)."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.table import Column, Table, check_size, foreign_reader, need, plausible

__all__ = ["read_parquet"]

_INSTEAD = "export the table as CSV"


def read_parquet(path: Path, label: str) -> list[Table]:
    """All columns of numbers, times and text. Raises InputError when polars is missing or the file is damaged."""
    polars = need("polars", package="polars", form="Parquet", instead=_INSTEAD, file=label, extra="fast")
    columns: list[Column] = []
    with foreign_reader("Parquet", _INSTEAD, label):
        lazy = polars.scan_parquet(path)
        schema = lazy.collect_schema()
        names = [
            name for name, kind in schema.items() if kind.is_numeric() or kind.is_temporal() or kind == polars.String
        ]
        check_size(int(lazy.select(polars.len()).collect().item()), len(names), label)
        for name in names:
            kind = schema[name]
            if kind == polars.Datetime:
                frame = lazy.select(polars.col(name).dt.epoch("ns").cast(polars.Float64) / 1e9).collect()
                columns.append(Column(name, frame[name].to_numpy().astype(np.float64), "s"))
            elif kind == polars.Duration:
                frame = lazy.select(polars.col(name).dt.total_nanoseconds().cast(polars.Float64) / 1e9).collect()
                columns.append(Column(name, frame[name].to_numpy().astype(np.float64), "s"))
            elif kind.is_numeric():
                frame = lazy.select(polars.col(name).cast(polars.Float64)).collect()
                columns.append(Column(name, plausible(frame[name].to_numpy())))
            else:
                frame = lazy.select(polars.col(name).cast(polars.String).fill_null("").str.slice(0, 40)).collect()
                columns.append(Column(name, np.array([text.encode()[:40] for text in frame[name]] or [], dtype="S40")))
    if not columns or columns[0].values.size == 0:
        raise InputError("holds no rows of numbers; was the recording stopped before it was saved?", file=label)
    return [Table(label, "Parquet", tuple(columns))]
