"""One recording from several clocks: by dates where both have them, by a common clock where it shows, else by start.

The stream with most samples of acceleration gives the time axis. Speed keeps its own stamps; channels of another
clock are interpolated onto the axis, and it is said so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.streams import Stream, Track
from vibdiag.recording.reading.two_speeds import reads_more
from vibdiag.recording.signal import Channel, EngineTrack, FloatArray, Place, Recording, SpeedSource, SpeedTrack

__all__ = ["join_streams"]

_SAME_CLOCK_SHARE: Final = 0.8  # of the shorter span: clocks that happen to agree by chance overlap less
_QUARTER_HOUR_S: Final = 900.0  # all time zones are whole multiples of it
_LARGEST_HOLE_S: Final = 1.0
# Wheel speeds detect a smaller imbalance than satellite speed, and both are finer than a diagnostic socket's 1 km/h.
_PREFERRED: Final[tuple[SpeedSource, ...]] = ("wheel-speed", "gps", "obd", "cruise", "unknown")


@dataclass(frozen=True, slots=True)
class _Aligned:
    stream: Stream
    shift_s: float


def join_streams(streams: Sequence[Stream], place: Place) -> Recording:
    """One recording whose clock starts with its first stamp of acceleration or rotation.

    Raises InputError when no stream holds acceleration or rotation.
    """
    shaken = [stream for stream in streams if stream.channels]
    if not shaken:
        labels = ", ".join(dict.fromkeys(stream.label for stream in streams))
        raise InputError(
            "holds no acceleration or rotation, only speed; add the file with the shake, "
            "or say which column it is (NAME=accel-z:g).",
            file=labels,
        )
    notes = [note for stream in streams for note in stream.notes]
    whole, chained = _chained(streams)
    shaken = [stream for stream in whole if stream.channels]
    main = max(shaken, key=lambda s: (any(c.kind == "acceleration" for c in s.channels.values()), s.clock.time_s.size))
    aligned = []
    for stream in whole:
        on_it = _moved_alike(main, stream)
        shift_s, note = _shift(main, on_it)
        on_it, cut = _up_to_restart(main, on_it, shift_s)
        aligned.append(_Aligned(on_it, shift_s))
        notes += [text for text in (note, cut) if text]
    notes += chained
    origin_s = float(main.clock.time_s.min())
    time_s = main.clock.time_s - origin_s if origin_s else main.clock.time_s
    channels = dict(main.channels)
    for other in aligned:
        if other.stream is main or not other.stream.channels:
            continue
        label = other.stream.label
        for name, channel in other.stream.channels.items():
            free = name if name not in channels else f"{label}: {name}"
            free = free if free not in channels else f"{free} ({len(channels) + 1})"
            values = _onto(time_s, other.stream.clock.time_s + (other.shift_s - origin_s), channel.values)
            channels[free] = Channel(values, channel.unit, channel.axis, channel.kind)
        if label != main.label:
            notes.append(f"{label}: {', '.join(other.stream.channels)} interpolated onto the clock of {main.label}.")
        else:
            notes.append(f"{label}: {', '.join(other.stream.channels)} interpolated onto the rows of acceleration.")
    speed, wheels, speed_note = _speed(aligned, origin_s)
    engine, engine_note = _engine(aligned, origin_s)
    notes += [text for text in (speed_note, engine_note) if text]
    return Recording(time_s, channels, speed, engine, place, tuple(notes), wheels)


def _moved_alike(main: Stream, other: Stream) -> Stream:
    """A speed whose clock was set back as often as that of the shake, its stretches moved by as much as there."""
    mine, its = main.clock.moved, other.clock.moved
    if other.channels or other.file == main.file or not its or len(mine) != len(its):
        return other
    begins = np.array([begin_s for begin_s, _ in its])
    more_s = np.array([0.0, *(one[1] - two[1] for one, two in zip(mine, its, strict=True))])

    def moved(track: Track) -> Track:
        return replace(track, time_s=track.time_s + more_s[np.searchsorted(begins, track.time_s, side="right")])

    clock = replace(other.clock, moved=mine)
    return replace(other, clock=clock, speeds=tuple(map(moved, other.speeds)), engines=tuple(map(moved, other.engines)))


def _up_to_restart(main: Stream, other: Stream, shift_s: float) -> tuple[Stream, str]:
    """A speed without what follows where only one of the two clocks was set back, since nothing tells its place."""
    mine, its = main.clock.moved, other.clock.moved
    if other.channels or other.file == main.file or len(mine) == len(its):
        return other, ""
    end_s = min([*(begin_s for begin_s, _ in its[:1]), *(begin_s - shift_s for begin_s, _ in mine[:1])])

    def early(track: Track) -> Track:
        kept = track.time_s < end_s
        return replace(track, time_s=track.time_s[kept], values=track.values[kept])

    note = (
        f"{other.label}: its clock and that of {main.label} were not set back alike, so it is used for the first "
        "stretch only; hand in each stretch with its own speed, or stamp both with date and time."
    )
    speeds, engines = (
        tuple(cut for cut in map(early, tracks) if cut.values.size) for tracks in (other.speeds, other.engines)
    )
    return replace(other, speeds=speeds, engines=engines), note


def _shift(main: Stream, other: Stream) -> tuple[float, str]:
    """What to add to the other clock, and how that was decided when it is not plain."""
    mine, its = main.span_s, other.span_s
    one_file = other.file == main.file and other.clock.absolute == main.clock.absolute
    if one_file or mine is None or its is None:
        return 0.0, ""
    shared_s = min(mine[1], its[1]) - max(mine[0], its[0])
    by_start_s = mine[0] - its[0]
    if main.clock.absolute and other.clock.absolute:
        if shared_s > 0.0 or set(main.channels) == set(other.channels):
            return 0.0, ""
        if not (main.clock.zone_known and other.clock.zone_known):
            zone_s = round(by_start_s / _QUARTER_HOUR_S) * _QUARTER_HOUR_S
            if min(mine[1], its[1] + zone_s) > max(mine[0], its[0] + zone_s):
                return (
                    zone_s,
                    f"{other.label}: moved by {zone_s / 3600.0:+g} h onto {main.label}, as a time zone explains it.",
                )
        return by_start_s, (
            f"{other.label}: its dates do not overlap those of {main.label}, so both are taken to start together; "
            "check that they are of one drive."
        )
    if not main.clock.absolute and not other.clock.absolute:
        shorter_s = min(mine[1] - mine[0], its[1] - its[0])
        if shared_s > 0.0 and shared_s >= _SAME_CLOCK_SHARE * shorter_s:
            return 0.0, f"{other.label}: taken to run on the same clock as {main.label}."
        if set(main.channels) == set(other.channels) and shared_s <= 0.0:
            return 0.0, ""
    return by_start_s, f"{other.label}: no common clock with {main.label}, so both are taken to start together."


def _chained(streams: Sequence[Stream]) -> tuple[list[Stream], list[str]]:
    """Parts of one log, the same channels and speeds one after the other, put end to end; a note on each such log."""
    groups: dict[tuple[object, ...], list[Stream]] = {}
    for stream in streams:
        groups.setdefault(_shape(stream), []).append(stream)
    out, notes = [], []
    for parts in groups.values():
        spans = sorted((stream.span_s or (0.0, 0.0), number) for number, stream in enumerate(parts))
        apart = all(one[0][1] <= two[0][0] for one, two in pairwise(spans))
        if len(parts) == 1 or not apart:
            out += parts
            continue
        in_time = [parts[number] for _, number in spans]
        out.append(_end_to_end(in_time))
        notes.append(f"{', '.join(p.label for p in in_time)}: taken as parts of one recording, one after the other.")
    return out, notes


def _shape(stream: Stream) -> tuple[object, ...]:
    """What parts of one log have in common."""
    tracks = [(t.name, t.source, t.turn_m) for t in (*stream.speeds, *stream.engines)]
    return (stream.clock.absolute, *stream.channels, *tracks)


def _end_to_end(parts: Sequence[Stream]) -> Stream:
    def tracks(each: Sequence[tuple[Track, ...]]) -> tuple[Track, ...]:
        return tuple(
            replace(
                same[0],
                time_s=np.concatenate([t.time_s for t in same]),
                values=np.concatenate([t.values for t in same]),
            )
            for same in zip(*each, strict=True)
        )

    first = parts[0]
    time_s = np.concatenate([part.clock.time_s for part in parts])
    channels = {
        name: Channel(np.concatenate([part.channels[name].values for part in parts]), c.unit, c.axis, c.kind)
        for name, c in first.channels.items()
    }
    return replace(
        first,
        clock=replace(first.clock, time_s=time_s, moved=tuple(one for part in parts for one in part.clock.moved)),
        channels=channels,
        speeds=tracks([part.speeds for part in parts]),
        engines=tracks([part.engines for part in parts]),
    )


def _onto(axis_s: FloatArray, time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values at the stamps of another clock; not-a-number outside, and in holes longer than a second."""
    known = np.isfinite(values)
    time_s, values = time_s[known], values[known]
    if time_s.size == 0:
        return np.full(axis_s.size, np.nan)
    order = np.argsort(time_s, kind="stable")
    time_s, values = time_s[order], values[order]
    out = np.interp(axis_s, time_s, values, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(time_s, axis_s), 1, max(1, time_s.size - 1))
    if time_s.size > 1:
        out[time_s[after] - time_s[after - 1] > _LARGEST_HOLE_S] = np.nan
    return np.asarray(out, dtype=np.float64)


