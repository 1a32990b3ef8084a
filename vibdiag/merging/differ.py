"""What changed between two versions of a case, field by field."""

from __future__ import annotations

from typing import Any

from vibdiag.merging.conflict import FieldChange
from vibdiag.merging.match import IDENTITY, label, origins

__all__ = ["changes", "touches"]


def changes(before: Any, after: Any, path: str = "") -> list[FieldChange]:
    """Every field that differs; entries of lists are named by what they are, not by their place.

    >>> [one.sentence() for one in changes({"title": "old", "id": "x"}, {"title": "new", "id": "x"})]
    ['title: old -> new']
    """
    if before == after:
        return []
    if isinstance(before, dict) and isinstance(after, dict):
        found = []
        for key in dict.fromkeys([*before, *after]):
            found += changes(before.get(key), after.get(key), f"{path}.{key}" if path else key)
        return found
    name = path.rsplit(".", 1)[-1]
    if name in IDENTITY and isinstance(before, list | None) and isinstance(after, list | None):
        return _list_changes(before or [], after or [], path, name)
    if isinstance(after, dict) and before is None:
        return changes({}, after, path)
    return [FieldChange(path, before, after)]


def _list_changes(before: list[Any], after: list[Any], path: str, name: str) -> list[FieldChange]:
    parent = path[: -len(name)]
    places = origins(before, after, IDENTITY[name])
    found = [
        FieldChange(f"{parent}{label(name, item)}", item, None)
        for place, item in enumerate(before)
        if place not in places
    ]
    for place, item in zip(places, after, strict=True):
        if place is None:
            found.append(FieldChange(f"{parent}{label(name, item)}", None, item))
        else:
            found += changes(before[place], item, f"{parent}{label(name, item)}")
    # The same entries in another order: rare, and still a change.
    return found or [FieldChange(path, "one order", "another order")]


def touches(change: str, field: str) -> bool:
    """Whether two field names mean the same field, or one lies within the other."""
    longer, shorter = (change, field) if len(change) >= len(field) else (field, change)
    return longer == shorter or longer.startswith((f"{shorter}.", f"{shorter}["))
