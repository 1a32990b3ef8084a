"""Time columns to seconds: elapsed s, ms, us, ns; epoch in any of them; ISO 8601 and local dates; clock times.

A stamp without a zone is taken as it stands and said to have none, because its file may sit beside one in UTC.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Final

import numpy as np

from vibdiag.recording.reading.table import Text
from vibdiag.recording.reading.units import factor_to_si
from vibdiag.recording.signal import FloatArray

__all__ = ["Clock", "guess_unit", "is_time_text", "seconds_from_numbers", "seconds_from_text"]

_ISO = re.compile(
    rb"\s*\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,9})?)?\s*(?P<zone>Z|[+-]\d{2}:?\d{2})?\s*$", re.I
)
_DATE = re.compile(
    rb"\s*(?P<a>\d{1,4})(?P<mark>[-/.])(?P<b>\d{1,2})[-/.](?P<c>\d{2,4})[T ,]+"
    rb"(?P<hour>\d{1,2}):(?P<minute>\d{2})(:(?P<second>\d{2}([.,:]\d{1,9})?))?\s*(?P<half>[AP]M)?"
    rb"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?\s*$",
    re.I,
)
_MONTHS: Final = {name: i for i, name in enumerate(b"jan feb mar apr may jun jul aug sep oct nov dec".split(), 1)}
_MONTH: Final = b"(?P<month>" + b"|".join(_MONTHS) + b")"
_NAMED_MONTH = re.compile(
    rb"\s*(?P<day>\d{1,2})[- ]" + _MONTH + rb"[a-z]*[- ](?P<year>\d{4})[T ,]+"
    rb"(?P<hour>\d{1,2}):(?P<minute>\d{2})(:(?P<second>\d{2}([.,:]\d{1,9})?))?\s*(?P<half>[AP]M)?"
    rb"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?\s*$",
    re.I,
)
_WEEKDAY_FIRST = re.compile(
    rb"\s*(mon|tue|wed|thu|fri|sat|sun)[a-z]*,?\s+" + _MONTH + rb"[a-z]*\s+(?P<day>\d{1,2})\s+"
    rb"(?P<hour>\d{1,2}):(?P<minute>\d{2})(:(?P<second>\d{2}([.,:]\d{1,9})?))?\s*(?P<half>[AP]M)?"
    rb"\s*(?:UTC|GMT)?(?P<zone>Z|[+-]\d{2}:?\d{2})?\s+(?P<year>\d{4})\s*$",
    re.I,
)
_CLOCK = re.compile(
    rb"\s*(?P<hour>\d{1,2}):(?P<minute>\d{2})(:(?P<second>\d{2}([.,:]\d{1,9})?))?\s*(?P<half>[AP]M)?\s*$", re.I
)
_EPOCH_YEARS: Final = (8.0e8, 4.2e9)  # 1995 to 2103: no elapsed time of a road test lies there in any unit
_UNITS: Final = (("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9))
_LONGEST_SPEED_STEP_S: Final = 15.0
_DAYS: Final = (30_000.0, 80_000.0)  # 1982 to 2119, counted as spreadsheets do
_BLOCK: Final = 1 << 16  # cells converted at once, to bound the memory
_DAY_S: Final = 86_400.0


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Stamps in seconds. absolute: counted from 1970. zone_known: False where a local time may be meant.

    moved: stretches whose clock had been set back: (where one begins now, s, and by how much it was moved, s)."""

    time_s: FloatArray
    absolute: bool
    zone_known: bool = True
    moved: tuple[tuple[float, float], ...] = ()


def is_time_text(cell: bytes) -> bool:
    """Whether a cell is a date with a time, or a time of day."""
    return (
        b":" in cell
        and len(cell) <= 64
        and any(pattern.match(cell) for pattern in (_ISO, _DATE, _CLOCK, _NAMED_MONTH, _WEEKDAY_FIRST))
    )


