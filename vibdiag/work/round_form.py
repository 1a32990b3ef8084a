"""A round of readings as a form: its fields, declared once, and the round that was typed into them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, get_args

from pydantic import ValidationError

from vibdiag.case.model import ReadingSet
from vibdiag.case.reading_set import FEWEST_PLACES
from vibdiag.case.vocabulary import ReadOn
from vibdiag.work.form import FormField, number_typed, shown, value_typed

__all__ = [
    "ROUND_FIELDS",
    "RoundDraft",
    "asked_for",
    "line_of",
    "places_known",
    "read_round",
    "readings_typed",
    "typed_of_round",
    "units_of",
]

ROUND_FIELDS = (
    FormField("values", "Readings", "text", "0 0.1 x -0,05"),
    FormField("angles_deg", "At degrees", "text", "0 30 65 90; empty: evenly, from the valve"),
    FormField("what", "What", "words"),
    FormField("wheel", "Wheel", "words"),
    FormField("unit", "Unit", "words"),
    FormField("first_again", "First again", "text", "0.02"),
    FormField("resolution", "Division", "number", "0.01"),
    FormField("moved_deg", "Moved, deg", "number", "180"),
    FormField("limit", "Maker's limit", "number", "1.0"),
    FormField("rim", "Rim", "words"),
    FormField("taken", "Repair", "words"),
)
_LISTS: Final = ("values", "angles_deg", "first_again")
_MISSING: Final = ("x", "-", "?")
_PLAIN: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")


@dataclass(frozen=True)
class RoundDraft:
    """`one` is None while readings are missing or a field has a fault; `faults` has a sentence by field.

    count: how many places were typed, those marked missing too; missing: how many of them are.
    """

    one: ReadingSet | None
    faults: Mapping[str, str]
    count: int
    missing: int


def asked_for(what: ReadOn) -> frozenset[str]:
    """The fields that mean something for a place: a propshaft has no wheel, only a wheel can be moved on its studs,
    the rim's limit alone depends on what it is made of, and a machine for forces reads no place twice."""
    on_wheel = what.startswith(("tread", "rim"))
    left_out = {
        "wheel": what.startswith("propshaft"),
        "moved_deg": not on_wheel,
        "rim": not what.startswith("rim"),
        "first_again": what == "radial-force",
    }
    return frozenset(field.path for field in ROUND_FIELDS if not left_out.get(field.path, False))


def places_known() -> tuple[ReadOn, ...]:
    """Every place a round can be read at, in the order of the form."""
    return get_args(ReadOn)


def units_of(what: ReadOn) -> tuple[str, ...]:
    """The units a place is read in."""
    return ("N",) if what == "radial-force" else ("mm", "thou")


def readings_typed(text: str) -> list[float | None]:
    """Numbers in a line, parted by spaces or semicolons, or by commas where nothing else parts them; `x` is missing.

    A comma within a number that spaces or semicolons part from the others is a decimal comma.

    >>> readings_typed("0 0.1 x -0,05"), readings_typed("0.1, 0.2,"), readings_typed("1;2,5"), readings_typed("0.1,0.2")
    ([0.0, 0.1, None, -0.05], [0.1, 0.2], [1.0, 2.5], [0.1, 0.2])

    Raises ValueError with one sentence that says which reading is no number.
    """
    line = text.replace("\N{MINUS SIGN}", "-").strip().strip(",;").strip()
    if ";" in line:
        parts = line.split(";")
    elif re.search(r"\s", line):
        parts = re.split(r"\s*,\s+|\s+,\s*|\s+", line)
    elif line.count(",") > 1 or "." in line:
        parts = line.split(",")
    else:
        parts = [line] if line else []
    found: list[float | None] = []
    for place, each in enumerate((part.strip() for part in parts), 1):
        if each.casefold() in _MISSING:
            found.append(None)
        elif _PLAIN.fullmatch(each):
            found.append(number_typed(each))
        else:
            raise ValueError(f"reading {place}, '{each}', is no number; write x where one is missing")
    return found


def line_of(values: list[float | None] | list[float]) -> str:
    """Readings as a line; read back it gives the same."""
    return " ".join("x" if value is None else shown(value + 0.0) for value in values)  # no -0


def typed_of_round(one: ReadingSet) -> dict[str, str]:
    """What the fields show for a round; read back they give the same one."""
    found = {field.path: getattr(one, field.path) for field in ROUND_FIELDS}
    return {path: line_of(value or []) if path in _LISTS else shown(value) for path, value in found.items()}


def read_round(
    typed: Mapping[str, str],
    *,
    beneath: Mapping[str, Any] | None = None,
    by: str | None = None,
    at: datetime | None = None,
) -> RoundDraft:
    """The round that was typed, by path of each field; `beneath`: what else the one put right had (angles, note)."""
    found: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for field in ROUND_FIELDS:
        text = typed.get(field.path, "").strip()
        if not text:
            continue
        try:
            found[field.path] = _list(field, text) if field.path in _LISTS else value_typed(field, text, ReadingSet)
        except ValueError as error:
            faults[field.path] = str(error)
    values: list[float | None] = found.get("values", [])
    count, missing = len(values), values.count(None)
    if faults or not values:
        return RoundDraft(None, faults, count, missing)
    if count - missing < FEWEST_PLACES:
        fault = f"Readings: {count - missing} read; at least {FEWEST_PLACES} places are needed, 12 are recommended."
        return RoundDraft(None, {"values": fault}, count, missing)
    try:
        one = ReadingSet.model_validate({**(beneath or {}), **found, "by": by, "at": at})
    except ValidationError as problem:
        first = problem.errors(include_url=False)[0]
        apart = "angles_deg" if "angles" in first["msg"] else "values"
        path = str(first["loc"][0]) if first["loc"] else apart
        label = next((field.label for field in ROUND_FIELDS if field.path == path), "Readings")
        if len(first["loc"]) > 1:
            label += f", number {int(first['loc'][1]) + 1}"
        message = str(first["msg"]).removeprefix("Value error, ").replace("'first_again'", "the first read again")
        return RoundDraft(None, {path: f"{label}: {message.replace('Input should be', 'must be')}."}, count, missing)
    return RoundDraft(one, {}, count, missing)


def _list(field: FormField, text: str) -> list[float | None]:
    try:
        found = readings_typed(text)
    except ValueError as error:
        raise ValueError(f"{field.label}: {error}.") from None
    if field.path != "values" and None in found:
        raise ValueError(f"{field.label}: write every number, or leave it empty.")
    return found
