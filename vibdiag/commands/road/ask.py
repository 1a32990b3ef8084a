"""From what was typed to an analysed recording."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast, get_args

import numpy as np

from vibdiag.commands.road.car import Car, searched_m
from vibdiag.files.errors import InputError
from vibdiag.recording.analyse import Analysis, analyse
from vibdiag.recording.compare import Change, compare_orders, same_channels
from vibdiag.recording.progress import Tell, part, untold
from vibdiag.recording.reading.open_recording import Reading, open_recording
from vibdiag.recording.signal import Place, Recording, SpeedTrack

__all__ = [
    "Judged",
    "changes_between",
    "corrections",
    "judge",
    "place_of",
    "rotation_doubt",
    "unit_doubt",
    "what_is_wrong",
]

_LONG_BYTES = 5_000_000
_SETTLED = 0.95
_SAME_CAR = 0.012  # warm against cold, full against empty, and what two short recordings err (from memory)


@dataclass(frozen=True)
class Judged:
    """A recording as it was read, the circumferences that were searched (m), and what was found."""

    reading: Reading
    searched_m: tuple[float, float]
    analysis: Analysis


def place_of(text: str | None, option: str) -> Place:
    """Where the sensor sat; raises InputError for a place that is not known."""
    if text is None:
        return "unknown"
    if text not in get_args(Place):
        raise InputError(f"'{text}' is not known; write one of: {', '.join(get_args(Place))}", field=option)
    return cast(Place, text)


def corrections(said: Sequence[str]) -> dict[str, str]:
    """`NAME=ROLE` each; a name may hold an equals sign. Raises InputError where there is none."""
    found = {}
    for text in said:
        name, equals, role = text.rpartition("=")
        if not equals or not name.strip() or not role.strip():
            raise InputError(f"'{text}' is no correction; write NAME=ROLE, e.g. CH3=accel-z:g", field="--column")
        found[name.strip()] = role.strip()
    return found


def judge(
    files: Sequence[Path], car: Car, *, columns: dict[str, str], place: Place, like: Judged | None = None
) -> Judged:
    """Read and analyse one recording; raises InputError with one sentence.

    like: another recording of the same car. A circumference that it settles is looked at first, so that a weak order
    is found and a gone one is bounded in its own place; where the wide search settles another, the tyres are others.
    """
    size = sum(file.stat().st_size for file in files if file.is_file())
    with _telling(f"Reading {size / 1e6:.0f} MB", long=size > _LONG_BYTES) as tell:
        reading = open_recording(files, columns=columns, place=place, tell=tell)
    recording = reading.recording
    if car.held_kmh is not None:
        recorded = recording.speed
        if recorded is not None and np.isfinite(recorded.speed_ms).any():
            mean = 3.6 * float(np.nanmedian(recorded.speed_ms))
            instead = (
                f"--speed {car.held_kmh:g} is used instead of the recorded speed, which is {mean:.0f} km/h usually."
            )
            recording = replace(recording, notes=(*recording.notes, instead))
        held = np.full(2, car.held_kmh / 3.6)
        ends = np.array([np.nanmin(recording.time_s), np.nanmax(recording.time_s)])
        recording = replace(recording, speed=SpeedTrack(ends, held, "cruise"), wheels={})
    searched = searched_m(car.tyres, "unknown" if recording.speed is None else recording.speed.source)
    if recording.speed is not None and recording.speed.turn_m is not None and car.tyres:
        recording = _reckoned_anew(recording, float(np.sqrt(searched[0] * searched[1])))
    reading = replace(reading, recording=recording)
    with _telling(f"Looking through {recording.recorded_s / 60:.0f} min", long=size > _LONG_BYTES) as tell:
        found = _analysed(recording, car, searched, tell if like is None else part(tell, 0.0, 0.5))
        narrow = None if like is None else _shared_m(like, recording, found)
        if narrow is not None:
            searched, found = narrow, _analysed(recording, car, narrow, part(tell, 0.5, 1.0))
    return Judged(reading, searched, found)


def _reckoned_anew(recording: Recording, turn_m: float) -> Recording:
    """Turns of the wheel, made a speed with the circumference of the car's own tyre."""

    def anew(track: SpeedTrack) -> SpeedTrack:
        return replace(track, speed_ms=track.speed_ms * (turn_m / (track.turn_m or turn_m)), turn_m=turn_m)

    told = f"With this tyre a turn of the wheel is taken as {turn_m:.3f} m."
    wheels = {name: anew(track) for name, track in recording.wheels.items()}
    speed = None if recording.speed is None else anew(recording.speed)
    return replace(recording, speed=speed, wheels=wheels, notes=(*recording.notes, told))


