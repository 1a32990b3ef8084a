"""The one error that a person sees when a file is wrong."""

from __future__ import annotations

from pathlib import Path

__all__ = ["InputError", "Spot"]


class Spot:
    """Where in a file: line and column, counted from 1."""

    __slots__ = ("column", "line")

    def __init__(self, line: int, column: int) -> None:
        self.line = line
        self.column = column

    def __repr__(self) -> str:
        return f"Spot({self.line}, {self.column})"


class InputError(ValueError):
    """One sentence: where (file, line, column, field), what is wrong, and what would be right."""

    def __init__(
        self,
        message: str,
        *,
        file: Path | str | None = None,
        spot: Spot | None = None,
        field: str | None = None,
    ) -> None:
        self.message = message
        self.file = None if file is None else str(file)
        self.spot = spot
        self.field = field
        super().__init__(str(self))

    def __str__(self) -> str:
        where = self.file or ""
        if self.spot is not None:
            line, column = self.spot.line, self.spot.column
            where = f"{where}:{line}:{column}" if where else f"line {line}, column {column}"
        if self.field:
            where += f": {self.field}" if where else self.field
        return f"{where}: {self.message}" if where else self.message
