"""What is typed or lies in a file, as readings: numbers, rounds, weights at angles. One sentence for what cannot be."""

from __future__ import annotations

import csv as csv_format
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError

from vibdiag.advice.measured import sets_in_force
from vibdiag.case.model import Case, ReadingSet
from vibdiag.case.storage import load_case
from vibdiag.case.vocabulary import ReadOn, Wheel
from vibdiag.commands.output import input_errors
from vibdiag.files.errors import InputError
from vibdiag.rotation import Interval, Polar, TyreMarkingError, parse_tyre, rolling_circumference

__all__ = [
    "Row",
    "case_of",
    "circumference_of",
    "column",
    "given",
    "measuring",
    "named",
    "needed",
    "number",
    "numbers",
    "plain",
    "polar",
    "round_of",
    "rounds_in",
    "rows_of",
    "table",
    "wheel_of",
    "word",
]

_MISSING = ("x", "-", "?", "null", "")
_LARGEST_FILE = 1_000_000


@contextmanager
def measuring() -> Iterator[None]:
    """Turn what the arithmetic refuses into its sentence and the exit code for wrong input."""
    with input_errors():
        try:
            yield
        except InputError:
            raise
        except ValueError as error:
            raise InputError(str(error)) from error


def number(text: str, option: str) -> float:
    """A number, with a decimal point or comma.

    >>> number("0,25", "--limit")
    0.25
    """
    try:
        value = float(text.strip().replace(",", ".", 1))
    except ValueError as error:
        raise InputError(f"'{text.strip()}' is no number", field=option) from error
    if value != value or value in (float("inf"), float("-inf")):
        raise InputError(f"'{text.strip()}' is no number that can be measured", field=option)
    return value


def numbers(text: str, option: str) -> list[float | None]:
    """Numbers parted by spaces or semicolons (or commas, when they have points); x where a reading is missing.

    >>> numbers("0,1 x -0,2", "--values"), numbers("0.1, 0.2", "--values"), numbers("1;2,5", "--values")
    ([0.1, None, -0.2], [0.1, 0.2], [1.0, 2.5])
    """
    line = text.strip(" ,")
    if ";" in line:
        parts = line.split(";")
    elif re.search(r"\s", line):
        parts = re.split(r"\s*,\s+|\s+,\s*|\s+", line)
    elif "." in line or line.count(",") > 1:
        parts = line.split(",")
    else:
        parts = [line]
    return [None if part.strip() in _MISSING else number(part, option) for part in parts]


def plain(text: str, option: str, *, count: int | None = None) -> list[float]:
    """As `numbers`, with none missing and `count` of them."""
    found = [each for each in numbers(text, option) if each is not None]
    if len(found) != len(numbers(text, option)) or (count is not None and len(found) != count):
        wanted = "numbers" if count is None else f"{count} numbers"
        raise InputError(f"'{text}' is not {wanted}", field=option)
    return found


def polar(text: str, option: str) -> Polar:
    """AMOUNT@ANGLE, e.g. 30@120; an amount of 0 needs no angle."""
    amount, _, angle = text.partition("@")
    value = number(amount, option)
    if value < 0.0:
        raise InputError(f"'{text}' has an amount below zero; turn its angle by 180 degrees instead", field=option)
    if value > 0.0 and not angle.strip():
        raise InputError(f"'{text}' has no angle; write AMOUNT@ANGLE, e.g. 30@120", field=option)
    return Polar(value, number(angle or "0", option))


def named(text: str, option: str, example: str) -> tuple[str, str]:
    """NAME=REST, both stripped."""
    name, equals, rest = text.partition("=")
    if not equals or not rest.strip():
        raise InputError(f"'{text}' is not understood; write {example}", field=option)
    return name.strip(), rest.strip()


def word(value: str, allowed: Sequence[str], option: str) -> str:
    """`value` if it is one of the words allowed."""
    if value not in allowed:
        raise InputError(f"'{value}' is not known; write one of {', '.join(allowed)}", field=option)
    return value


def needed(value: float | None, option: str, why: str) -> float:
    """A number that this question cannot do without."""
    if value is None:
        raise InputError(f"{option} is needed: {why}")
    return value


def _text_and_mark(path: Path) -> tuple[str, str]:
    """The text of a CSV file, and what parts its columns: comma, semicolon or tab."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=path) from error
    if len(content) > _LARGEST_FILE:
        raise InputError("is too long for readings taken by hand (1 MB at most)", file=path)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("is not UTF-8 text; save it as CSV in UTF-8", file=path) from error
    return text, ";" if ";" in text else "\t" if "\t" in text else ","


def rows_of(path: Path) -> list[list[str]]:
    """The rows of a CSV file (comma, semicolon or tab; decimal comma with the last two), without a heading."""
    text, mark = _text_and_mark(path)
    rows = [[part.strip() for part in line.split(mark)] for line in text.splitlines() if line.strip()]
    if rows and any(re.search("[a-zA-Z]{2}", part) and part not in _MISSING for part in rows[0]):
        rows = rows[1:]
    return rows


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table. where: file and line, as errors name it. cells: by column, stripped."""

    where: str
    cells: Mapping[str, str]

    def at(self, column: str) -> str:
        """Where a cell stands, for an error about it."""
        return f"{self.where}: {column}"

    def number(self, column: str) -> float:
        """A number; raises InputError when the cell is empty or is none."""
        if not self.cells[column]:
            raise InputError("is empty; a number is needed", field=self.at(column))
        return number(self.cells[column], self.at(column))

    def polar(self, amount: str, angle: str) -> Polar:
        """An amount (zero or more) and its angle; an amount of 0 needs no angle."""
        value = self.number(amount)
        if value < 0.0:
            raise InputError("is below zero; turn the angle by 180 degrees instead", field=self.at(amount))
        return Polar(value, 0.0 if value == 0.0 and not self.cells[angle] else self.number(angle))