def _analysed(recording: Recording, car: Car, searched: tuple[float, float], tell: Tell) -> Analysis:
    return analyse(
        recording,
        circumference_m=searched,
        propshaft_ratio=car.axle_ratio,
        cylinders=car.cylinders,
        wheel_circumference_m=car.wheel_circumference_m,
        tell=tell,
    )


def _shared_m(like: Judged, recording: Recording, found: Analysis) -> tuple[float, float] | None:
    """The narrow range about the circumference of another recording of the car, by the same kind of speed."""
    orders, track, other = like.analysis.orders, recording.speed, like.reading.recording.speed
    settled = None if orders is None else orders.circumference
    if settled is None or settled.confidence < _SETTLED or track is None or other is None:
        return None
    if track.source != other.source or track.source in ("cruise", "unknown"):
        return None
    own = None if found.orders is None else found.orders.circumference
    if own is not None and abs(own.metres / settled.metres - 1.0) > _SAME_CAR:
        return None
    return settled.metres * (1.0 - _SAME_CAR), settled.metres * (1.0 + _SAME_CAR)


def what_is_wrong(judged: Judged) -> tuple[str, ...]:
    """One sentence each: faults with what can still be concluded, then what only the reader saw."""
    said = {fault.kind for fault in judged.analysis.faults}
    seen = (sentence for kind, sentence in judged.reading.faults if kind not in said)
    return (*(fault.sentence for fault in judged.analysis.faults), *seen)


def unit_doubt(judged: Judged) -> str:
    """In words, without a full stop, why the unit of the acceleration is in doubt; "" where it is not."""
    too_much = (fault.sentence for fault in judged.analysis.faults if fault.kind == "units-doubtful")
    return (judged.reading.recording.unit_doubt or next(too_much, "")).rstrip(".?")


def rotation_doubt(judged: Judged) -> str:
    """The same of the rotation: a unit guessed by size alone may be another one on the next drive."""
    guessed = (c for file in judged.reading.layout.files for c in file.columns if c.role.kind == "gyro" and c.doubt)
    return next((f"{c.name}: {c.doubt}" for c in guessed), "")


def changes_between(before: Judged, after: Judged) -> tuple[Change, ...]:
    """What became of each order; raises InputError when one of the recordings shows no orders at all."""
    for judged, which in ((before, "before"), (after, "after")):
        if judged.analysis.orders is None or not judged.analysis.mean_speed_ms:
            blocked = next((fault.sentence for fault in judged.analysis.faults if fault.blocks_orders), "")
            raise InputError(f"the recording {which} cannot be compared. {blocked}".rstrip())
    changes: list[Change] = []
    places = before.reading.recording.sensor_place, after.reading.recording.sensor_place
    speeds = before.analysis.mean_speed_ms or 0.0, after.analysis.mean_speed_ms or 0.0
    shaken = before.reading.recording, after.reading.recording
    same = same_channels(shaken[0].channels, shaken[1].channels)
    doubt = next(
        (
            f"The unit of the recording {which} is in doubt: {text}."
            for judged, which in ((before, "before"), (after, "after"))
            if (text := unit_doubt(judged))
        ),
        "",
    )
    for first, second in (
        (before.analysis.orders, after.analysis.orders),
        (before.analysis.engine, after.analysis.engine),
    ):
        if first is not None and second is not None:
            changes += compare_orders(first, second, places=places, speeds_ms=speeds, same_channel=same, doubt=doubt)
    turning = [name for name, channel in shaken[0].channels.items() if channel.kind == "rotation"]
    why = next(
        (
            f"The unit of the rotation is in doubt: {text}."
            for judged in (before, after)
            if (text := rotation_doubt(judged))
        ),
        "",
    )
    return tuple(
        replace(each, verdict="cannot tell", ratio=None, interval=None, why=why)
        if why and each.channel in turning
        else each
        for each in changes
    )


@contextmanager
def _telling(what: str, *, long: bool) -> Iterator[Tell]:
    """One line on standard error that counts up to 100 % while something takes long, for a person who watches; wiped
    when it is done."""
    if not (long and sys.stderr.isatty()):
        yield untold
        return

    def tell(share: float) -> None:
        print(f"\r{what}: {100 * share:3.0f} %", end="", file=sys.stderr, flush=True)

    tell(0.0)
    try:
        yield tell
    finally:
        print("\r" + " " * (len(what) + 7) + "\r", end="", file=sys.stderr, flush=True)
