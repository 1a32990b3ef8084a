"""Options that several commands of the bay share, so that they are called and explained alike."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["CaseFile", "Csv", "Json", "Limit", "Resolution", "Unit", "WheelName", "new_app"]

CaseFile = Annotated[Path | None, typer.Option("--case", metavar="FILE", help="Take the readings from this case.")]
Csv = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Readings: columns angle,value or value alone.")
]
WheelName = Annotated[str | None, typer.Option("--wheel", help="front-left, front-right, rear-left or rear-right.")]
Unit = Annotated[str, typer.Option("--unit", help="mm or thou (thousandths of an inch).")]
Resolution = Annotated[float | None, typer.Option("--resolution", help="One division of the instrument, in the unit.")]
Limit = Annotated[float | None, typer.Option("--limit", help="The vehicle maker's limit, in the unit.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON with stable keys instead of text.")]


def new_app() -> typer.Typer:
    """An app for one command, set as the whole is."""
    return typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
