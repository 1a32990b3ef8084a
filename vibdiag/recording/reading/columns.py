"""Which column is what: first what a person said, then names and units, then values; and doubts said aloud.

A guess is never silent: every choice carries its reason, and a doubt where another answer is possible.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.names import NameGuess, guess_by_name
from vibdiag.recording.reading.roles import HELP, Role, Said
from vibdiag.recording.reading.table import Table
from vibdiag.recording.reading.time_stamps import guess_unit, is_time_text
from vibdiag.recording.reading.units import factor_to_si
from vibdiag.recording.signal import FloatArray

__all__ = ["AS_SAID", "Choice", "choose_columns"]

_SHOWN: Final = 12
_FASTEST_SPEED_STEP_S: Final = 0.045  # receivers give at most 20 speeds a second; whatever is faster felt a shake
AS_SAID: Final = "as you said"


@dataclass(frozen=True, slots=True)
class Choice:
    """One column's role. name: as in the file, or "column 3". why: what speaks for it. doubt: what may be wrong."""

    index: int
    name: str
    role: Role
    why: str
    doubt: str = ""


def choose_columns(table: Table, said: Said) -> tuple[Choice, ...]:
    """A choice for every column of a table; units are still open where neither name nor person gave one.

    Raises InputError when nothing in it can be acceleration, rotation or speed, or there is no time and no rate.
    """
    names = [column.name or f"column {i + 1}" for i, column in enumerate(table.columns)]
    guesses = [guess_by_name(column.name, column.unit, column.axis) for column in table.columns]
    choices: list[Choice] = []
    for index, (column, guess) in enumerate(zip(table.columns, guesses, strict=True)):
        role, why = (said.roles[index], AS_SAID) if index in said.roles else (guess.role, guess.why)
        if index in said.roles and role is not None and guess.role is not None and guess.role.kind == role.kind:
            role = replace(role, unit=role.unit or guess.role.unit, axis=role.axis or guess.role.axis)
        if role is not None and role.kind in said.units and not (index in said.roles and said.roles[index].unit):
            role, why = replace(role, unit=said.units[role.kind]), AS_SAID
        if (
            index not in said.roles
            and role is not None
            and column.is_text
            and role.kind not in ("time", "date", "ignore")
        ):
            role, why = Role("ignore"), "it holds text"
        choices.append(Choice(index, names[index], role or Role("ignore"), why))
    choices = _without_doubles(choices, guesses, said.roles)
    stamped = bool(said.rate_hz or table.rate_hz)
    if not _has(choices, "accel", "gyro") and (not _has(choices, "speed") or _fast(table, choices, said.rate_hz)):
        choices = _by_values(table, choices, guesses, said.roles, stamped=stamped)
        choices = [
            replace(c, role=replace(c.role, unit=c.role.unit or said.units.get(c.role.kind, ""))) for c in choices
        ]
    choices = _one_time(table, choices, said.roles, stamped=stamped)
    if not _has(choices, "accel", "gyro", "speed", "engine"):
        shown = ", ".join(names[:_SHOWN]) + (" and more" if len(names) > _SHOWN else "")
        raise InputError(
            f"has no column known as acceleration, rotation or speed among {shown}; say which is which: {HELP}.",
            file=table.label,
        )
    return tuple(choices)


def _has(choices: list[Choice], *kinds: str) -> bool:
    return any(choice.role.kind in kinds for choice in choices)


def _fast(table: Table, choices: list[Choice], rate_hz: float | None) -> bool:
    """Whether the rows come faster than any speed does, so that columns without a telling name may be a shake."""
    rate_hz = rate_hz or table.rate_hz
    if rate_hz:
        return rate_hz * _FASTEST_SPEED_STEP_S > 1.0
    time = next((c for c in choices if c.role.kind == "time" and not table.columns[c.index].is_text), None)
    if time is None:
        return False
    stamps = table.columns[time.index].numbers[:5000]
    unit = time.role.unit or guess_unit(stamps, with_shake=True)[0]
    steps = np.diff(stamps[np.isfinite(stamps)]) * factor_to_si(unit, "time")
    return bool(steps.size) and 0.0 < float(np.median(steps)) < _FASTEST_SPEED_STEP_S


def _without_doubles(choices: list[Choice], guesses: list[NameGuess], said: Mapping[int, Role]) -> list[Choice]:
    """Of acceleration with and without gravity, keep the one with: it tells unit and tilt."""
    kinds = [guess.linear for choice, guess in zip(choices, guesses, strict=True) if choice.role.kind == "accel"]
    if not (any(kinds) and not all(kinds)):
        return choices
    return [
        Choice(c.index, c.name, Role("ignore"), "the same acceleration is there with gravity")
        if c.role.kind == "accel" and guess.linear and c.index not in said
        else c
        for c, guess in zip(choices, guesses, strict=True)
    ]


