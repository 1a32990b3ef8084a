"""Forms as data: a table of fields, and reading what was typed into one of them.

Words and ranges are those of the case's own model; a field only says where it stands, what it is called and what to
write. The tables feed the screen; a command or the documentation can be fed from them just as well.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Final, Literal, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError

from vibdiag.rotation import parse_tyre
from vibdiag.units import to_km

__all__ = ["FormField", "Kind", "number_typed", "shown", "thousands_typed", "value_typed"]

Kind = Literal["marking", "text", "number", "thousands", "whole", "distance", "words"]

_SIDES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "greater_than": "above",
        "less_than": "below",
        "greater_than_equal": "at least",
        "less_than_equal": "at most",
    }
)


@dataclass(frozen=True)
class FormField:
    """One field: `path` in the case's part (`tyres.front`), what it is called, and an example of what to write."""

    path: str
    label: str
    kind: Kind
    example: str = ""

    @property
    def hint(self) -> str:
        """What an empty field shows; never to be taken for a value."""
        return f"e.g. {self.example}" if self.example else ""

    @property
    def name(self) -> str:
        """The last part of the path: the field's name in its own model."""
        return self.path.rsplit(".", maxsplit=1)[-1]

    def words(self, model: type[BaseModel]) -> tuple[str, ...]:
        """The words to choose from; empty for a field that is typed."""
        return get_args(model.model_fields[self.name].annotation) if self.kind == "words" else ()


def shown(value: Any) -> str:
    """What a field shows for a value; read back it gives the same value."""
    if value is None:
        return ""
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def number_typed(text: str) -> float:
    """The number in `text`, written with a point or a comma; raises ValueError with one sentence."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise ValueError(f"'{text.strip()}' is no number") from None


_THOUSANDS = re.compile(r"\d{1,3}(?:[ '’  .,]\d{3})+")
_MARKS = re.compile(r"[ '’  .,]")


def thousands_typed(text: str) -> float:
    """The number in `text`, with thousands set off as anybody sets them off; raises ValueError with one sentence.

    Where a reading has no decimals worth typing, 84.000 and 84,000 are eighty-four thousand.

    >>> [thousands_typed(text) for text in ("84 000", "84'000", "84.000", "84,000", "84000.5")]
    [84000.0, 84000.0, 84000.0, 84000.0, 84000.5]
    """
    plain = text.strip()
    return number_typed(_MARKS.sub("", plain) if _THOUSANDS.fullmatch(plain) else plain)


def value_typed(field: FormField, text: str, model: type[BaseModel]) -> str | float | int:
    """The value of one field as its `model` allows it; raises ValueError with one sentence that names the field."""
    try:
        value = _value(field, text)
    except ValueError as error:
        if field.kind == "marking":
            raise
        example = f"; write for example {field.example}" if field.example else ""
        raise ValueError(f"{field.label}: {error}{example}.") from None
    try:
        _alone(model, field.name).validate_python(value)
    except ValidationError as problem:
        fault = dict(problem.errors(include_url=False)[0])
        raise ValueError(f"{field.label}: {_sentence(fault, text)}.") from problem
    return value


@cache
def _alone(model: type[BaseModel], name: str) -> TypeAdapter[Any]:
    """Judges one field alone: what else its part needs is no fault of this field."""
    info = model.model_fields[name]
    kind: Any = info.annotation
    return TypeAdapter(Annotated[(kind, *info.metadata)] if info.metadata else kind)


def _value(field: FormField, text: str) -> str | float | int:
    if field.kind == "marking":
        parse_tyre(text)
    if field.kind == "number":
        return number_typed(text)
    if field.kind == "thousands":
        return thousands_typed(text)
    if field.kind == "whole":
        number = number_typed(text)
        if not number.is_integer():
            raise ValueError(f"'{text}' is no whole number")
        return int(number)
    if field.kind == "distance":
        plain = text.casefold()
        miles = plain.removesuffix("miles").removesuffix("mi")
        if miles != plain:
            return to_km(thousands_typed(miles), "mi")
        return thousands_typed(plain.removesuffix("km"))
    return text


def _plainly(number: float) -> str:
    """A bound as a person writes it: 5 000 000, 0.5."""
    return f"{number:,.12g}".replace(",", " ")


def _sentence(error: dict[str, Any], text: str) -> str:
    if error["type"] in _SIDES:
        bound = next(iter(error["ctx"].values()))
        return f"must be {_SIDES[error['type']]} {_plainly(bound)}, and {text} is not"
    if error["type"] == "finite_number":
        return f"must be a number, and {text} is none"
    return (
        str(error["msg"])
        .removeprefix("Value error, ")
        .replace("Input should be", "must be")
        .replace("String should", "must")
    )