def _speed(aligned: list[_Aligned], origin_s: float) -> tuple[SpeedTrack | None, dict[str, SpeedTrack], str]:
    """The best track, each wheel's, and a note; wheels are averaged, so that a curve or a slip weighs less."""
    found = [(track, a.shift_s - origin_s, a.stream.label) for a in aligned for track in a.stream.speeds]
    if not found:
        return None, {}, ""
    best = min(found, key=lambda item: (_PREFERRED.index(item[0].source), -item[0].values.size))
    track, shift_s, label = best
    alike = [
        t for t, _, where in found
        if where == label and t.source == track.source == "wheel-speed" and t.turn_m == track.turn_m
        and t.values.size == track.values.size
        and np.array_equal(t.time_s, track.time_s)
    ]  # fmt: skip
    values = np.mean([t.values for t in alike], axis=0) if len(alike) > 1 else track.values
    left = [
        t.name + _beside(t, track, values, later_s=shift - shift_s)
        for t, shift, _ in found
        if t is not track and t not in alike
    ]
    note = f"Road speed is the mean of {', '.join(t.name for t in alike)}" if len(alike) > 1 else ""
    if left:
        note = (note or f"Road speed is {track.name}") + f"; not used: {', '.join(left)}"
    time_s = track.time_s + shift_s
    wheels = {t.name: SpeedTrack(time_s, t.values, t.source, t.turn_m) for t in alike} if len(alike) > 1 else {}
    return SpeedTrack(time_s, values, track.source, track.turn_m), wheels, note + "." if note else ""


def _beside(other: Track, track: Track, values: FloatArray, *, later_s: float) -> str:
    """In words, by how much a speed that is not used reads more or less than the one that is."""
    if other.turn_m != track.turn_m:
        return ""
    more = reads_more(track.time_s, values, other.time_s + later_s, other.values)
    if more is None:
        return ""
    way = "more" if more > 0.0 else "less"
    return f", which reads {abs(100.0 * more):.1f} % {way} (so would a circumference found by it)"


def _engine(aligned: list[_Aligned], origin_s: float) -> tuple[EngineTrack | None, str]:
    found: list[tuple[Track, float]] = [(track, a.shift_s - origin_s) for a in aligned for track in a.stream.engines]
    if not found:
        return None, ""
    track, shift_s = max(found, key=lambda item: item[0].values.size)
    left = [t.name for t, _ in found if t is not track]
    note = f"Engine speed is {track.name}; not used: {', '.join(left)}." if left else ""
    return EngineTrack(track.time_s + shift_s, track.values), note
