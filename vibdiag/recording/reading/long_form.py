"""A log with one reading a row and its name beside it, which is no table of samples."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from vibdiag.recording.reading.choice import Choice, UnsettledError
from vibdiag.recording.reading.roles import Role

__all__ = ["refuse_long_form"]

_WHAT: Final = frozenset(
    (
        "pid",
        "pids",
        "parameter",
        "param",
        "signal",
        "channel",
        "sensor",
        "item",
        "measurement",
        "variable",
        "key",
        "name",
    )
)
_HOW_MUCH: Final = frozenset(("value", "values", "wert", "valeur", "valor", "reading", "val"))


def refuse_long_form(names: Sequence[str], label: str) -> None:
    """Raise UnsettledError where one column names what another one gives the value of.

    >>> refuse_long_form(["time", "ax", "ay", "az"], "drive.csv")
    """
    folded = [name.strip().strip('"').casefold() for name in names]
    what = next((name for name, said in zip(names, folded, strict=True) if said in _WHAT), None)
    value = next((name for name, said in zip(names, folded, strict=True) if said in _HOW_MUCH), None)
    if what is not None and value is not None:
        raise UnsettledError(
            f"holds one reading a row, named by {what} with its number in {value}; export it as a table with a column "
            "for the time and one for each reading.",
            file=label,
            choices=[Choice(i, name, Role("ignore"), "") for i, name in enumerate(names)],
        )
