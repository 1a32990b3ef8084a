"""Rows of a text table to columns, fast where the file is clean and line by line where it is not.

Three ways, the same result. polars (if installed, and the file is large and clean) is the fastest; numpy's `loadtxt`
takes blocks of clean lines; a block with a damaged line is read cell by cell, so that the damage is told by its line.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from io import TextIOWrapper
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np

from vibdiag.files.errors import InputError, Spot
from vibdiag.recording.progress import Tell, untold
from vibdiag.recording.reading.csv_polars import read_with_polars, worth_polars
from vibdiag.recording.reading.dialect import Dialect, cells_of, is_missing, is_number
from vibdiag.recording.reading.table import TEXT_WIDTH, Text, check_size, plausible
from vibdiag.recording.signal import FloatArray

__all__ = ["Wanted", "read_columns"]

Wanted = Literal["number", "text"]

_BLOCK_BYTES: Final = 1 << 21
_NO_TEXT: Final[Text] = np.empty(0, dtype="S1")
_SAMPLE_BYTES: Final = 1 << 16
_LONGEST_LINE_BYTES: Final = 1 << 20
_SMALL_LINES: Final = 200


@dataclass(slots=True)
class _Damage:
    """What was wrong: where first, and how often."""

    broken_at: int = 0
    broken: int = 0
    bad_cells: dict[int, tuple[int, int]] = field(default_factory=dict)

    def add_line(self, line: int) -> None:
        self.broken_at = self.broken_at or line
        self.broken += 1

    def add_cell(self, column: int, line: int) -> None:
        first, count = self.bad_cells.get(column, (line, 0))
        self.bad_cells[column] = (first, count + 1)

    def said(self, label: str, dialect: Dialect) -> tuple[str, ...]:
        told = []
        if self.broken:
            told.append(
                f"{label}:{self.broken_at}: {_count(self.broken, 'line')} left out, being no row of "
                f"{dialect.width} cells with numbers."
            )
        for column, (first, count) in sorted(self.bad_cells.items()):
            name = dialect.names[column] or f"column {column + 1}"
            told.append(f"{label}:{first}: {name} holds no number in {_count(count, 'line')}.")
        return tuple(told)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def read_columns(
    path: Path,
    label: str,
    dialect: Dialect,
    wanted: Mapping[int, Wanted],
    *,
    rows: int | None = None,
    tell: Tell = untold,
) -> tuple[dict[int, FloatArray | Text], tuple[str, ...]]:
    """Read the wanted columns (index -> kind); not-a-number or b"" where a cell is empty or no number.

    rows: stop after about so many. tell: is told the share of the file that was read. Returns the columns, each (N,),
    and one line on each kind of damage. Raises InputError when the file is larger than is read here, or a line never
    ends.
    """
    if rows is None and worth_polars(path.stat().st_size, with_text="text" in wanted.values()):
        found = read_with_polars(path, label, dialect, wanted)
        if found is not None:
            return found, ()
    damage = _Damage()
    blocks: dict[int, list[FloatArray | Text]] = {index: [] for index in wanted}
    taken = 0
    for first_line, text in _blocks(path, label, dialect, _BLOCK_BYTES if rows is None else _SAMPLE_BYTES, tell):
        for block in _parsed(text, first_line, dialect, wanted, damage):
            taken += len(next(iter(block.values()), ()))
            for index, values in block.items():
                blocks[index].append(values)
        check_size(taken, len(wanted), label)
        if rows is not None and taken >= rows:
            break
    columns: dict[int, FloatArray | Text] = {}
    for index, kind in wanted.items():
        parts = blocks.pop(index)
        if kind == "number":
            columns[index] = np.concatenate([np.asarray(part, dtype=np.float64) for part in parts] or [np.empty(0)])
        else:
            columns[index] = np.concatenate([np.asarray(part, dtype=np.bytes_) for part in parts] or [_NO_TEXT])
    return columns, damage.said(label, dialect)


def _blocks(path: Path, label: str, dialect: Dialect, size: int, tell: Tell) -> Iterator[tuple[int, str]]:
    """(line number, text of whole lines ending in \\n), from the first row on."""
    line, skip = 1, dialect.first_line - 1
    rest = ""
    whole = max(path.stat().st_size, 1)
    with path.open("rb") as raw, TextIOWrapper(raw, encoding=dialect.encoding, errors="replace") as file:
        while True:
            read = file.read(size)
            tell(min(raw.tell() / whole, 1.0))
            text = rest + read
            cut = text.rfind("\n") + 1 if read else len(text)
            text, rest = text[:cut], text[cut:]
            if len(rest) > _LONGEST_LINE_BYTES:
                raise InputError(
                    f"has a line longer than {_LONGEST_LINE_BYTES} characters, so it is no table; "
                    "write one row a sample.",
                    file=label,
                    spot=Spot(line + text.count("\n"), 1),
                )
            lines = text.count("\n")
            if skip:
                here = min(skip, lines)
                kept = text.split("\n", here)[-1]
                skip -= here
                line, text, lines = line + here, kept if not skip else "", lines - here
            if text.strip():
                yield line, text
            line += lines
            if not read:
                return


def _parsed(
    text: str, first_line: int, dialect: Dialect, wanted: Mapping[int, Wanted], damage: _Damage
) -> Iterator[dict[int, FloatArray | Text]]:
    """Fast where it can be; a block with damage is halved, so that only the lines around it are read one by one."""
    block = _fast(text, dialect, wanted)
    if block is not None:
        yield block
        return
    lines = text.split("\n")
    if len(lines) <= _SMALL_LINES:
        yield _slow(text, first_line, dialect, wanted, damage)
        return
    half = len(lines) // 2
    yield from _parsed("\n".join(lines[:half]), first_line, dialect, wanted, damage)
    yield from _parsed("\n".join(lines[half:]), first_line + half, dialect, wanted, damage)


def _fast(text: str, dialect: Dialect, wanted: Mapping[int, Wanted]) -> dict[int, FloatArray | Text] | None:
    """A block in which every line is sound, through numpy; None when it is not."""
    mark = dialect.delimiter
    if not wanted or not text.strip() or (dialect.quoted and dialect.decimal == mark):
        return None
    if dialect.quoted:
        text = text.replace('"', "")  # a separator within quotes then makes one cell too many, which is seen below
    if dialect.decimal == ",":
        text = text.replace(",", ".")
    if mark != " ":
        for empty, filled in (
            (mark * 2, f"{mark}nan{mark}"),
            (f"{mark}\n", f"{mark}nan\n"),
            (f"\n{mark}", f"\nnan{mark}"),
        ):
            if empty in text:
                text = text.replace(empty, filled).replace(empty, filled)
    all_numbers = len(wanted) == dialect.width and "text" not in wanted.values()
    kinds = {"number": "f8", "text": f"S{TEXT_WIDTH}"}
    form: Any = np.float64
    if not all_numbers:
        form = [(f"c{i}", kinds[wanted[i]] if i in wanted else "S1") for i in range(dialect.width)]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            table = np.loadtxt(
                text.split("\n"),
                dtype=form,
                delimiter=None if mark == " " else mark,
                comments=None,
                ndmin=2 if all_numbers else 1,
            )
    except (ValueError, UserWarning, UnicodeError):
        return None
    if all_numbers and table.shape[1] != dialect.width:
        return None
    columns = {i: np.ascontiguousarray(table[:, i] if all_numbers else table[f"c{i}"]) for i in wanted}
    for index, kind in wanted.items():
        if kind == "number":
            columns[index] = plausible(columns[index])
    return columns


def _slow(
    text: str, first_line: int, dialect: Dialect, wanted: Mapping[int, Wanted], damage: _Damage
) -> dict[int, FloatArray | Text]:
    """A block line by line, noting every damaged one."""
    found: dict[int, list[Any]] = {index: [] for index in wanted}
    for number, line in enumerate(text.split("\n"), first_line):
        if not line.strip():
            continue
        cells = cells_of(line, dialect.delimiter, quoted=dialect.quoted)
        if len(cells) > dialect.width and not any(cells[dialect.width :]):
            cells = cells[: dialect.width]
        if len(cells) != dialect.width or not any(is_number(c, dialect.decimal) or is_missing(c) for c in cells):
            damage.add_line(number)
            continue
        for index, kind in wanted.items():
            cell = cells[index]
            if kind == "text":
                found[index].append(cell.encode("utf-8", "replace")[:TEXT_WIDTH])
            elif is_number(cell, dialect.decimal):
                found[index].append(float(cell.replace(",", ".")))
            else:
                found[index].append(np.nan)
                if not is_missing(cell):
                    damage.add_cell(index, number)
    kinds = {"number": "f8", "text": f"S{TEXT_WIDTH}"}
    out: dict[int, FloatArray | Text] = {}
    for index, kind in wanted.items():
        values = np.array(found[index], dtype=kinds[kind])
        out[index] = plausible(values) if kind == "number" else values
    return out
