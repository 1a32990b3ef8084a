"""Which column is the time: the one that was said, else the one with the finest stamps that rises with the rows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from vibdiag.recording.reading.choice import Choice, UnsettledError
from vibdiag.recording.reading.roles import Role
from vibdiag.recording.reading.table import Column, Table
from vibdiag.recording.reading.time_stamps import guess_unit, is_time_text, seconds_from_text
from vibdiag.recording.reading.units import factor_to_si
from vibdiag.recording.signal import FloatArray

__all__ = ["LOOKED_AT", "holds_times", "numbers_the_rows", "one_time", "rises"]

LOOKED_AT: Final = 5000
_FEW: Final = 16
_IN_STEP: Final = 0.02  # of the span: two clocks of one file agree better than this


def one_time(table: Table, choices: list[Choice], said: Mapping[int, Role], *, stamped: bool) -> list[Choice]:
    """Keep one time column: the one said, else the one with the most different stamps."""
    times = [c for c in choices if c.role.kind == "time"]
    if not times and not stamped:
        times = [
            Choice(c.index, c.name, Role("time"), "it holds times")
            for c in choices
            if c.index not in said and table.columns[c.index].is_text and holds_times(table, c.index)
        ][:1]
    if not times and not stamped:
        rising = [
            c for c in choices
            if c.index not in said and c.role.kind == "ignore" and not c.why and not table.columns[c.index].is_text
            and rises(table.columns[c.index].numbers)
        ]  # fmt: skip
        times = [
            Choice(c.index, c.name, Role("time"), "its numbers rise", "only its place says so") for c in rising[:1]
        ]
    if not times and not stamped:
        raise UnsettledError(
            "has no column of times; say which one it is (NAME=time:s, NAME=time:ms), or the rate (rate=100).",
            file=table.label,
            choices=choices,
        )
    if not times:
        return choices
    spoken = [c for c in times if c.index in said]
    best = spoken[0] if spoken else max(times, key=lambda c: (_different(table, c.index), -c.index))
    if not spoken:
        best = _finer(table, best, [c for c in choices if c.index not in said])
        if numbers_the_rows(table.columns[best.index]) and best.why.startswith("its numbers"):
            raise UnsettledError(
                f"has no column of times: {best.name} only numbers the rows; say the rate (rate=100), or, if it is the "
                f"time, its unit ({best.index + 1}=time:ms).",
                file=table.label,
                choices=choices,
            )
    return [
        best if c.index == best.index
        else Choice(c.index, c.name, Role("ignore"), f"{best.name} is the finer clock") if c.role.kind == "time"
        else c
        for c in choices
    ]  # fmt: skip


def _finer(table: Table, coarse: Choice, choices: list[Choice]) -> Choice:
    """Where the stamps repeat, another column that rises in step with them and does not; else the coarse one itself."""
    stamps = table.columns[coarse.index]
    rows = stamps.values.size
    if rows < _FEW or _different(table, coarse.index) * 2 > min(rows, LOOKED_AT):
        return coarse
    length_s = _length_s(stamps, coarse.role.unit)
    for choice in choices:
        column = table.columns[choice.index]
        if choice.index == coarse.index or column.is_text or choice.role.kind not in ("time", "ignore"):
            continue
        numbers = column.numbers
        if not rises(numbers) or _different(table, choice.index) <= 2 * _different(table, coarse.index):
            continue
        length = float(np.ptp(numbers[np.isfinite(numbers)]))
        for unit in ("s", "ms", "us", "ns"):
            if abs(length * factor_to_si(unit, "time") - length_s) <= max(1.0, _IN_STEP * length_s):
                why = f"it rises in step with {coarse.name}, which only has whole steps"
                doubt = "" if choice.role.kind == "time" else f"taken as the time, because {why}"
                return Choice(choice.index, choice.name, Role("time", unit=unit), why, doubt)
    return coarse


def _length_s(stamps: Column, unit: str) -> float:
    """From the least to the greatest stamp, s."""
    if stamps.is_text:
        time_s = seconds_from_text(stamps.text).time_s
    else:
        unit = unit or guess_unit(stamps.numbers[:LOOKED_AT], with_shake=True)[0]
        time_s = stamps.numbers * factor_to_si(unit, "time")
    known = time_s[np.isfinite(time_s)]
    return float(np.ptp(known)) if known.size else 0.0


def _different(table: Table, index: int) -> int:
    values = table.columns[index].values[:LOOKED_AT]
    return int(np.unique(values).size)


def numbers_the_rows(column: Column) -> bool:
    """Whether a column counts 0, 1, 2 or 1, 2, 3."""
    if column.is_text or column.values.size < _FEW:
        return False
    values = column.numbers
    return bool(values[0] in (0.0, 1.0) and np.all(np.diff(values[:LOOKED_AT]) == 1.0))


def rises(values: FloatArray) -> bool:
    finite = values[np.isfinite(values)]
    steps = np.diff(finite)
    return finite.size > 2 and float(np.mean(steps >= 0.0)) > 0.97 and float(finite[-1]) > float(finite[0])


def holds_times(table: Table, index: int) -> bool:
    cells = table.columns[index].text[:20].tolist()
    return sum(is_time_text(cell) for cell in cells) * 2 > len(cells)
