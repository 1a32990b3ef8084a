"""One reading as a form: its fields, declared once, and the measurement that was typed into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from vibdiag.case.model import Case, Measurement
from vibdiag.work.form import FormField, value_typed

__all__ = ["READING_FIELDS", "ReadingDraft", "read_reading", "taken_now"]

READING_FIELDS = (
    FormField("quantity", "What", "words"),
    FormField("wheel", "Wheel", "words"),
    FormField("value", "Reading", "number", "0.8"),
    FormField("unit", "Unit", "words"),
    FormField("limit", "Maker's limit", "number", "1.0"),
    FormField("taken", "Repair", "words"),
    FormField("speed", "At speed", "number", "110"),
)


@dataclass(frozen=True)
class ReadingDraft:
    """`reading` is None while a value is missing or a field has a fault; `faults` has a sentence by field."""

    reading: Measurement | None
    faults: Mapping[str, str]


def taken_now(case: Case) -> str:
    """before or after: a reading belongs after the repair once a repair stands whose effect is not known yet."""
    waiting = case.history.repairs and case.history.repairs[-1].effect == "unknown"
    return "after" if waiting else "before"


def read_reading(typed: Mapping[str, str], *, by: str | None = None, at: datetime | None = None) -> ReadingDraft:
    """The reading that was typed, by path of each field."""
    found: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for field in READING_FIELDS:
        text = typed.get(field.path, "").strip()
        if not text:
            continue
        try:
            found[field.path] = value_typed(field, text, Measurement)
        except ValueError as error:
            faults[field.path] = str(error)
    if faults or "value" not in found:
        return ReadingDraft(None, faults)
    try:
        return ReadingDraft(Measurement.model_validate(found | {"by": by, "at": at}), {})
    except ValidationError as problem:
        message = str(problem.errors(include_url=False)[0]["msg"]).removeprefix("Value error, ")
        return ReadingDraft(None, {"unit": f"{message}."})
