"""ASAM MDF (MF4 and older), through asammdf (optional): each channel group is a table with a clock of its own."""

from __future__ import annotations

import gc
import logging
import sys
import warnings
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.names import guess_by_name
from vibdiag.recording.reading.table import Column, Table, check_size, foreign_reader, need, plausible

__all__ = ["read_mf4"]

_INSTEAD = "export the signals as CSV"
_ALL_UP_TO = 12  # in a small group a channel without a telling name may still be one that a person names


def read_mf4(path: Path, label: str) -> list[Table]:
    """The groups with numbers over time. Of large groups only channels whose name or unit tells what they are.

    Raises InputError when asammdf is missing, the file is damaged, or no group holds numbers over time.
    """
    asammdf = need("asammdf", package="asammdf", form="MF4 (MDF)", instead=_INSTEAD, file=label, extra="mf4")
    tables: list[Table] = []
    with foreign_reader("MF4", _INSTEAD, label), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        logging.getLogger("asammdf").setLevel(logging.CRITICAL)
        with _opened(asammdf, path, label) as file:
            start = getattr(file.header, "start_time", None)
            start_epoch_s = float(start.timestamp()) if start is not None and start.year > 1990 else None
            for number, group in enumerate(file.groups):
                table = _group(file, number, group, label, start_epoch_s)
                if table is not None:
                    tables.append(table)
    if not tables:
        raise InputError(
            f"holds no signals over time; if it is a raw bus log, decode it to signals first, or {_INSTEAD}.",
            file=label,
        )
    if len(tables) == 1:
        only = tables[0]
        tables = [Table(label, only.form, only.columns, start_epoch_s=only.start_epoch_s)]
    return tables


def _opened(asammdf: ModuleType, path: Path, label: str) -> Any:
    """An open file. A half-opened one complains once more when it is dropped: let it, here, and unheard."""
    said = ""
    hook, sys.unraisablehook = sys.unraisablehook, lambda _: None
    try:
        try:
            return asammdf.MDF(str(path))
        except Exception as error:  # noqa: BLE001  anything may come of broken bytes; told below
            said = " ".join(str(error).split())[:120]
        gc.collect()
    finally:
        sys.unraisablehook = hook
    raise InputError(f"cannot be read as MF4 ({said}); {_INSTEAD}.", file=label)


def _group(file: Any, number: int, group: Any, label: str, start_epoch_s: float | None) -> Table | None:
    rows = int(group.channel_group.cycles_nr)
    small = len(group.channels) <= _ALL_UP_TO
    columns: list[Column] = []
    time_s = None
    for index, channel in enumerate(group.channels):
        if file.masters_db.get(number) == index:
            continue
        unit = str(getattr(channel, "unit", "") or "")
        guess = guess_by_name(channel.name, unit)
        if not small and (guess.role is None or guess.role.kind == "ignore"):
            continue
        check_size(rows, len(columns) + 2, label)
        signal = file.get(group=number, index=index)
        samples = np.asarray(signal.samples)
        if samples.ndim != 1 or samples.dtype.kind not in "fiu" or samples.size == 0:
            continue
        stamps = plausible(np.asarray(signal.timestamps, dtype=np.float64))
        if time_s is None:
            time_s = stamps
        if samples.size == time_s.size:
            columns.append(Column(channel.name, plausible(samples.astype(np.float64)), str(signal.unit or unit)))
    if time_s is None or not columns:
        return None
    name = f"{label} (group {number + 1})"
    return Table(name, "MF4", (Column("time", time_s, "s"), *columns), start_epoch_s=start_epoch_s)
