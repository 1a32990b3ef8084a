"""A case as plain data and as the text the store keeps: JSON, what is at its default left out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from vibdiag.case.migrate import migrate
from vibdiag.case.model import Case
from vibdiag.files.errors import InputError

__all__ = ["Data", "case_of", "digest", "from_text", "plain", "texts", "to_text"]

Data = dict[str, Any]


def plain(case: Case) -> Data:
    """The case as dicts, lists, texts and numbers; reads back to an equal case."""
    return {"vibdiag_case": case.vibdiag_case, "id": case.id} | case.model_dump(mode="json", exclude_defaults=True)


def case_of(data: Data) -> Case:
    """The case in `data`, brought to the present form first; raises InputError when it does not fit."""
    try:
        return Case.model_validate(migrate(dict(data), file=str(data.get("id", "case"))))
    except ValidationError as problem:
        first = problem.errors(include_url=False)[0]
        field = ".".join(str(part) for part in first["loc"]) or None
        message = str(first["msg"]).removeprefix("Value error, ")
        raise InputError(message, file=str(data.get("id", "case")), field=field) from problem


def to_text(data: Data) -> str:
    """JSON in ASCII with sorted keys: equal data gives equal text, and no database can trip over a character."""
    try:
        return json.dumps(data, ensure_ascii=True, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except ValueError as error:
        raise InputError("holds a number that is not finite", file=str(data.get("id", "case"))) from error


def from_text(text: str) -> Data:
    """The inverse of `to_text`."""
    data: Data = json.loads(text)
    return data


def digest(text: str) -> str:
    """The SHA-256 of a version's text."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def texts(value: Any) -> Iterator[str]:
    """Every text in plain data, in order; keys are no text."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from texts(part)
