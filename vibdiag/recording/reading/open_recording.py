"""The one door: files in, a recording out, with what was taken for what and what is wrong with it."""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.progress import Tell, part, untold
from vibdiag.recording.reading.columns import choose_columns
from vibdiag.recording.reading.csv_text import Wanted, read_columns
from vibdiag.recording.reading.dialect import Dialect, sniff_dialect
from vibdiag.recording.reading.faults import faults_by_kind
from vibdiag.recording.reading.layout import FileLayout, Layout
from vibdiag.recording.reading.roles import check_said, match_said
from vibdiag.recording.reading.several import join_streams
from vibdiag.recording.reading.sniff import Form, sniff_form
from vibdiag.recording.reading.streams import Stream, to_streams
from vibdiag.recording.reading.table import Column, Table
from vibdiag.recording.reading.time_stamps import is_time_text
from vibdiag.recording.reading.unit_guess import with_units
from vibdiag.recording.signal import Place, Recording

__all__ = ["Reading", "open_recording"]

_READERS: Final[Mapping[Form, str]] = {form: form for form in ("parquet", "wav", "uff", "mf4", "gpx", "nmea")}
_SAMPLE_ROWS: Final = 1_000


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """recording: in SI units. layout: what each column was taken for.

    faults: (kind, sentence), what is wrong with stamps and readings."""

    recording: Recording
    layout: Layout
    faults: tuple[tuple[str, str], ...] = ()

    @property
    def remarks(self) -> tuple[str, ...]:
        """One line each: what was guessed or left out (the recording's own notes), then what is wrong with it."""
        return (*self.recording.notes, *(sentence for _, sentence in self.faults))


def open_recording(
    paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]],
    *,
    columns: Mapping[str, str] | None = None,
    place: Place | None = None,
    tell: Tell = untold,
) -> Reading:
    """Read a road test from one file, or from several with clocks of their own.

    columns: corrections, column -> role, such as {"CH3": "accel-z:g", "v": "speed:mph", "T": "time:ms"}; a column is
    named by its header or its number from 1, and "imu.csv:3" speaks of one file only; {"accel": "g"} gives the unit of
    all acceleration, {"rate": "100"} the sample rate (Hz) of a file without stamps. place: where the sensor sat.
    tell: is told the share that was read.

    Raises InputError, one sentence with file and place, whatever the bytes are.
    """
    listed = [paths] if isinstance(paths, str | os.PathLike) else list(paths)
    if not listed:
        raise InputError("No file was named; name at least the recording of the shake.")
    said = dict(columns or {})
    check_said(said)
    files = _labelled([Path(one) for one in listed])
    streams: list[Stream] = []
    layouts: list[FileLayout] = []
    remarks: list[str] = []
    used: set[str] = set()
    seen: list[str] = []
    for number, (path, label) in enumerate(files):
        tables, dialect = _tables(path, label, said, part(tell, number / len(files), (number + 1) / len(files)))
        taken, fitted, told = _understood(tables, said, dialect, label)
        used |= fitted
        remarks += told
        for layout, found in taken:
            layouts.append(layout)
            streams += found
            seen += [choice.name for choice in layout.columns]
    for key in said:
        if key not in used:
            shown = ", ".join(dict.fromkeys(seen[:20]))
            raise InputError(f"no column is called so; there are {shown}.", field=key)
    recording = join_streams(streams, place or "unknown")
    layout_of_all = Layout(tuple(layouts))
    remarks += [*layout_of_all.doubts(), *recording.notes]
    recording = replace(recording, notes=tuple(remarks))
    return Reading(recording, layout_of_all, faults_by_kind(recording))


def _labelled(paths: list[Path]) -> list[tuple[Path, str]]:
    """Short names, with the folder where two files are called alike."""
    names = [path.name for path in paths]
    return [(path, path.name if names.count(path.name) == 1 else str(path)) for path in paths]


def _tables(path: Path, label: str, said: Mapping[str, str], tell: Tell) -> tuple[list[Table], Dialect | None]:
    form = sniff_form(path, label)
    try:
        if form == "text":
            table, dialect = _text_table(path, label, said, tell)
            return [table], dialect
        module = importlib.import_module(f"vibdiag.recording.reading.{_READERS[form]}")
        reader: Callable[[Path, str], list[Table]] = getattr(module, f"read_{form}")
        return reader(path, label), None
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error}); is the drive still there?", file=label
        ) from error


def _understood(
    tables: list[Table], said: Mapping[str, str], dialect: Dialect | None, label: str
) -> tuple[list[tuple[FileLayout, list[Stream]]], set[str], list[str]]:
    """Roles, units and SI readings of each table; a file of many clocks may hold some that are of no use."""
    taken: list[tuple[FileLayout, list[Stream]]] = []
    used: set[str] = set()
    remarks: list[str] = []
    problems: list[InputError] = []
    for table in tables:
        names = [column.name for column in table.columns]
        spoken = match_said(said, names, label)
        used |= spoken.used
        try:
            choices = with_units(table, choose_columns(table, spoken))
            streams = to_streams(table, choices, rate_hz=spoken.rate_hz, file=label)
        except InputError as error:
            problems.append(error)
            continue
        timed = any(choice.role.kind == "time" for choice in choices)
        layout = FileLayout(
            table.label, table.form, choices, dialect, None if timed else spoken.rate_hz or table.rate_hz
        )
        taken.append((layout, streams))
        remarks += table.remarks
    if not taken:
        raise problems[0]
    return taken, used, remarks + [f"{problem} Left out." for problem in problems]


def _text_table(path: Path, label: str, said: Mapping[str, str], tell: Tell) -> tuple[Table, Dialect]:
    """Sniff, look at the first rows to see which columns matter, then read only those."""
    dialect = sniff_dialect(path, label)
    as_text: dict[int, Wanted] = dict.fromkeys(range(dialect.width), "text")
    sample, _ = read_columns(path, label, dialect, as_text, rows=_SAMPLE_ROWS)
    texts = {i for i, cells in sample.items() if _holds_times(cells.tolist())}
    kinds: dict[int, Wanted] = {i: "text" if i in texts else "number" for i in range(dialect.width)}
    first, _ = read_columns(path, label, dialect, kinds, rows=_SAMPLE_ROWS)
    choices = choose_columns(_table(label, dialect, first, ()), match_said(said, dialect.names, label))
    wanted: dict[int, Wanted] = {c.index: kinds[c.index] for c in choices if c.role.kind != "ignore"}
    read, remarks = read_columns(path, label, dialect, wanted, tell=tell)
    rows = len(next(iter(read.values())))
    if rows == 0:
        raise InputError("holds no whole row of numbers; write one row a sample.", file=label)
    blank = np.full(rows, np.nan) if len(read) < dialect.width else np.empty(0)
    return _table(label, dialect, {i: read.get(i, blank) for i in range(dialect.width)}, remarks), dialect


def _holds_times(cells: list[bytes]) -> bool:
    filled = [cell for cell in cells[:200] if cell not in (b"", b"nan")]
    return sum(is_time_text(cell) or _is_date(cell) for cell in filled) * 2 > len(filled) > 0


def _is_date(cell: bytes) -> bool:
    return len(cell) <= 10 and is_time_text(cell + b" 00:00:00")


def _table(label: str, dialect: Dialect, read: Mapping[int, object], remarks: tuple[str, ...]) -> Table:
    columns = tuple(Column(dialect.names[i], np.asarray(read[i]), dialect.units[i]) for i in range(dialect.width))
    return Table(label, "CSV", columns, first_line=dialect.first_line, remarks=(*dialect.remarks, *remarks))
