"""Two people on one case: each field goes to whoever changed it; a field both changed differently is a conflict.

Nothing here decides between two people. What cannot be taken from one without contradicting the other is handed back
as a conflict, also where the fields differ but belong together: a number and its unit, one person's signed answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import Conflict
from vibdiag.merging.match import IDENTITY, ONE_OF_EACH, SETS, WHOLE, identity, label, origins
from vibdiag.merging.plain import Data, case_of, plain

__all__ = ["Merged", "merge"]

_Side = TypeVar("_Side")
_SIGNED = ("by", "at")
_SIGNATURE = frozenset({"by", "at", "role"})


@dataclass(frozen=True)
class Merged:
    """The merged case as plain data; only to be used when `conflicts` is empty."""

    data: Data
    conflicts: tuple[Conflict, ...]


class _Found(list[Conflict]):
    """The conflicts met so far, and whose value stands where there is one."""

    def __init__(self, *, insist: bool) -> None:
        super().__init__()
        self.insist = insist

    def settle(self, yours: _Side, theirs: _Side) -> _Side:
        """What goes into the merged case at a conflict."""
        return yours if self.insist else theirs


def merge(base: Data, yours: Data, theirs: Data, *, insist: bool = False) -> Merged:
    """Your changes since `base` on top of `theirs`, which is what stands now; all three are `plain` data.

    With `insist` your value goes where both changed a field differently: only for whoever has seen the other's and says
    so. A conflict is then left only where the two together are no sound case.
    """
    if base == theirs or yours == theirs:
        return Merged(yours, ())
    if base == yours:
        return Merged(theirs, ())
    conflicts = _Found(insist=insist)
    data = _dict(base, yours, theirs, "", conflicts)
    units = _speed_unit(base, yours, theirs)
    if units or (conflicts and not insist):
        return Merged(data, (*conflicts, *units))
    try:
        return Merged(plain(case_of(data)), ())
    except InputError as error:
        # Each alone was sound, both together are not: such as a speed band whose two ends two people moved.
        field = error.field or "case"
        parts = [_at(side, field) for side in (base, yours, theirs)]
        return Merged(data, (Conflict(field, *parts),))


def _at(data: Any, field: str) -> Any:
    for part in field.split("."):
        if isinstance(data, list) and part.isdigit() and int(part) < len(data):
            data = data[int(part)]
        elif isinstance(data, dict):
            data = data.get(part)
        else:
            return None
    return data


def _value(base: Any, yours: Any, theirs: Any, path: str, conflicts: _Found) -> Any:
    if yours in (base, theirs):
        return theirs
    if theirs == base:
        return yours
    name = path.rsplit(".", 1)[-1]
    sides = [base, yours, theirs]
    if all(isinstance(side, dict | None) for side in sides):
        if yours is not None and theirs is not None:
            return _dict(base or {}, yours, theirs, path, conflicts)
    elif name in SETS and all(isinstance(side, list | None) for side in sides):
        return _set(base or [], yours or [], theirs or [], path, conflicts)
    elif name in IDENTITY and all(isinstance(side, list | None) for side in sides):
        return _list(base or [], yours or [], theirs or [], path, conflicts)
    conflicts.append(Conflict(path, base, yours, theirs))
    return conflicts.settle(yours, theirs)


def _dict(base: Data, yours: Data, theirs: Data, path: str, conflicts: _Found) -> Data:
    if _unit_moved(base, yours, theirs):
        conflicts.append(Conflict(path, base or None, yours, theirs))
        return conflicts.settle(yours, theirs)
    if _two_statements(base, yours, theirs):
        return _whole(base, yours, theirs, path, conflicts)
    merged = {}
    for key in dict.fromkeys([*theirs, *yours, *base]):
        below = f"{path}.{key}" if path else key
        value = _value(base.get(key), yours.get(key), theirs.get(key), below, conflicts)
        if value is not None:
            merged[key] = value
    return merged


def _unit_moved(base: Data, yours: Data, theirs: Data) -> bool:
    """One changed the unit while the other changed a number beside it."""
    units = [side.get("unit") for side in (base, yours, theirs)]
    if units[1] == units[2]:
        return False
    other = theirs if units[1] != units[0] else yours
    return other != base


def _two_statements(base: Data, yours: Data, theirs: Data) -> bool:
    """Both signed it anew, each in their own way: then it is two answers, and not two halves of one."""
    return any(
        yours.get(key) != theirs.get(key) and base.get(key) not in (yours.get(key), theirs.get(key)) for key in _SIGNED
    )


def _whole(base: Data, yours: Data, theirs: Data, path: str, conflicts: _Found) -> Data:
    """All of one or all of the other: every field in which they differ is a conflict, save the signature alone."""
    for key in dict.fromkeys([*theirs, *yours]):
        if key not in _SIGNATURE and yours.get(key) != theirs.get(key):
            conflicts.append(Conflict(f"{path}.{key}", base.get(key), yours.get(key), theirs.get(key)))
    return conflicts.settle(yours, theirs)


def _set(base: list[Any], yours: list[Any], theirs: list[Any], path: str, conflicts: _Found) -> list[Any]:
    merged = [one for one in theirs if one in yours or one not in base]
    merged += [one for one in yours if one not in theirs and one not in base]
    if "none" in merged and len(merged) > 1:
        conflicts.append(Conflict(path, base, yours, theirs))
        return conflicts.settle(yours, merged)
    return merged


def _list(base: list[Any], yours: list[Any], theirs: list[Any], path: str, conflicts: _Found) -> list[Any]:
    name = path.rsplit(".", 1)[-1]
    parent, fields = path[: -len(name)], IDENTITY[name]
    your_places, their_places = origins(base, yours, fields), origins(base, theirs, fields)
    mine = {place: item for place, item in zip(your_places, yours, strict=True) if place is not None}
    merged: list[Any] = []
    late: list[Any] = []
    taken_out: list[Any] = []
    for place, item in zip(their_places, theirs, strict=True):
        if place is None:
            merged.append(item)
            continue
        below = f"{parent}{label(name, base[place])}"
        if place not in mine:
            if item != base[place]:
                conflicts.append(Conflict(below, base[place], None, item))
                taken_out.append(identity(item, fields))
            continue
        joined = _item(name, base[place], mine[place], item, below, conflicts)
        (late if mine[place] != base[place] and _moved(place, your_places) else merged).append(joined)
    for place, item in mine.items():
        if place not in their_places and item != base[place]:
            conflicts.append(Conflict(f"{parent}{label(name, base[place])}", base[place], item, None))
            late += [item] if conflicts.insist else []
    theirs_new = [item for place, item in zip(their_places, theirs, strict=True) if place is None]
    if conflicts.insist and name in ONE_OF_EACH:  # what you took out is not to come back in other words of theirs
        merged = [item for item in merged if item not in theirs_new or identity(item, fields) not in taken_out]
    for place, item in zip(your_places, yours, strict=True):
        if place is not None:
            continue
        twin = _twin(name, item, theirs_new)
        if twin is None:
            late.append(item)
        elif twin != item:
            stands = _whole({}, item, twin, f"{parent}{label(name, item)}", conflicts)
            if twin in merged:
                merged[merged.index(twin)] = stands
            elif conflicts.insist:  # another of yours has taken its place already
                late.append(item)
    return merged + late


def _item(name: str, base: Data, yours: Data, theirs: Data, path: str, conflicts: _Found) -> Data:
    if yours in (base, theirs):
        return theirs
    if theirs == base:
        return yours
    if name in WHOLE:
        return _whole(base, yours, theirs, path, conflicts)
    return _dict(base, yours, theirs, path, conflicts)


def _twin(name: str, item: Data, new: list[Data]) -> Data | None:
    """The entry they added that says the same, or is the same thing in other words."""
    if item in new:
        return item
    if name not in ONE_OF_EACH:
        return None
    return next((one for one in new if identity(one, IDENTITY[name]) == identity(item, IDENTITY[name])), None)


def _moved(place: int, order: list[int | None]) -> bool:
    """Whether the entry stands behind others than it did: answered again, it goes to the end."""
    before = {one for one in order[: order.index(place)] if one is not None}
    return before != {one for one in order if one is not None and one < place}


def _speed_unit(base: Data, yours: Data, theirs: Data) -> list[Conflict]:
    """Speeds of measurements are in the case's unit: one may not change it while the other writes such a speed."""
    units = [side.get("complaint", {}).get("speed", {}).get("unit") for side in (base, yours, theirs)]
    if units[1] == units[2]:
        return []
    other = theirs if units[1] != units[0] else yours
    old = base.get("measurements", [])
    if any("speed" in one and one not in old for one in other.get("measurements", [])):
        return [Conflict("complaint.speed.unit", *units)]
    return []