def guess_unit(stamps: FloatArray, *, with_shake: bool) -> tuple[str, str]:
    """Unit of a time column that names none, and the reason. stamps: (N,), in file order.

    An epoch is known by its size and step together. Else the step decides: it is under half a second for
    acceleration (under 0.1 s where it could be milliseconds or less: slower is of no use here, and a fast sensor
    stamped in the next finer unit looks like that), and under 15 s for speed.

    >>> guess_unit(np.array([0.0, 10.0, 20.0]), with_shake=True)[0]
    'ms'
    >>> guess_unit(np.array([1.7e9, 1.7e9 + 0.01]), with_shake=True)
    ('s', 'its count from 1970')
    """
    finite = stamps[np.isfinite(stamps)]
    if finite.size == 0:
        return "s", "no stamp is a number"
    typical = float(np.median(finite))
    steps = np.abs(np.diff(finite))
    steps = steps[steps > 0.0]
    if steps.size == 0:
        return "s", "all stamps are equal"
    step = float(np.median(steps))
    for unit, factor in _UNITS:
        if _EPOCH_YEARS[0] < typical * factor < _EPOCH_YEARS[1] and step * factor < _LONGEST_SPEED_STEP_S:
            return unit, "its count from 1970"
    if _DAYS[0] < typical < _DAYS[1] and step * _DAY_S < (0.5 if with_shake else _LONGEST_SPEED_STEP_S):
        return "d", "its count of days, as spreadsheets keep time"
    for unit, factor in _UNITS[:-1]:
        longest_s = (0.5 if unit == "s" else 0.1) if with_shake else _LONGEST_SPEED_STEP_S
        if step * factor < longest_s:
            return unit, f"its step of {step:.4g}"
    return "ns", f"its step of {step:.4g}"


