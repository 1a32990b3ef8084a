"""A road test to look at: an invented car is driven, recorded, read and judged, as `practice` and `road` do it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from vibdiag.commands.output import paragraph, print_json, say
from vibdiag.commands.road.ask import Judged, judge
from vibdiag.commands.road.car import Car
from vibdiag.commands.road.data import road_data
from vibdiag.commands.road.practice import practice_csv
from vibdiag.commands.road.text import say_road
from vibdiag.recording.car_model import Drive, Instruments, Wheel, practice_recording

__all__ = ["play_road_test"]

_TRUTH = "40 g at 0.20 m on the front-left wheel; one turn of the wheel is 1.950 m."
_INTRODUCTION = (
    "A road test, invented: a car model drives two minutes from 80 to 120 km/h on a good road, with a sensor on the "
    "seat rail and a satellite speed once a second. What `vibdiag road` makes of it:"
)
_TYRE = "205/55R16"
_SEED = 1


def play_road_test(*, as_json: bool) -> None:
    """Drive, record, read and judge, and say what the truth was. Raises InputError like any reading of a file."""
    drive = practice_recording(
        _SEED,
        drive=Drive(seconds=120, start_kmh=80, end_kmh=120),
        road_class="A",
        instruments=Instruments(rate_hz=200.0),
        wheels=(Wheel(0, imbalance_g=40.0),),
    )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "road-test.csv"
        file.write_text(practice_csv(drive, "Invented: written by vibdiag with a car model."), encoding="utf-8")
        judged: Judged = judge([file], Car(tyres=(_TYRE,)), columns={}, place="seat-rail")
    if as_json:
        print_json({"invented": True, "truth": _TRUTH, "tyre": _TYRE} | road_data(judged, None, None))
        return
    say(paragraph(_INTRODUCTION))
    say()
    say_road(judged)
    say()
    say(paragraph(f"The truth: {_TRUTH} Make one of your own: `vibdiag practice --help`."))
