"""What every command shares: one clear sentence on error, exit codes, JSON, and text that fits a terminal."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NoReturn

from vibdiag.files.errors import InputError
from vibdiag.reasoning.language import LanguageError

__all__ = ["EXIT_INPUT", "bar", "fail", "input_errors", "paragraph", "print_json", "say", "width"]

EXIT_INPUT = 1
_WIDEST = 100
_NARROWEST = 40


def say(text: str = "") -> None:
    """Print one line or block to standard output."""
    print(text)


def print_json(data: Any) -> None:
    """Print `data` as JSON with a stable key order, readable and parseable."""
    print(json.dumps(data, indent=2, ensure_ascii=False))


def fail(message: str) -> NoReturn:
    """Say what is wrong on standard error and end with the exit code for wrong input."""
    print(f"vibdiag: {message}", file=sys.stderr)
    raise SystemExit(EXIT_INPUT)


@contextmanager
def input_errors() -> Iterator[None]:
    """Turn an InputError, or a rule base that the engine cannot carry, into its sentence and exit code 1."""
    try:
        yield
    except (InputError, LanguageError) as error:
        fail(str(error))


def width() -> int:
    """Columns to use: the terminal's, within what reads well."""
    return max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size((80, 24)).columns))


def paragraph(text: str, *, indent: str = "", first: str | None = None) -> str:
    """`text` folded to the terminal, the first line with `first` and the others with `indent`."""
    lead = indent if first is None else first
    return textwrap.fill(
        text,
        width(),
        initial_indent=lead,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


_EIGHTHS = " ▏▎▍▌▋▊▉█"


def bar(share: float, *, cells: int = 16) -> str:
    """A horizontal bar for 0..1 of exactly `cells` columns.

    >>> bar(0.5, cells=4)
    '██  '
    """
    eighths = round(max(0.0, min(1.0, share)) * cells * 8)
    full, rest = divmod(eighths, 8)
    text = _EIGHTHS[8] * full + (_EIGHTHS[rest] if rest else "")
    return text.ljust(cells)