def seconds_from_numbers(stamps: FloatArray, unit: str) -> Clock:
    """Seconds from a numeric column; the epoch is recognised by its size. Raises ValueError for an unknown unit."""
    factor = factor_to_si(unit, "time")
    time_s = stamps if factor == 1.0 else stamps * factor
    few = time_s[:: max(1, time_s.size // 10_000)]
    finite = few[np.isfinite(few)]
    typical = float(np.median(finite)) if finite.size else 0.0
    return Clock(time_s, absolute=_EPOCH_YEARS[0] < typical < _EPOCH_YEARS[1])


def seconds_from_text(cells: Text) -> Clock:
    """Seconds from (N,) text cells; not-a-number where a cell is no time. Times of day run on over midnight."""
    first = next((cell for cell in cells[:1000].tolist() if is_time_text(cell)), b"")
    iso = _ISO.match(first)
    if iso is not None:
        blocks = [_all_iso(cells[i : i + _BLOCK], iso["zone"]) for i in range(0, cells.size, _BLOCK)]
        sound = [block for block in blocks if block is not None]
        if len(sound) == len(blocks):
            time_s = np.concatenate(sound)
            return Clock(time_s, absolute=True, zone_known=iso["zone"] is not None)
    named = next((pattern for pattern in (_NAMED_MONTH, _WEEKDAY_FIRST) if pattern.match(first)), None)
    if named is not None:
        known = named.match(first)
        time_s = _each(cells, named, _named_date)
        return Clock(time_s, absolute=True, zone_known=known is not None and known["zone"] is not None)
    date = _DATE.match(first)
    if date is None and iso is None:
        time_s = _over_midnight(_each(cells, _CLOCK, _time_of_day_s))
        return Clock(time_s, absolute=False, zone_known=False)
    return Clock(_dates(cells), absolute=True, zone_known=date is not None and date["zone"] is not None)


def _all_iso(cells: Text, zone: bytes | None) -> FloatArray | None:
    """All cells at once, when every one is ISO with the zone of the first; None when they are not."""
    shift_s = 0.0
    width = cells.dtype.itemsize
    if zone is not None:
        lengths = np.char.str_len(cells)
        if lengths.size == 0 or int(lengths.min()) != int(lengths.max()):
            return None
        width = int(lengths[0]) - len(zone)
        if width <= 0 or not bool(np.all(cells == np.char.add(cells.astype(f"S{width}"), zone))):
            return None
        shift_s = _zone_s(zone)
    bare = np.ascontiguousarray(cells.astype(f"S{width}"))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            ticks = bare.astype("datetime64[ns]")
    except (ValueError, UserWarning, DeprecationWarning):
        return None
    time_s = ticks.view(np.int64) / 1e9 - shift_s
    time_s[np.isnat(ticks)] = np.nan
    return np.asarray(time_s, dtype=np.float64)


def _zone_s(zone: bytes | None) -> float:
    if zone is None or zone.upper() in (b"Z", b"UTC", b"GMT"):
        return 0.0
    sign = -1.0 if zone.startswith(b"-") else 1.0
    return sign * (int(zone[1:3]) * 3600.0 + int(zone[-2:]) * 60.0)


def _time_of_day_s(found: re.Match[bytes]) -> float:
    hour, minute = int(found["hour"]), int(found["minute"])
    half = found["half"]
    if half is not None:
        hour = hour % 12 + (12 if half.upper() == b"PM" else 0)
    second_text = (found["second"] or b"0").replace(b",", b".").replace(b":", b".")
    second = float(second_text)
    return hour * 3600.0 + minute * 60.0 + second if hour < 24 and minute < 60 and second < 61.0 else np.nan


def _dates(cells: Text) -> FloatArray:
    """Year first, or day first with dots and dashes; with slashes month or day first, decided once for the column.

    A number above twelve decides. Where there is none both are tried, and the one stands under which the column lasts
    less long, since a drive over midnight lasts no month; where they last alike, month first.
    """
    firsts: set[bytes] = set()
    seconds: set[bytes] = set()
    for cell in cells:
        found = _DATE.match(cell)
        if found is not None and found["mark"] == b"/" and len(found["a"]) < 4:
            firsts.add(found["a"])
            seconds.add(found["b"])
    ways = [True, False]
    if max(map(int, firsts), default=0) > 12:
        ways = [False]
    elif max(map(int, seconds), default=0) > 12 or len(firsts) + len(seconds) <= 2:
        ways = [True]
    return min((_each(cells, _DATE, partial(_one_date, month_first=way)) for way in ways), key=_lasts_s)


def _lasts_s(time_s: FloatArray) -> float:
    known = time_s[np.isfinite(time_s)]
    return float(np.ptp(known)) if known.size else 0.0


def _each(cells: Text, pattern: re.Pattern[bytes], seconds: Callable[[re.Match[bytes]], float]) -> FloatArray:
    """Cell by cell, one at a time: an hour of dates as matches would not fit the memory."""
    matches = (pattern.match(cell) for cell in cells)
    return np.fromiter((np.nan if one is None else seconds(one) for one in matches), np.float64, count=cells.size)


def _one_date(found: re.Match[bytes], *, month_first: bool) -> float:
    a, b, c = int(found["a"]), int(found["b"]), int(found["c"])
    if len(found["a"]) == 4:
        year, month, day = a, b, c
    else:
        year, month, day = (c, a, b) if month_first and found["mark"] == b"/" else (c, b, a)
        year += 2000 if year < 100 else 0
    return _epoch_s(year, month, day, found)


def _named_date(found: re.Match[bytes]) -> float:
    return _epoch_s(int(found["year"]), _MONTHS[found["month"].lower()], int(found["day"]), found)


def _epoch_s(year: int, month: int, day: int, found: re.Match[bytes]) -> float:
    """Seconds since 1970 of a day and the time of day beside it; not-a-number where there is no such day."""
    try:
        midnight = datetime(year, month, day) - datetime(1970, 1, 1)
    except ValueError:
        return np.nan
    return midnight / timedelta(seconds=1) + _time_of_day_s(found) - _zone_s(found["zone"])


def _over_midnight(time_s: FloatArray) -> FloatArray:
    """Add a day where the time of day falls back by more than half a day.

    >>> _over_midnight(np.array([86399.0, 86399.5, 0.0, 0.5]))[-1]
    np.float64(86400.5)
    """
    known = np.flatnonzero(np.isfinite(time_s))
    days = np.cumsum(np.diff(time_s[known], prepend=time_s[known[:1]]) < -_DAY_S / 2.0)
    out = time_s.copy()
    out[known] += days * _DAY_S
    return out
