"""Which entry of a list is which, after somebody changed the list.

An entry that is equal stays the same entry. Of the rest, one with the same identity (a step's id and whether it was
taken before or after the repair, a measurement's quantity, wheel ...) is that entry, edited; the others came or went.
"""

from __future__ import annotations

import json
from typing import Any

__all__ = ["IDENTITY", "ONE_OF_EACH", "SETS", "WHOLE", "identity", "label", "origins"]

Item = dict[str, Any]

IDENTITY: dict[str, tuple[str, ...]] = {
    "steps": ("step", "taken"),
    "measurements": ("quantity", "wheel", "taken", "speed"),
    "readings": ("what", "wheel", "taken"),
    "balance_readings": ("wheel", "taken", "shaft_deg"),
    "acknowledged": ("danger", "by"),
    "attachments": ("path",),
    "signs": ("sign",),
    "orders": ("order", "axis"),
    "over_speed": ("kmh",),
    "follow_ups": ("what", "due"),
    "events": ("what",),
    "repairs": ("what",),
}
# Two people who each add an entry of one identity mean the same thing here; elsewhere each has measured once.
ONE_OF_EACH = frozenset({"steps", "acknowledged", "attachments", "signs", "orders", "over_speed", "follow_ups"})
# Numbers that only mean something together: never half of one and half of the other.
WHOLE = frozenset({"measurements", "readings", "balance_readings", "signs", "orders", "over_speed"})
# Lists of words in which order says nothing.
SETS = frozenset({"felt_at", "noise", "not_happened", "dangers_shown"})


def _content(item: Item) -> str:
    return json.dumps(item, sort_keys=True)


def identity(item: Item, fields: tuple[str, ...]) -> tuple[Any, ...]:
    """What makes `item` this item and no other."""
    return tuple(item.get(field) for field in fields)


def label(name: str, item: Item) -> str:
    """How a sentence names one entry: `steps[ask-where]`."""
    parts = [str(part) for part in identity(item, IDENTITY[name]) if part is not None]
    return f"{name}[{', '.join(parts)}]"


def origins(base: list[Item], side: list[Item], fields: tuple[str, ...]) -> list[int | None]:
    """For each entry of `side`, the place of the entry of `base` it was, or None when it is new.

    >>> base = [{"step": "a", "outcome": "yes"}, {"step": "b", "outcome": "no"}]
    >>> origins(base, [{"step": "b", "outcome": "no"}, {"step": "a", "outcome": "no"}, {"step": "c"}], ("step",))
    [1, 0, None]
    """
    found: list[int | None] = [None] * len(side)
    _pair([_content(item) for item in base], [_content(item) for item in side], found)
    _pair([identity(item, fields) for item in base], [identity(item, fields) for item in side], found)
    return found


def _pair(base: list[Any], side: list[Any], found: list[int | None]) -> None:
    """Give every open place of `found` the first entry of `base` with the same key that is not taken yet."""
    taken = {place for place in found if place is not None}
    free: dict[Any, list[int]] = {}
    for place in reversed(range(len(base))):
        if place not in taken:
            free.setdefault(base[place], []).append(place)
    for place, key in enumerate(side):
        if found[place] is None and free.get(key):
            found[place] = free[key].pop()
