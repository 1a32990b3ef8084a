"""The one door: files in, a recording out, with what was taken for what and what is wrong with it."""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.progress import Tell, part, untold
from vibdiag.recording.reading.choice import Choice, UnsettledError
from vibdiag.recording.reading.columns import choose_columns
from vibdiag.recording.reading.csv_text import Wanted, read_columns
from vibdiag.recording.reading.dialect import Dialect, sniff_dialect
from vibdiag.recording.reading.faults import faults_by_kind
from vibdiag.recording.reading.layout import FileLayout, Layout
from vibdiag.recording.reading.long_form import refuse_long_form
from vibdiag.recording.reading.roles import check_said, match_said
from vibdiag.recording.reading.several import join_streams
from vibdiag.recording.reading.sniff import Form, sniff_form
from vibdiag.recording.reading.streams import Stream, to_streams
from vibdiag.recording.reading.table import Column, Table
from vibdiag.recording.reading.time_stamps import is_time_text
from vibdiag.recording.reading.unit_guess import unit_doubt, with_units
from vibdiag.recording.signal import Place, Recording

__all__ = ["Reading", "layout_of", "open_recording"]

_READERS: Final[Mapping[Form, str]] = {form: form for form in ("parquet", "wav", "uff", "mf4", "gpx", "nmea")}
_SAMPLE_ROWS: Final = 1_000


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """recording: in SI units. layout: what each column was taken for.

    faults: (kind, sentence), what is wrong with stamps and readings. left_out: files of which nothing could be read."""

    recording: Recording
    layout: Layout
    faults: tuple[tuple[str, str], ...] = ()
    left_out: tuple[Path, ...] = ()

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

    A file of no use beside others is left out, and a remark says why. Raises InputError, one sentence with file and
    place, whatever the bytes are, where no shake is left, and where a file is not there.
    """
    listed = [paths] if isinstance(paths, str | os.PathLike) else list(paths)
    if not listed:
        raise InputError("No file was named; name at least the recording of the shake.")
    said = dict(columns or {})
    check_said(said)
    return _reading(_read_all(listed, said, tell), said, place or "unknown")


def _reading(read: _Read, said: Mapping[str, str], place: Place) -> Reading:
    shaken = any(stream.channels for stream in read.streams)
    unmatched = [key for key in said if key not in read.used]
    if read.refused and (not shaken or unmatched):
        raise next(iter(read.refused.values()))
    for key in unmatched:
        seen = dict.fromkeys(choice.name for file in read.layouts for choice in file.columns)
        raise InputError(f"no column is called so; there are {', '.join(list(seen)[:20])}.", field=key)
    recording = join_streams(read.streams, place)
    layout = Layout(tuple(file for file in read.layouts if file not in read.unread))
    left_out = [f"{problem} Left out; the other files were read." for problem in read.refused.values()]
    remarks = [*left_out, *read.remarks, *layout.doubts(), *recording.notes]
    faults = faults_by_kind(recording)
    doubts = [text for file in layout.files if (text := unit_doubt(file.columns))]
    doubts += [sentence for kind, sentence in faults if kind == "gravity" and "neither" in sentence]
    recording = replace(recording, notes=tuple(remarks), unit_doubt=next(iter(doubts), ""))
    return Reading(recording, layout, faults, tuple(read.refused))


def layout_of(
    paths: Sequence[str | os.PathLike[str]], *, columns: Mapping[str, str] | None = None, tell: Tell = untold
) -> tuple[Layout, InputError | None]:
    """What each column is taken for, as far as it is understood, and what keeps a file from being read.

    Raises InputError only where not even the columns of any file are known.
    """
    said = dict(columns or {})
    check_said(said)
    read = _read_all(list(paths), said, tell)
    if read.refused and not read.layouts:
        raise next(iter(read.refused.values()))
    try:
        _reading(read, said, "unknown")
    except InputError as problem:
        return Layout(tuple(read.layouts)), problem
    return Layout(tuple(read.layouts)), next(iter(read.refused.values()), None)


@dataclass(slots=True)
class _Read:
    """What came out of the files. used: keys of what was said that fitted. refused: files of no use, and why; unread:
    what is known of their columns all the same, which layouts holds, too."""

    streams: list[Stream] = field(default_factory=list)
    layouts: list[FileLayout] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    refused: dict[Path, InputError] = field(default_factory=dict)
    unread: list[FileLayout] = field(default_factory=list)


def _read_all(listed: Sequence[str | os.PathLike[str]], said: Mapping[str, str], tell: Tell) -> _Read:
    """Every file; of one that is refused as much of the layout as is known. Raises InputError when one is not there."""
    read = _Read()
    paths = list(dict.fromkeys(Path(one) for one in listed))
    read.remarks += [f"{path.name}: named more than once; read once." for path in paths if _often(path, listed)]
    files = _labelled(paths)
    for number, (path, label) in enumerate(files):
        known = len(read.layouts)
        try:
            told = part(tell, number / len(files), (number + 1) / len(files))
            _understand(read, _opened(path, label, said, told), said, label)
        except InputError as error:
            if not os.path.exists(path):  # a name no path can have: not there
                raise
            read.refused[path] = error
            if isinstance(error, UnsettledError) and not any(file.label == label for file in read.layouts):
                read.layouts.append(FileLayout(label, "table", error.choices))
            read.unread += read.layouts[known:]
    return read


def _often(path: Path, listed: Sequence[str | os.PathLike[str]]) -> bool:
    return sum(Path(one) == path for one in listed) > 1


def _labelled(paths: list[Path]) -> list[tuple[Path, str]]:
    """Short names, with the folder where two files are called alike."""
    names = [path.name for path in paths]
    return [(path, path.name if names.count(path.name) == 1 else str(path)) for path in paths]


@dataclass(frozen=True, slots=True)
class _Opened:
    """What a file holds. choices: of a text table, made on its first rows, since only what was chosen is read on."""

    tables: list[Table]
    dialect: Dialect | None = None
    choices: tuple[Choice, ...] | None = None


def _opened(path: Path, label: str, said: Mapping[str, str], tell: Tell) -> _Opened:
    form = sniff_form(path, label)
    try:
        if form == "text":
            return _text_table(path, label, said, tell)
        module = importlib.import_module(f"vibdiag.recording.reading.{_READERS[form]}")
        reader: Callable[[Path, str], list[Table]] = getattr(module, f"read_{form}")
        return _Opened(reader(path, label))
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error}); is the drive still there?", file=label
        ) from error


def _understand(read: _Read, opened: _Opened, said: Mapping[str, str], label: str) -> None:
    """Roles, units and SI readings of each table; a file of many clocks may hold some that are of no use.

    Raises InputError when none of the tables is of any; the layout of what was understood is added all the same.
    """
    problems: list[InputError] = []
    found = False
    for table in opened.tables:
        names = [column.name for column in table.columns]
        spoken = match_said(said, names, label)
        read.used |= spoken.used
        known: tuple[Choice, ...] = ()
        try:
            known = opened.choices or choose_columns(table, spoken)
            known = with_units(table, known)
            read.streams += to_streams(table, known, rate_hz=spoken.rate_hz, file=label)
            found = True
            read.remarks += table.remarks
        except InputError as error:
            problems.append(error)
            known = error.choices if isinstance(error, UnsettledError) else known
        timed = any(choice.role.kind == "time" for choice in known)
        rate_hz = None if timed else spoken.rate_hz or table.rate_hz
        read.layouts.append(FileLayout(table.label, table.form, known, opened.dialect, rate_hz))
    if not found:
        raise problems[0]
    read.remarks += [f"{problem} Left out." for problem in problems]


def _text_table(path: Path, label: str, said: Mapping[str, str], tell: Tell) -> _Opened:
    """Sniff, look at the first rows to see which columns matter, then read only those."""
    dialect = sniff_dialect(path, label)
    refuse_long_form(dialect.names, label)
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
    table = _table(label, dialect, {i: read.get(i, blank) for i in range(dialect.width)}, remarks)
    return _Opened([table], dialect, choices)


def _holds_times(cells: list[bytes]) -> bool:
    filled = [cell for cell in cells[:200] if cell not in (b"", b"nan")]
    return sum(is_time_text(cell) or _is_date(cell) for cell in filled) * 2 > len(filled) > 0


def _is_date(cell: bytes) -> bool:
    return len(cell) <= 10 and is_time_text(cell + b" 00:00:00")


def _table(label: str, dialect: Dialect, read: Mapping[int, object], remarks: tuple[str, ...]) -> Table:
    columns = tuple(Column(dialect.names[i], np.asarray(read[i]), dialect.units[i]) for i in range(dialect.width))
    return Table(label, "CSV", columns, first_line=dialect.first_line, remarks=(*dialect.remarks, *remarks))
