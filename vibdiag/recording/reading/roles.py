"""What a column can be, and what a person may say about it: `accel-x:g`, `gyro-z:deg/s`, `speed:km/h`, `time:ms`."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.units import ACCEPTED, Quantity, known_unit

__all__ = ["HELP", "QUANTITY", "Role", "RoleKind", "Said", "check_said", "match_said", "parse_rate_hz", "parse_role"]

RoleKind = Literal["time", "date", "accel", "gyro", "speed", "engine", "ignore"]

QUANTITY: Final[Mapping[RoleKind, Quantity]] = {
    "time": "time",
    "accel": "acceleration",
    "gyro": "rotation",
    "speed": "speed",
    "engine": "engine",
}
_KINDS: Final[Mapping[str, RoleKind]] = {kind: kind for kind in QUANTITY}
HELP: Final = (
    "time, date, accel-x, accel-y, accel-z, accel, gyro-x, gyro-y, gyro-z, speed, engine or ignore, "
    "with the unit after a colon (accel-z:g, speed:km/h, time:ms)"
)
_ROLE = re.compile(
    r"(?P<kind>time|date|accel|gyro|speed|engine|ignore)(-(?P<axis>[xyz]))?\s*(:\s*(?P<unit>.+))?$", re.I
)
_RATE = re.compile(r"(?P<rate>\d+(\.\d+)?)\s*(hz|/s)?$", re.I)


@dataclass(frozen=True, slots=True)
class Role:
    """kind; axis "" unless accel or gyro; unit "" until known."""

    kind: RoleKind
    axis: str = ""
    unit: str = ""

    def __str__(self) -> str:
        return self.kind + (f"-{self.axis}" if self.axis else "") + (f":{self.unit}" if self.unit else "")


def parse_role(text: str, column: str) -> Role:
    """The role a person gave a column. Raises InputError, naming what is possible.

    >>> parse_role("accel-z:g", "3"), str(parse_role("speed : km/h", "v"))
    (Role(kind='accel', axis='z', unit='g'), 'speed:km/h')
    """
    found = _ROLE.match(text.strip())
    kinds: Mapping[str, RoleKind] = {**_KINDS, "date": "date", "ignore": "ignore"}
    if found is None or (found["axis"] and found["kind"].casefold() not in ("accel", "gyro")):
        raise InputError(f"{text!r} is no role of a column; write {HELP}.", field=column)
    kind = kinds[found["kind"].casefold()]
    said = found["unit"]
    if said is None:
        return Role(kind, (found["axis"] or "").casefold())
    quantity = QUANTITY.get(kind)
    unit = known_unit(said, quantity) if quantity is not None else None
    if quantity is None or unit is None:
        accepted = "no unit" if quantity is None else ACCEPTED[quantity]
        raise InputError(f"{said.strip()!r} is no unit of {kind}; write {accepted}.", field=column)
    return Role(kind, (found["axis"] or "").casefold(), unit)


def parse_rate_hz(text: str) -> float:
    """The sample rate a person gave for a file without stamps, Hz. Raises InputError unless 0.1 to 1,000,000."""
    found = _RATE.match(text.strip())
    rate_hz = float(found["rate"]) if found is not None else 0.0
    if not 0.1 <= rate_hz <= 1e6:
        raise InputError(f"{text!r} is no sample rate; write samples a second, such as 100.", field="rate")
    return rate_hz


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said about one file. roles: by column index. units: by kind, for all its columns. rate_hz.

    used: the keys that fitted this file.
    """

    roles: Mapping[int, Role] = field(default_factory=dict)
    units: Mapping[RoleKind, str] = field(default_factory=dict)
    rate_hz: float | None = None
    used: frozenset[str] = frozenset()


def check_said(said: Mapping[str, str]) -> None:
    """Raise InputError for what can mean nothing in any file: neither a role nor a unit nor a rate."""
    for key, text in said.items():
        kind = _KINDS.get(key.strip().casefold())
        if key.strip().casefold() == "rate":
            parse_rate_hz(text)
        elif kind is None or kind not in QUANTITY or known_unit(text, QUANTITY[kind]) is None:
            parse_role(text, key)


def match_said(said: Mapping[str, str], names: Sequence[str], label: str) -> Said:
    """What of it is about this file.

    A key is a column's name (in any case) or its number from 1; "file:column" speaks of one file only; a kind
    ("accel") stands for all columns of the kind, with a unit; "rate" gives samples a second.
    """
    roles: dict[int, Role] = {}
    units: dict[RoleKind, str] = {}
    rate_hz: float | None = None
    used: set[str] = set()
    folded = [name.strip().casefold() for name in names]
    for key, text in said.items():
        file, _, rest = key.rpartition(":")
        bare = key.strip().casefold()
        if bare not in folded and file and file.casefold() == label.casefold():
            bare = rest.strip().casefold()
        number = bare.lstrip("#").removeprefix("column").strip()
        kind = _KINDS.get(bare)
        unit = None if kind is None else known_unit(text, QUANTITY[kind])
        if kind is not None and unit is not None:  # first, because a column of speed may well be called "speed"
            units[kind] = unit
        elif bare in folded:
            roles[folded.index(bare)] = parse_role(text, key)
        elif number.isdecimal() and len(number) < 6 and 1 <= int(number) <= len(names):
            roles[int(number) - 1] = parse_role(text, key)
        elif bare == "rate":
            rate_hz = parse_rate_hz(text)
        else:
            continue
        used.add(key)
    return Said(roles, units, rate_hz, frozenset(used))
