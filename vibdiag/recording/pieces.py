"""A recording with long pauses, closed up: every pause shortened to a few seconds, so that its length costs nothing.

A logger that was stopped and started again, or whose clock jumped by years, leaves pieces that share one car and one
circumference. The grid and the smoothed speed run through a pause, so a long one would fill the memory and leave the
speed to be foretold over minutes; shortened, both have no more to bridge than a lost signal. Only the analysis uses
such a clock; what is told about the recording is told by its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from vibdiag.recording.signal import EngineTrack, FloatArray, Recording, SpeedTrack

__all__ = ["closed_up"]

_PAUSE_S: Final = 10.0  # a longer hole becomes one of this length
_PAUSE_STEPS: Final = 20.0  # and is at least so many of the usual steps
_BESIDE_S: Final = 3.0  # readings of the speed so close to a piece belong to it
_AROUND_S: Final = 30.0  # readings of the speed further than this before the first stamp or after the last say nothing

Track = TypeVar("Track", SpeedTrack, EngineTrack)


def closed_up(recording: Recording) -> Recording:
    """The same recording with its pauses shortened; the recording itself where it has none.

    Tracks of speed follow, and lose what was read in a pause or far outside. Stamps that are no numbers stay so.
    """
    stamps = recording.time_s
    known = np.isfinite(stamps)
    if not known.all():
        stamps = stamps[known]
    if stamps.size < 2:
        return recording
    steps = np.diff(stamps)
    if float(steps.min()) < 0.0:
        stamps = np.sort(stamps)
        steps = np.diff(stamps)
    usual_s = float(np.median(steps[:: max(1, steps.size // 50_000)]))
    longest_s = max(_PAUSE_S, _PAUSE_STEPS * usual_s)
    pauses = np.flatnonzero(steps > longest_s)
    begins = np.concatenate((stamps[:1], stamps[pauses + 1]))
    ends = np.concatenate((stamps[pauses], stamps[-1:]))
    saved = np.concatenate(([0.0], np.cumsum(steps[pauses] - longest_s)))
    speed = None if recording.speed is None else _moved_speed(recording.speed, begins, ends, saved)
    engine = None if recording.engine is None else _moved(recording.engine, begins, ends, saved)
    wheels = {name: _moved_speed(track, begins, ends, saved) for name, track in recording.wheels.items()}
    if not pauses.size:
        return replace(recording, speed=speed, engine=engine, wheels=wheels)
    piece = np.clip(np.searchsorted(begins, recording.time_s, side="right") - 1, 0, begins.size - 1)
    return replace(recording, time_s=recording.time_s - saved[piece], speed=speed, engine=engine, wheels=wheels)


def _moved_speed(track: SpeedTrack, begins: FloatArray, ends: FloatArray, saved: FloatArray) -> SpeedTrack:
    if track.source != "cruise":
        return _moved(track, begins, ends, saved)
    # a held speed was not read at its stamps; it holds from end to end
    held = np.isfinite(track.time_s) & np.isfinite(track.speed_ms)
    if not held.any():
        return track
    edges = np.array([begins[0], ends[-1]])
    values = np.interp(edges, track.time_s[held], track.speed_ms[held])
    return SpeedTrack(edges - saved[[0, -1]], values, track.source, track.turn_m)


def _moved(track: Track, begins: FloatArray, ends: FloatArray, saved: FloatArray) -> Track:
    """Each reading with the piece it stands in or beside."""
    time_s = track.time_s
    piece = np.clip(np.searchsorted(begins - _BESIDE_S, time_s, side="right") - 1, 0, begins.size - 1)
    after = np.append(np.full(begins.size - 1, _BESIDE_S), _AROUND_S)
    kept = np.isfinite(time_s) & (time_s >= begins[0] - _AROUND_S) & (time_s <= ends[piece] + after[piece])
    if kept.all() and not saved[-1]:
        return track
    moved_s = (time_s - saved[piece])[kept]
    if isinstance(track, SpeedTrack):
        return replace(track, time_s=moved_s, speed_ms=track.speed_ms[kept])
    return replace(track, time_s=moved_s, rev_per_s=track.rev_per_s[kept])