def table(path: Path, columns: Sequence[str], *, optional: Sequence[str] = ()) -> list[Row]:
    """The rows of a CSV file under a header that names `columns` in any order; those of `optional` may be missing.

    Columns are parted by commas, semicolons or tabs; a decimal comma goes with the last two, or in quotes. Empty rows
    are passed over. Raises InputError for a wrong header, a row wider than the header, broken quotes, or no row.
    """
    text, mark = _text_and_mark(path)
    reader = csv_format.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    names: list[str] | None = None
    found: list[Row] = []
    try:
        for raw in reader:
            where, cells = f"{path}:{reader.line_num}", [cell.strip() for cell in raw]
            while cells and not cells[-1]:  # spreadsheets write empty columns after the last
                cells.pop()
            if not cells:
                continue
            if names is None:
                names = [cell.lower() for cell in cells]
                known = set(names) <= {*columns, *optional} and len(set(names)) == len(names)
                if not known or not set(columns) <= set(names):
                    more = f" (and, if noted, {','.join(optional)})" if optional else ""
                    raise InputError(f"the header must be {','.join(columns)}{more}", field=where)
                continue
            if len(cells) > len(names):
                told = f"has {len(cells)} cells under {len(names)} columns"
                raise InputError(f"{told}; decimal commas need semicolons between the columns", field=where)
            cells += [""] * (len(names) - len(cells))
            empty = dict.fromkeys(optional, "")
            found.append(Row(where, empty | dict(zip(names, cells, strict=True))))
    except csv_format.Error as error:
        raise InputError(f"is no CSV: {error}", field=f"{path}:{reader.line_num}") from error
    if not found:
        raise InputError(f"has no rows; write a header {','.join(columns)} and one row or more", file=path)
    return found


def column(path: Path) -> tuple[list[float] | None, list[float | None]]:
    """Angles (None when the file has values alone) and values of a round in a CSV file."""
    rows = rows_of(path)
    width = len(rows[0]) if rows else 0
    if width not in (1, 2) or any(len(row) != width for row in rows):
        raise InputError("needs one column (value) or two (angle, value) in every row", file=path)
    angles: list[float] = []
    values: list[float | None] = []
    for place, row in enumerate(rows, 1):
        where = f"{path}: reading {place}"
        if width == 2:
            angles.append(number(row[0], where))
        values.append(None if row[-1] in _MISSING else number(row[-1], where))
    return (angles if width == 2 else None), values


def round_of(
    *, what: str, values: str | None = None, csv: Path | None = None, option: str = "--values", **more: Any
) -> ReadingSet:
    """One round from the command line, or from a file; checked as the case form checks it."""
    told = {key: value for key, value in more.items() if value is not None}
    if csv is not None:
        told["angles_deg"], told["values"] = column(csv)
    else:
        told["values"] = numbers(values or "", option)
    if what == "radial-force":
        told["unit"] = "N"
    try:
        return ReadingSet.model_validate({"what": what, **told})
    except ValidationError as problem:
        first = problem.errors(include_url=False)[0]
        names = [str(part) for part in first["loc"]]
        message = str(first["msg"]).removeprefix("Value error, ")
        raise InputError(message, field=".".join(names) or (str(csv) if csv else option)) from problem


def case_of(path: Path | None) -> Case | None:
    """The case, if one was named."""
    return None if path is None else load_case(path)


def wheel_of(text: str | None) -> Wheel | None:
    """The wheel that was named, if any."""
    if text is None:
        return None
    found: Wheel = word(text, get_args(Wheel), "--wheel")  # type: ignore[assignment]
    return found


def rounds_in(
    case: Case, *, wheel: str | None, what: Sequence[ReadOn] = (), after: bool = False
) -> tuple[ReadingSet, ...]:
    """The rounds of a case at `wheel` (any, when None) taken on one of `what` (anything, when empty).

    Raises InputError when there is none.
    """
    at = wheel_of(wheel)
    found = tuple(
        one
        for one in sets_in_force(case, after=after)
        if (at is None or one.wheel == at) and (not what or one.what in what)
    )
    if not found:
        on = f" on {' or '.join(what)}" if what else ""
        raise InputError(f"the case has no round of readings{on}{f' at {wheel}' if wheel else ''} under 'readings'")
    return found


def given(**options: object) -> None:
    """Raises InputError unless exactly one of the options was given (None or empty counts as not given)."""
    names = [f"--{name.replace('_', '-')}" for name in options]
    if sum(bool(value) for value in options.values()) != 1:
        raise InputError(f"give one of {', '.join(names)}")


def circumference_of(tyre: str) -> Interval:
    """Rolling circumference, m, of a tyre marking."""
    try:
        return rolling_circumference(parse_tyre(tyre))
    except TyreMarkingError as error:
        raise InputError(str(error), field="--tyre") from error
