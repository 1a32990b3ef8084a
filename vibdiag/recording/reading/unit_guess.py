"""Units that nobody wrote down, from the values; and written ones that the values contradict.

Gravity is the best witness: at rest and on average it is 1 g or 9.8 m/s2, whichever way the sensor sits. The bounds
are our own: wide enough for a cheap sensor's offset (some 0.1 g), far narrower than the factor between the units.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.choice import AS_SAID, Choice
from vibdiag.recording.reading.table import Table
from vibdiag.recording.reading.time_stamps import guess_unit
from vibdiag.recording.signal import FloatArray

__all__ = ["unit_doubt", "with_units"]

_GRAVITY: Final = (("m/s2", 8.3, 11.3), ("g", 0.85, 1.15), ("mg", 850.0, 1150.0), ("mm/s2", 8_300.0, 11_300.0))
_FASTEST_DRIVE_MS: Final = 45.0  # 162 km/h: a road test above it is rarer than a speed in km/h without a unit
_LARGEST_TURN_RAD_S: Final = 6.0  # no car turns or pitches through a full circle in a second
_LARGEST_ACCELERATION: Final = 200.0  # above it, values without a unit are counts of a converter
_SLOW_STEP_S: Final = 0.05
_LOOKED_AT: Final = 20_000
_FEW: Final = 16
_BY_HABIT: Final = "habit"
_FULL_SCALE: Final = "g*1"  # as the reader of WAV says it
_FITS: Final = "would fit"
_NO_UNIT: Final = "no unit is given; if it is "
_STILL_SHARE: Final = 0.25  # of gravity: a road shakes a seat by less; a drive off the lights without gravity by more
_SLOWEST_SHAKE_S: Final = 2.0  # nobody records a shake so slowly


def with_units(table: Table, choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Fill in the unit of every used column. Raises InputError where values without a unit can only be raw counts."""
    out = list(choices)
    shake = [c for c in choices if c.role.kind == "accel"]
    for group in _same_device(shake):
        for choice in _acceleration(table, group):
            out[choice.index] = choice
    turning = [c for c in choices if c.role.kind == "gyro"]
    for choice in choices:
        kind, unit = choice.role.kind, choice.role.unit
        if kind == "time" and (shake or turning) and unit == "s" and not choice.why.startswith(AS_SAID):
            out[choice.index] = _finer_time(table, choice)
        if unit or kind in ("accel", "ignore", "date"):
            continue
        if kind == "time":
            if table.columns[choice.index].is_text:
                continue
            stamps = _few(table, choice.index, rows=_LOOKED_AT)
            unit, why = guess_unit(stamps, with_shake=bool(shake or turning))
            doubt = _doubt_of_time(stamps, unit) if shake or turning else ""
            out[choice.index] = _settled(choice, unit, why, doubt)
            continue
        values = np.abs(_few(table, choice.index))
        top = float(np.nanpercentile(values, 99.9)) if np.isfinite(values).any() else 0.0
        if kind == "gyro":
            top = max(_top(table, c.index) for c in turning)
            unit, doubt = ("deg/s", "") if top > _LARGEST_TURN_RAD_S else ("rad/s", _NO_UNIT + "deg/s, say gyro=deg/s")
            why = f"its largest value {top:.3g}"
        elif kind == "speed":
            unit, others = ("km/h", ("mph", "kn", "m/s")) if top > _FASTEST_DRIVE_MS else ("m/s", ("km/h", "mph", "kn"))
            why = f"its top of {top:.3g}"
            doubt = (
                _NO_UNIT
                + f"{', '.join(others[:-1])} or {others[-1]}, say "
                + ", ".join(f"speed={u}" for u in others[:-1])
            )
            doubt += f" or speed={others[-1]}"
        else:
            unit, doubt, why = "rpm", "", "what engine speed is usually given in"
        out[choice.index] = _settled(choice, unit, why, doubt)
    return tuple(out)


def _finer_time(table: Table, choice: Choice) -> Choice:
    """A time that calls itself seconds, at a rate that only milliseconds or less make sense of."""
    if table.columns[choice.index].is_text:
        return choice
    stamps = _few(table, choice.index, rows=_LOOKED_AT)
    steps = np.diff(stamps[np.isfinite(stamps)])
    step = float(np.median(steps)) if steps.size > _FEW else 0.0
    if step < _SLOWEST_SHAKE_S:
        return choice
    unit, _ = guess_unit(stamps, with_shake=True)
    if unit == "s":
        return choice
    doubt = (
        f"its name says s, but one reading in {step:.4g} s shows no shake, so it is taken as {unit}; else say time=s"
    )
    return replace(choice, role=replace(choice.role, unit=unit), doubt=doubt)


