"""How a table of text is written: encoding, separator, decimal mark, where the header, units and first row stand.

Every separator and decimal mark is tried on the first quarter megabyte; the one wins under which most lines fall into
the same number of cells that are numbers or times. Lines before the table (a logger's preamble) are passed over.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from vibdiag.files.errors import InputError, Spot
from vibdiag.recording.reading.table import MAX_COLUMNS
from vibdiag.recording.reading.time_stamps import is_time_text
from vibdiag.recording.reading.units import Quantity, known_unit

__all__ = ["Dialect", "cells_of", "is_missing", "is_number", "sniff_dialect"]

SAMPLE_BYTES: Final = 1 << 18
_LINES_LOOKED_AT: Final = 1_000
_SAMPLE_LINES: Final = 300
_SAMPLE_CHARACTERS: Final = 1 << 16
_WAYS: Final = (
    (",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("|", ","), (" ", "."), (" ", ","),
)  # fmt: skip
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$", re.I)
_MISSING: Final = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "inf", "-inf", "+inf"})
_QUANTITIES: Final[tuple[Quantity, ...]] = ("time", "acceleration", "rotation", "speed", "engine")


@dataclass(frozen=True, slots=True)
class Dialect:
    """encoding: a Python codec. delimiter: one character, " " for runs of blanks. decimal: "." or ",".

    header_line, units_line: counted from 1, None where there is none. first_line: the line of the first row.
    names, units: one a column, "" where not given. quoted: cells stand in double quotes. remarks: what was odd.
    """

    encoding: str
    delimiter: str
    decimal: str
    quoted: bool
    names: tuple[str, ...]
    units: tuple[str, ...]
    header_line: int | None
    units_line: int | None
    first_line: int
    remarks: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        return len(self.names)

    def said(self) -> str:
        """One line for a person."""
        mark = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", " ": "blanks"}[self.delimiter]
        decimal = "decimal comma" if self.decimal == "," else "decimal point"
        header = "no header" if self.header_line is None else f"header on line {self.header_line}"
        return f"columns parted by {mark}, {decimal}, {header}, first row on line {self.first_line}"


def is_number(cell: str, decimal: str) -> bool:
    """Whether a cell is a plain number with this decimal mark."""
    return len(cell) <= 40 and _NUMBER.match(cell.replace(",", ".") if decimal == "," else cell) is not None


def is_missing(cell: str) -> bool:
    """Whether a cell says, in one of the usual ways, that there is no value."""
    return cell.casefold() in _MISSING


def cells_of(line: str, delimiter: str, *, quoted: bool) -> list[str]:
    """The cells of one line, stripped."""
    if quoted:
        try:
            found = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:
            found = line.split(delimiter)
    else:
        found = line.split(None if delimiter == " " else delimiter)
    return [cell.strip() for cell in found]


def _encoding(head: bytes) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _rank(lines: list[str], delimiter: str, decimal: str, *, quoted: bool) -> tuple[float, int]:
    """How well the lines fall into cells of this kind, and into how many."""
    widths: Counter[int] = Counter()
    good: Counter[int] = Counter()
    for line in lines:
        cells = cells_of(line, delimiter, quoted=quoted)
        fitting = sum(is_number(cell, decimal) or is_missing(cell) or is_time_text(cell.encode()) for cell in cells)
        if _is_row(cells, decimal):
            widths[len(cells)] += 1
            good[len(cells)] += fitting
    if not widths:
        return 0.0, 0
    width, count = max(widths.items(), key=lambda item: (item[1] * (item[0] > 1), item[0]))
    share = good[width] / (count * width)
    return (count * share if width > 1 else count * share * 0.01), width


def _is_row(cells: list[str], decimal: str) -> bool:
    numbers = sum(is_number(cell, decimal) for cell in cells)
    fitting = numbers + sum(is_missing(cell) or is_time_text(cell.encode()) for cell in cells)
    return numbers >= 1 and 2 * fitting > len(cells)


def _is_unit_cell(cell: str) -> bool:
    bare = cell.strip("[](){} ")
    return not bare or bare == "-" or any(known_unit(bare, quantity) for quantity in _QUANTITIES)


def sniff_dialect(path: Path, label: str) -> Dialect:
    """Find out how the text in a file is written.

    Raises InputError when no line holds numbers, or separator and decimal comma cannot be told apart.
    """
    with path.open("rb") as file:
        head = file.read(SAMPLE_BYTES)
        whole = not file.read(1)
    encoding = _encoding(head)
    text = head.decode(encoding, errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    if not whole and len(lines) > 1:
        lines.pop()  # it may be cut off
    lines = lines[:_LINES_LOOKED_AT]
    sample = _last_lines(lines)
    quoted = any('"' in line for line in sample[1:])
    ways = (*_WAYS, (",", ",")) if quoted else _WAYS  # quotes tell a decimal comma from a separator
    ranks = [(_rank(sample, *way, quoted=quoted), way) for way in ways]
    (score, width), (delimiter, decimal) = max(ranks, key=lambda rank: rank[0][0])
    if score <= 0.0:
        if not sample and any(line.strip() for line in lines):
            raise InputError(
                f"has a line longer than {_SAMPLE_CHARACTERS} characters, so it is no table of at most {MAX_COLUMNS} "
                "columns; write one row a sample and fewer channels.",
                file=label,
            )
        raise InputError(
            "holds no line with a number in it; write a table with one row a sample: the time, then the readings.",
            file=label,
        )
    if width > MAX_COLUMNS:
        raise InputError(f"has {width} columns, more than {MAX_COLUMNS}; write fewer channels.", file=label)
    rows = [cells_of(line, delimiter, quoted=quoted) for line in lines]
    first = next(i for i, row in enumerate(rows) if len(row) == width and _is_row(row, decimal))
    return _with_header(first, width, Dialect(
        encoding, delimiter, decimal, quoted, ("",) * width, ("",) * width, None, None, first + 1
    ), lines, label)  # fmt: skip


def _last_lines(lines: list[str]) -> list[str]:
    """The last lines that are not blank, where rows are likelier than a preamble; few enough to try every way."""
    sample: list[str] = []
    room = _SAMPLE_CHARACTERS
    for line in reversed(lines):
        if line.strip() and len(line) <= room:
            sample.append(line)
            room -= len(line)
        if len(sample) == _SAMPLE_LINES:
            break
    return sample[::-1]


def _with_header(first: int, width: int, bare: Dialect, lines: list[str], label: str) -> Dialect:
    """Find names and units in the lines above the first row."""
    above = [i for i in range(first) if lines[i].strip()]
    while len(above) > 1 and _is_row(cells_of(lines[above[-1]], bare.delimiter, quoted=bare.quoted), bare.decimal):
        above.pop()  # a row that is wider or narrower than most: the header stands above it
    units_line = header_line = None
    units: tuple[str, ...] = bare.units
    names: tuple[str, ...] = bare.names
    remarks: tuple[str, ...] = ()

    def split(i: int) -> list[str]:
        line = lines[i].strip("\ufeff").lstrip()
        line = line.lstrip("#%").strip(" ") if line.startswith(("#", "%")) else lines[i].strip("\ufeff")
        cells = cells_of(line, bare.delimiter, quoted='"' in line and bare.delimiter != " ")
        return cells[:width] if len(cells) > width and not any(cells[width:]) else cells

    if len(above) >= 2 and len(split(above[-1])) == width and all(_is_unit_cell(c) for c in split(above[-1])):
        units_line = above.pop()
        units = tuple(cell.strip("[](){} ") for cell in split(units_line))
    if above:
        cells = split(above[-1])
        if len(cells) == width:
            header_line = above[-1]
            names = tuple(cell[:200] for cell in cells)
        elif bare.delimiter == "," and width in (2 * len(cells), 2 * len(cells) - 1) and len(cells) > 1:
            raise InputError(
                f"has {len(cells)} names but {width} cells in a row, so the comma is both separator and decimal mark; "
                "export with semicolons or tabs, or with a decimal point.",
                file=label,
                spot=Spot(first + 1, 1),
            )
        elif len(cells) > 1:
            remarks = (
                f"{label}:{above[-1] + 1}: {len(cells)} names stand over {width} columns, so the names were not used.",
            )
    return Dialect(
        bare.encoding, bare.delimiter, bare.decimal, bare.quoted, names, units,
        None if header_line is None else header_line + 1,
        None if units_line is None else units_line + 1,
        first + 1, remarks,
    )  # fmt: skip
