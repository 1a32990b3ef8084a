"""What every reader hands over: columns of numbers or text, with names and units as the file gives them, no meaning.

Limits keep the memory bounded whatever the file says about itself.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import ModuleType
from typing import Final

import numpy as np
import numpy.typing as npt

from vibdiag.files.errors import InputError
from vibdiag.recording.signal import FloatArray

__all__ = [
    "MAX_COLUMNS",
    "MAX_VALUES",
    "TEXT_WIDTH",
    "Column",
    "Table",
    "Text",
    "check_size",
    "foreign_reader",
    "need",
    "plausible",
]

Text = npt.NDArray[np.bytes_]

MAX_VALUES: Final = 100_000_000  # 800 MB of numbers: seven hours of 1 kHz on three axes
MAX_COLUMNS: Final = 2_000
TEXT_WIDTH: Final = 40  # longer than any date with nanoseconds and zone
_LARGEST: Final = 1e30  # its square is still a number


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One column of a file. values: (N,) numbers, or the bytes of text cells. name and unit: "" where not given.

    axis: "x", "y", "z" where the file's own format says so (UFF58's direction), else "".
    """

    name: str
    values: FloatArray | Text
    unit: str = ""
    axis: str = ""

    @property
    def numbers(self) -> FloatArray:
        """The values of a column that is not text."""
        return np.asarray(self.values, dtype=np.float64)

    @property
    def text(self) -> Text:
        """The cells of a text column."""
        return np.asarray(self.values, dtype=np.bytes_)

    @property
    def is_text(self) -> bool:
        return self.values.dtype.kind == "S"


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Columns of equal length on one clock.

    label: the file's name, with the group where a file holds several clocks. rate_hz: where the format carries a
    sample rate instead of stamps. start_epoch_s: the instant (s since 1970, UTC) at which its clock shows zero.
    first_line: the line of a text file with the first row, to say where something is wrong; else None.
    """

    label: str
    form: str
    columns: tuple[Column, ...]
    rate_hz: float | None = None
    start_epoch_s: float | None = None
    first_line: int | None = None
    source: str = ""
    remarks: tuple[str, ...] = field(default=())


def check_size(rows: int, columns: int, file: str) -> None:
    """Raise InputError when a file holds, or claims to hold, more than this machine should take."""
    if columns > MAX_COLUMNS:
        raise InputError(f"has {columns} columns, more than {MAX_COLUMNS}; write fewer channels.", file=file)
    if rows * columns > MAX_VALUES:
        raise InputError(
            f"holds {rows * columns / 1e6:.0f} million values, more than the {MAX_VALUES / 1e6:.0f} million read here; "
            "cut it to the part with the shake.",
            file=file,
        )


def plausible(values: FloatArray) -> FloatArray:
    """The same numbers; infinities and what no sensor or clock can mean (beyond 1e30) as not-a-number.

    >>> plausible(np.array([1.0, -np.inf, 1e300]))
    array([ 1., nan, nan])
    """
    with np.errstate(invalid="ignore"):  # damaged files hold not-a-numbers of the kind that raises a flag
        sound = np.abs(values) <= _LARGEST
    return values if sound.all() else np.where(sound, values, np.nan)


def need(module: str, *, package: str, form: str, instead: str, file: str, extra: str = "") -> ModuleType:
    """Import an optional reader, or raise InputError with the one sentence that says how to get it.

    extra: of our own package, where one brings it.
    """
    try:
        return importlib.import_module(module)
    except ImportError as error:
        wanted = f"'vibdiag[{extra}]'" if extra else package
        raise InputError(
            f"is a {form} file, and reading it needs the Python package {package}, which is not installed; "
            f"install it (pip install {wanted}) or {instead}.",
            file=file,
        ) from error


@contextmanager
def foreign_reader(form: str, instead: str, file: str) -> Iterator[None]:
    """Turn whatever a library throws at a damaged file into one InputError."""
    try:
        yield
    except InputError:
        raise
    except MemoryError as error:
        raise InputError(
            f"claims more data than fits into memory, so this {form} file is damaged; {instead}.", file=file
        ) from error
    except Exception as error:  # third-party readers throw anything at broken bytes
        said = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError(f"cannot be read as {form} ({said}); {instead}.", file=file) from error
    except BaseException as error:
        # A panic in a Rust extension is no Exception; Ctrl+C and exit are not ours to catch.
        if "Panic" not in type(error).__name__:
            raise
        raise InputError(
            f"cannot be read as {form}: the reader gave up on damaged bytes; {instead}.", file=file
        ) from error
