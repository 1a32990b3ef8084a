"""From a table and the roles of its columns to SI readings on the table's own clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.choice import Choice
from vibdiag.recording.reading.disorder import put_right, spread_rows
from vibdiag.recording.reading.dropouts import dropouts
from vibdiag.recording.reading.table import Table
from vibdiag.recording.reading.time_stamps import Clock, seconds_from_numbers, seconds_from_text
from vibdiag.recording.reading.units import RECKONED_TURN_M, factor_to_si
from vibdiag.recording.signal import Axis, Channel, FloatArray, SpeedSource

__all__ = ["Stream", "Track", "to_streams"]

_AXES: Final[dict[str, Axis]] = {"x": "x", "y": "y", "z": "z"}
_HELD_S: Final = 1.0
_LEAST_MOVE_S: Final = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A speed (m/s) or engine speed (rev/s) with the stamps at which it was measured; all finite, both (M,).

    turn_m: what one turn was reckoned as where the turns of a wheel were measured; else None."""

    name: str
    time_s: FloatArray
    values: FloatArray
    source: SpeedSource = "unknown"
    turn_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Stream:
    """Everything on one clock of one file. clock.time_s: (N,) stamps of the channels, in file order."""

    label: str
    file: str
    clock: Clock
    channels: dict[str, Channel]
    speeds: tuple[Track, ...] = ()
    engines: tuple[Track, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def span_s(self) -> tuple[float, float] | None:
        """Earliest and latest stamp of anything on this clock; None when there is none."""
        times = [t for t in (self.clock.time_s, *(track.time_s for track in (*self.speeds, *self.engines))) if t.size]
        return (min(float(t.min()) for t in times), max(float(t.max()) for t in times)) if times else None


def _clock(table: Table, choices: Sequence[Choice], rate_hz: float | None) -> Clock:
    time = next((c for c in choices if c.role.kind == "time"), None)
    if time is None:
        rows = table.columns[0].values.size
        stamps = np.arange(rows, dtype=np.float64) / float(rate_hz or table.rate_hz or 1.0)
        clock = Clock(stamps, absolute=False)
    elif table.columns[time.index].is_text:
        cells = table.columns[time.index].text
        date = next((c for c in choices if c.role.kind == "date" and table.columns[c.index].is_text), None)
        if date is not None:
            cells = np.char.add(np.char.add(table.columns[date.index].text, b" "), cells)
        clock = seconds_from_text(cells)
        if not np.isfinite(clock.time_s).any():
            raise InputError(
                "holds no time that is understood; write seconds, or dates like 2024-05-01T12:00:00.250.",
                file=table.label,
                field=time.name,
            )
    else:
        clock = seconds_from_numbers(table.columns[time.index].numbers, time.role.unit or "s")
    if table.start_epoch_s is not None and not clock.absolute:
        clock = Clock(clock.time_s + table.start_epoch_s, absolute=True)
    return clock


def _mended(clock: Clock, table: Table, choices: Sequence[Choice], notes: list[str]) -> Clock:
    """The clock without stamps that cannot be; what was done is added to the notes."""
    stamped = next((c for c in choices if c.role.kind == "time"), None)
    felt = [table.columns[c.index].numbers for c in choices if c.role.kind == "accel"] or [
        table.columns[c.index].numbers for c in choices if c.role.kind == "gyro"
    ]
    speeds = [table.columns[c.index].numbers for c in choices if c.role.kind == "speed"]
    if stamped is None or not (felt or (speeds and not clock.absolute)):
        return clock
    time_s, told = put_right(clock.time_s, felt or speeds, table.label)
    moved = _moved(clock.time_s, time_s)
    if felt:
        time_s, spread = spread_rows(time_s, felt[0], stamped.name, table.label)
        told = (*told, *spread)
    notes += told
    return replace(clock, time_s=time_s, moved=moved)


def _moved(before_s: FloatArray, after_s: FloatArray) -> tuple[tuple[float, float], ...]:
    """Where the stretches begin that were moved otherwise than the one before, and by how much."""
    rows = np.flatnonzero(np.isfinite(after_s))
    shift_s = after_s[rows] - before_s[rows]
    fresh = np.flatnonzero(np.abs(np.diff(shift_s, prepend=0.0)) > _LEAST_MOVE_S)
    parts = np.split(rows, fresh)[1:]
    return tuple((float(after_s[part].min()), float(shift_s[at])) for part, at in zip(parts, fresh, strict=True))


def to_streams(
    table: Table, choices: Sequence[Choice], *, rate_hz: float | None = None, file: str = ""
) -> list[Stream]:
    """Apply roles and units. Rows without a stamp are left out, as are rows in which no sensor spoke.

    Where acceleration and rotation stand in different rows, each becomes a stream of its own. Raises InputError when
    no stamp is a number.
    """
    clock = _clock(table, choices, rate_hz)
    rows, lost = clock.time_s.size, int(clock.time_s.size - np.count_nonzero(np.isfinite(clock.time_s)))
    if lost == rows:
        raise InputError("holds no row with a time and a reading; is it the right file?", file=table.label)
    notes = [f"{table.label}: {lost} of {rows} rows have no time and were left out."] if lost else []
    clock = _mended(clock, table, choices, notes)
    stamped = np.isfinite(clock.time_s)
    lost = int(rows - np.count_nonzero(stamped))
    keep = None if lost == 0 else stamped
    time_s = clock.time_s if keep is None else clock.time_s[keep]
    tracks: dict[str, list[Track]] = {"speed": [], "engine": []}
    groups: dict[str, dict[str, Channel]] = {"accel": {}, "gyro": {}}
    for choice in choices:
        kind = choice.role.kind
        if kind not in ("accel", "gyro", "speed", "engine"):
            continue
        values = table.columns[choice.index].numbers
        values = values if keep is None else values[keep]
        if not np.isfinite(values).any():
            notes.append(f"{table.label}: {choice.name} holds no number and was left out.")
            continue
        if kind in ("speed", "engine"):
            factor = factor_to_si(choice.role.unit, "speed" if kind == "speed" else "engine")
            track = _track(choice.name, time_s, values * factor, (table.source, choice.name, file or table.label))
            if kind == "speed":
                track = _sound(track, choice, table.label, notes)
            tracks[kind].append(track)
            continue
        axis = _AXES.get(choice.role.axis, "unknown")
        if kind == "accel":
            channel = Channel(
                _scaled(values, factor_to_si(choice.role.unit, "acceleration")), "m/s2", axis, "acceleration"
            )
        else:
            channel = Channel(_scaled(values, factor_to_si(choice.role.unit, "rotation")), "rad/s", axis, "rotation")
        groups[kind][_free_name(choice, {**groups["accel"], **groups["gyro"]})] = channel
    streams = [
        Stream(table.label, file or table.label, replace(clock, time_s=part_s), channels)
        for part_s, channels in _in_rows(time_s, groups["accel"], groups["gyro"])
    ] or [Stream(table.label, file or table.label, replace(clock, time_s=np.empty(0)), {})]
    first = streams[0]
    speeds = tuple(track for track in tracks["speed"] if track.values.size)
    engines = tuple(track for track in tracks["engine"] if track.values.size)
    streams[0] = Stream(first.label, first.file, first.clock, first.channels, speeds, engines, tuple(notes))
    return streams


def _scaled(values: FloatArray, factor: float) -> FloatArray:
    return values if factor == 1.0 else values * factor


def _free_name(choice: Choice, taken: dict[str, Channel]) -> str:
    return choice.name if choice.name not in taken else f"{choice.name} (column {choice.index + 1})"


def _spoken(channels: dict[str, Channel]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    first, *others = [np.isfinite(channel.values) for channel in channels.values()]
    for other in others:
        first |= other
    return first


def _in_rows(
    time_s: FloatArray, accel: dict[str, Channel], gyro: dict[str, Channel]
) -> list[tuple[FloatArray, dict[str, Channel]]]:
    """The channels on the rows in which they spoke; apart where fewer than half of the rows are shared."""
    groups = [group for group in (accel, gyro) if group]
    if len(groups) == 2:
        one, two = _spoken(accel), _spoken(gyro)
        if 2 * np.count_nonzero(one & two) >= min(np.count_nonzero(one), np.count_nonzero(two)):
            groups = [{**accel, **gyro}]
    out = []
    for group in groups:
        rows = _spoken(group)
        if not rows.any():
            continue
        if rows.all():
            out.append((time_s, group))
        else:
            cut = {name: Channel(c.values[rows], c.unit, c.axis, c.kind) for name, c in group.items()}
            out.append((time_s[rows], cut))
    return out


def _track(name: str, time_s: FloatArray, values: FloatArray, said: tuple[str, ...]) -> Track:
    """Drop empty cells, and repeats of a value that is only held until the next one comes (but keep one a second)."""
    known = np.isfinite(values)
    time_s, values = time_s[known], values[known]
    if values.size > 2:
        fresh = np.flatnonzero(np.diff(values, prepend=np.nan) != 0.0)
        if fresh.size * 4 < values.size:
            ticks = np.floor((time_s - time_s[0]) / _HELD_S)
            kept = np.union1d(np.union1d(fresh, np.flatnonzero(np.diff(ticks, prepend=-1.0) != 0.0)), [values.size - 1])
            time_s, values = time_s[kept], values[kept]
    sources = [source for text in said if (source := _source(text)) != "unknown"]
    return Track(name, time_s, values, sources[0] if sources else "unknown")


def _sound(track: Track, choice: Choice, label: str, notes: list[str]) -> Track:
    """A speed without its dropouts, and marked where it counts turns; what was done is added to the notes."""
    order = np.argsort(track.time_s, kind="stable")
    order = order[track.values[order] >= 0.0]  # a speed below zero is another matter
    lost = np.zeros(track.values.size, dtype=np.bool_)
    lost[order] = dropouts(track.time_s[order], track.values[order])
    if lost.any():
        count = int(np.count_nonzero(lost))
        readings = "1 reading falls" if count == 1 else f"{count} readings fall"
        to = " to 0" if not track.values[lost].any() else ""
        notes.append(f"{label}: {choice.name}: {readings} away{to} between fast ones, as no car does; left out.")
        track = replace(track, time_s=track.time_s[~lost], values=track.values[~lost])
    if choice.role.unit.startswith(("rpm", "rad/s")):
        counts = f"{label}: {choice.name} counts turns of a wheel; one is taken as {RECKONED_TURN_M:g} m here."
        notes += [counts] if not any("counts turns" in note for note in notes) else []
        track = replace(track, source="wheel-speed", turn_m=RECKONED_TURN_M)
    return track


def _source(said: str) -> SpeedSource:
    text = said.casefold()
    if "wheel" in text:
        return "wheel-speed"
    if any(word in text for word in ("gps", "gnss", "location", "nmea", "gpx")):
        return "gps"
    return "obd" if any(word in text for word in ("obd", "vss", "vehicle")) else "unknown"
