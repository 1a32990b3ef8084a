"""Which column is what: first what a person said, then names and units, then values; and doubts said aloud.

A guess is never silent: every choice carries its reason, and a doubt where another answer is possible.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from vibdiag.recording.reading.choice import AS_SAID, Choice, UnsettledError
from vibdiag.recording.reading.clock_column import LOOKED_AT, holds_times, numbers_the_rows, one_time, rises
from vibdiag.recording.reading.names import NameGuess, guess_by_name, kind_of_file
from vibdiag.recording.reading.roles import HELP, QUANTITY, Role, Said
from vibdiag.recording.reading.table import Column, Table
from vibdiag.recording.reading.time_stamps import guess_unit
from vibdiag.recording.reading.units import factor_to_si, known_unit

__all__ = ["choose_columns"]

_SHOWN: Final = 12
_FASTEST_SPEED_STEP_S: Final = 0.045  # receivers give at most 20 speeds a second; whatever is faster felt a shake


def choose_columns(table: Table, said: Said) -> tuple[Choice, ...]:
    """A choice for every column of a table; units are still open where neither name nor person gave one.

    Raises UnsettledError when nothing in it can be acceleration, rotation or speed, or there is no time and no rate.
    """
    stamped = bool(said.rate_hz or table.rate_hz)
    choices, guesses = _named(table, said)
    # what was said of one column leaves the guesses of the others as they are; only what is said to be no reading of
    # the shake steps out of the usual order
    untold = {i: role for i, role in said.roles.items() if role.kind not in ("accel", "gyro")}
    plain, _ = _named(table, Said(untold, said.units, said.rate_hz))
    others = [c for c in plain if c.index not in untold]
    if not _has(others, "accel", "gyro") and (not _has(others, "speed") or _fast(table, plain, said.rate_hz)):
        found = _by_values(table, plain, guesses, untold, stamped=stamped)
        choices = [
            choice if choice.index in said.roles or choice.role.kind != "ignore" else
            replace(by, role=replace(by.role, unit=by.role.unit or said.units.get(by.role.kind, "")))
            for choice, by in zip(choices, found, strict=True)
        ]  # fmt: skip
    choices = one_time(table, choices, said.roles, stamped=stamped)
    if not _has(choices, "accel", "gyro", "speed", "engine"):
        names = [choice.name for choice in choices]
        shown = ", ".join(names[:_SHOWN]) + (" and more" if len(names) > _SHOWN else "")
        raise UnsettledError(
            f"has no column known as acceleration, rotation or speed among {shown}; say which is which: {HELP}.",
            file=table.label,
            choices=choices,
        )
    return tuple(choices)


def _named(table: Table, said: Said) -> tuple[list[Choice], list[NameGuess]]:
    """What was said, and what names and units say."""
    guesses = [_guess(table, column) for column in table.columns]
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
        choices.append(Choice(index, column.name or f"column {index + 1}", role or Role("ignore"), why))
    return _without_doubles(choices, guesses, said.roles), guesses


def _guess(table: Table, column: Column) -> NameGuess:
    """By the column's name; bare x, y, z are what the file's name says."""
    guess = guess_by_name(column.name, column.unit, column.axis)
    bare = column.name.strip().casefold() in ("x", "y", "z") and guess.role is not None
    if bare and guess.role is not None and guess.role.kind == "accel" and not guess.role.unit:
        kind = kind_of_file(table.label)
        if kind == "gyro":
            return NameGuess(Role("gyro", guess.role.axis), why="the file's name")
        if kind == "ignore":
            return NameGuess(Role("ignore"), why="the file's name")
    return guess


def _has(choices: list[Choice], *kinds: str) -> bool:
    return any(choice.role.kind in kinds for choice in choices)


def _fast(table: Table, choices: list[Choice], rate_hz: float | None) -> bool:
    """Whether the rows come faster than any speed does, so that columns without a telling name may be a shake."""
    rate_hz = rate_hz or table.rate_hz
    if rate_hz:
        return rate_hz * _FASTEST_SPEED_STEP_S > 1.0
    time = next((c for c in choices if c.role.kind == "time" and not table.columns[c.index].is_text), None)
    if time is None and not _has(choices, "time"):
        numbers = [c for c in choices if c.role.kind == "ignore" and not c.why and not table.columns[c.index].is_text]
        time = next((c for c in numbers if rises(table.columns[c.index].numbers)), None)
    if time is None:
        return False
    stamps = table.columns[time.index].numbers[:LOOKED_AT]
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
        and np.isfinite(table.columns[c.index].numbers).any() and not _unknown_unit(table.columns[c.index].unit)
    ]  # fmt: skip
    found: dict[int, Choice] = {}
    if not _has(choices, "time") and not stamped:
        text = next(
            (i for i, c in enumerate(table.columns) if c.is_text and i not in said and holds_times(table, i)), None
        )
        rising_ones = [i for i in free if rises(table.columns[i].numbers)]
        rising = (
            text
            if text is not None
            else next((i for i in rising_ones if not numbers_the_rows(table.columns[i])), next(iter(rising_ones), None))
        )
        if rising is not None:
            why = "it holds times" if rising == text else "its numbers rise"
            found[rising] = Choice(rising, choices[rising].name, Role("time"), why)
            free = [i for i in free if i != rising]
    free = [i for i in free if not numbers_the_rows(table.columns[i])]
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
            doubt = "" if _has(choices, "speed") else f"it may be a speed; if so, say {index + 1}=speed:km/h"
            found[index] = Choice(index, name, Role("ignore"), "nothing says what it is", doubt)
        else:
            kind, axis = order[place].split("-")
            role = Role("gyro", axis) if kind == "gyro" else Role("accel", axis)
            found[index] = Choice(
                index, name, role, f"its place, {order[place]} being usual there", "only its place says so"
            )
    return [found.get(choice.index, choice) for choice in choices]


def _unknown_unit(unit: str) -> bool:
    """Whether the file names a unit, and one of nothing that is read here, such as a pressure."""
    return any(letter.isalpha() for letter in unit) and not any(known_unit(unit, q) for q in QUANTITY.values())


def _slow_and_positive(table: Table, index: int, found: Mapping[int, Choice]) -> bool:
    """Whether a lone column looks like a speed: never negative, stamped slower than 15 times a second."""
    values = table.columns[index].numbers
    time = next((table.columns[i] for i, c in found.items() if c.role.kind == "time"), None)
    if bool(np.nanmin(values) < 0.0) or time is None or time.is_text:
        return False
    return guess_unit(time.numbers, with_shake=True)[0] == "s" and float(np.nanmedian(np.diff(time.numbers))) > 0.06