def _by_values(
    table: Table, choices: list[Choice], guesses: list[NameGuess], said: Mapping[int, Role], *, stamped: bool
) -> list[Choice]:
    """No name tells what was measured: take time where numbers rise, and the next ones in the usual order."""
    free = [
        c.index
        for c in choices
        if c.index not in said and guesses[c.index].role is None and not table.columns[c.index].is_text
        and np.isfinite(table.columns[c.index].numbers).any()
    ]  # fmt: skip
    found: dict[int, Choice] = {}
    if not _has(choices, "time") and not stamped:
        text = next(
            (i for i, c in enumerate(table.columns) if c.is_text and i not in said and _is_time(table, i)), None
        )
        rising = text if text is not None else next((i for i in free if _rises(table.columns[i].numbers)), None)
        if rising is not None:
            why = "it holds times" if rising == text else "its numbers rise"
            found[rising] = Choice(rising, choices[rising].name, Role("time"), why)
            free = [i for i in free if i != rising]
    order = ("accel-x", "accel-y", "accel-z", "gyro-x", "gyro-y", "gyro-z")
    if len(free) == 1:
        slow = _slow_and_positive(table, free[0], found)
        role = Role("speed") if slow else Role("accel")
        found[free[0]] = Choice(
            free[0], choices[free[0]].name, role, "it is the only reading", f"it may be something else than {role.kind}"
        )
    for place, index in enumerate(free if len(free) > 1 else ()):
        name = choices[index].name
        if place >= (6 if len(free) >= 6 else 3):
            found[index] = Choice(index, name, Role("ignore"), "nothing says what it is", "it may be a speed")
        else:
            kind, axis = order[place].split("-")
            role = Role("gyro", axis) if kind == "gyro" else Role("accel", axis)
            found[index] = Choice(
                index, name, role, f"its place, {order[place]} being usual there", "only its place says so"
            )
    return [found.get(choice.index, choice) for choice in choices]


def _rises(values: FloatArray) -> bool:
    finite = values[np.isfinite(values)]
    steps = np.diff(finite)
    return finite.size > 2 and float(np.mean(steps >= 0.0)) > 0.97 and float(finite[-1]) > float(finite[0])


def _is_time(table: Table, index: int) -> bool:
    cells = table.columns[index].text[:20].tolist()
    return sum(is_time_text(cell) for cell in cells) * 2 > len(cells)


def _slow_and_positive(table: Table, index: int, found: Mapping[int, Choice]) -> bool:
    """Whether a lone column looks like a speed: never negative, stamped slower than 15 times a second."""
    values = table.columns[index].numbers
    time = next((table.columns[i] for i, c in found.items() if c.role.kind == "time"), None)
    if bool(np.nanmin(values) < 0.0) or time is None or time.is_text:
        return False
    return guess_unit(time.numbers, with_shake=True)[0] == "s" and float(np.nanmedian(np.diff(time.numbers))) > 0.06


def _one_time(table: Table, choices: list[Choice], said: Mapping[int, Role], *, stamped: bool) -> list[Choice]:
    """Keep one time column: the one said, else the one with the most different stamps."""
    times = [c for c in choices if c.role.kind == "time"]
    if not times and not stamped:
        times = [
            Choice(c.index, c.name, Role("time"), "it holds times")
            for c in choices
            if c.index not in said and table.columns[c.index].is_text and _is_time(table, c.index)
        ][:1]
    if not times and not stamped:
        rising = [
            c for c in choices
            if c.index not in said and c.role.kind == "ignore" and not c.why and not table.columns[c.index].is_text
            and _rises(table.columns[c.index].numbers)
        ]  # fmt: skip
        times = [
            Choice(c.index, c.name, Role("time"), "its numbers rise", "only its place says so") for c in rising[:1]
        ]
    if not times and not stamped:
        raise InputError(
            "has no column of times; say which one it is (NAME=time:s, NAME=time:ms), or the rate (rate=100).",
            file=table.label,
        )
    if not times:
        return choices
    spoken = [c for c in times if c.index in said]
    best = spoken[0] if spoken else max(times, key=lambda c: (_different(table, c.index), -c.index))
    return [
        best if c.index == best.index
        else Choice(c.index, c.name, Role("ignore"), f"{best.name} is the finer clock") if c.role.kind == "time"
        else c
        for c in choices
    ]  # fmt: skip


def _different(table: Table, index: int) -> int:
    values = table.columns[index].values[:5000]
    return int(np.unique(values).size)
