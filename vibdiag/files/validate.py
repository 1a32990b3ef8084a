"""From parsed YAML to a pydantic model, with the place of every fault."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from vibdiag.files.errors import InputError
from vibdiag.files.strict_yaml import Document

__all__ = ["faults_of", "validate"]

Model = TypeVar("Model", bound=BaseModel)
_LONGEST_SHOWN = 60


def validate(model: type[Model], document: Document, *, file: str | None = None) -> Model:
    """`document` as `model`; raises InputError for the first fault, with line, column and field."""
    _require_mapping(document, file)
    try:
        return model.model_validate(document.data)
    except ValidationError as problem:
        raise faults_of(problem, model, document, file=file)[0] from problem


def faults_of(
    problem: ValidationError, model: type[BaseModel], document: Document, *, file: str | None = None
) -> list[InputError]:
    """Every fault pydantic found, each as one sentence with its place."""
    found = []
    for error in problem.errors(include_url=False):
        path = _in_file(tuple(error["loc"]), error["type"], document)
        field = ".".join(str(part) for part in path) or None
        sentence = _sentence(dict(error), model)
        found.append(InputError(sentence, file=file, spot=document.spot(path), field=field))
    return found


def _in_file(path: tuple[str | int, ...], kind: str, document: Document) -> tuple[str | int, ...]:
    """`path` without what pydantic adds for its own use, such as the name of the alternative it tried."""
    if kind == "missing":
        return path
    while path and path not in document.spots:
        path = path[:-1]
    return path


def _require_mapping(document: Document, file: str | None) -> None:
    if not isinstance(document.data, dict):
        what = "empty" if document.data is None else f"a {type(document.data).__name__}"
        raise InputError(f"the file must consist of 'key: value' lines; it is {what}", file=file)


def _sentence(error: dict[str, Any], model: type[BaseModel]) -> str:
    kind, message, given = error["type"], str(error["msg"]), error.get("input")
    if kind == "extra_forbidden":
        key = str(error["loc"][-1])
        near = get_close_matches(key, sorted(_all_fields(model)), n=1)
        return f"'{key}' is not known here" + (f"; did you mean '{near[0]}'?" if near else "")
    if kind == "literal_error":
        return f"{_shown(given)} is not one of {error['ctx']['expected']}"
    if kind == "missing":
        return f"'{error['loc'][-1]}' is missing"
    return f"{message.removeprefix('Value error, ')} (found {_shown(given)})"


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."


def _all_fields(model: type[BaseModel]) -> set[str]:
    found: set[str] = set()
    queue: list[Any] = [model]
    seen: set[Any] = set()
    while queue:
        item = queue.pop()
        if item in seen:
            continue
        seen.add(item)
        if isinstance(item, type) and issubclass(item, BaseModel):
            found.update(item.model_fields)
            queue.extend(info.annotation for info in item.model_fields.values())
        else:
            queue.extend(getattr(item, "__args__", ()))
    return found