def unit_doubt(choices: Sequence[Choice]) -> str:
    """In words, why the unit of the acceleration is in doubt; "" where gravity, a name or a person settles it.

    A unit that gravity contradicts, and that was therefore changed, is settled.
    """
    for choice in choices:
        if choice.role.kind == "accel" and choice.doubt and (choice.why.endswith(_BY_HABIT) or _FITS in choice.doubt):
            return f"{choice.name}: {choice.doubt}"
        if choice.role.kind == "accel" and choice.role.unit == _FULL_SCALE and not choice.why.startswith(AS_SAID):
            return f"{choice.name}: the file gives no unit, so its full scale is only taken as 1 g"
    return ""


def _doubt_of_time(stamps: FloatArray, unit: str) -> str:
    """Steps that make sense as seconds of a slow sensor and as milliseconds of a fast one."""
    steps = np.diff(stamps[np.isfinite(stamps)])
    step = float(np.median(steps)) if steps.size else 0.0
    if unit == "s" and step > _SLOW_STEP_S:
        return f"taken as s its rate is only {1.0 / step:.2g} Hz; if it is ms, say time=ms"
    if unit == "ms" and 0.5 <= step < 2.0:
        return f"taken as ms its rate is {1000.0 / step:.0f} Hz; if it is s, say time=s"
    return ""


def _settled(choice: Choice, unit: str, why: str, doubt: str = "") -> Choice:
    reason = f"{choice.why}; {unit} by {why}" if choice.why else f"{unit} by {why}"
    return replace(choice, role=replace(choice.role, unit=unit), why=reason, doubt=doubt or choice.doubt)


def _few(table: Table, index: int, *, rows: int | None = None) -> FloatArray:
    """At most some 20,000 values: evenly picked, or the first ones where steps matter."""
    values = table.columns[index].numbers
    return values[:rows] if rows else values[:: max(1, values.size // _LOOKED_AT)]


def _top(table: Table, index: int) -> float:
    values = np.abs(_few(table, index))
    return float(np.nanpercentile(values, 99.9)) if np.isfinite(values).any() else 0.0


def _same_device(shake: list[Choice]) -> list[list[Choice]]:
    """Three axes of one sensor side by side, as x, y, z follow each other; whatever is left over, together."""
    groups: list[list[Choice]] = []
    for choice in shake:
        axes = {c.role.axis for c in groups[-1]} if groups else set()
        if not groups or (choice.role.axis and choice.role.axis in axes):
            groups.append([])
        groups[-1].append(choice)
    return groups


def _acceleration(table: Table, group: list[Choice]) -> list[Choice]:
    means, spreads = [], []
    for choice in group:
        values = _few(table, choice.index)
        values = values[np.isfinite(values)]
        means.append(float(values.mean()) if values.size else 0.0)
        spreads.append(float(values.std()) if values.size else 0.0)
    with np.errstate(over="ignore"):
        level, spread = float(np.sqrt(np.sum(np.square(means)))), float(np.sqrt(np.sum(np.square(spreads))))
    whole = len({choice.role.axis for choice in group} & {"x", "y", "z"}) == 3 and spread < _STILL_SHARE * level
    seen = next((unit for unit, low, high in _GRAVITY if low <= level <= high), None)
    out = []
    for choice in group:
        unit, said = choice.role.unit, choice.why.startswith(AS_SAID)
        if unit and seen and unit != seen and {unit, seen} <= {"g", "m/s2"}:
            if not said and (unit == "g" or whole):
                doubt = f"its unit says {unit}, but gravity shows as {level:.3g}, so it is taken as {seen}"
                out.append(_settled(choice, seen, f"gravity, {level:.3g} on average", doubt))
            else:
                doubt = f"its average of {level:.3g} {_FITS} {seen}; if so, say accel={seen}"
                out.append(replace(choice, doubt=doubt))
        elif unit:
            out.append(choice)
        elif seen:
            out.append(_settled(choice, seen, f"gravity, {level:.3g} on average"))
        elif level > _LARGEST_ACCELERATION:
            raise InputError(
                f"has no unit, and its average of {level:.0f} looks like counts of a converter; "
                f"say how many make one g, such as accel=g/{level:.0f}.",
                file=table.label,
                field=choice.name,
            )
        else:
            doubt = "neither a unit nor gravity shows what it is in; if it is g, say accel=g"
            out.append(_settled(choice, "m/s2", _BY_HABIT, doubt))
    return out
