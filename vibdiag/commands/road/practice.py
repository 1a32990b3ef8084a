"""`vibdiag practice`: an invented recording with a known fault, written as CSV."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any, Final, cast, get_args

import numpy as np
import typer

from vibdiag.commands.output import input_errors, paragraph, print_json, say
from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError
from vibdiag.recording.car_model import Drive, Instruments, Practice, Shaft, Wheel, practice_recording
from vibdiag.recording.car_model.road import RoadClass

__all__ = ["app", "practice", "practice_csv"]

app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)

_RATIO: Final = 3.46  # far from whole orders: a propshaft near 3x wheel is told apart by nothing but the circumference
_TYRE: Final = "205/55R16"  # one whose circumference is the model's
_RATE_HZ: Final = 200.0  # shows the propshaft up to 130 km/h
_FAULTS: Final = ("imbalance", "runout", "joint", "propshaft", "none")
_AXES: Final = ("x", "y", "z")


def _fault(kind: str, grams: float) -> tuple[dict[str, Any], float | None, str]:
    """Arguments for the car model, the order it shows (turns per wheel turn), and the truth in words."""
    if kind == "imbalance":
        return {"wheels": (Wheel(0, imbalance_g=grams),)}, 1.0, f"{grams:g} g at 0.20 m on the front-left wheel"
    if kind == "runout":
        return {"wheels": (Wheel(0, runout_mm=(0.0, 0.5)),)}, 2.0, "an oval front-left tyre, 0.5 mm at 2x"
    if kind == "joint":
        return {"wheels": (Wheel(0, joint_n=120.0),)}, 3.0, "a worn front-left tripod joint, 120 N at 3x"
    if kind == "propshaft":
        gmm = 2000.0
        return {"shaft": Shaft(ratio=_RATIO, imbalance_gmm=gmm)}, _RATIO, f"{gmm:g} g.mm on the propshaft"
    return {}, None, "no fault at all"


def practice_csv(drive: Practice, comment: str) -> str:
    """The recording as CSV, `comment` in its first line; the satellite speed once a second, blank in between."""
    recording = drive.recording
    track = recording.speed
    spoken: dict[int, float] = {}
    if track is not None:
        rows = np.searchsorted(recording.time_s, track.time_s - 1e-9)
        spoken = {int(row): float(kmh) for row, kmh in zip(rows, 3.6 * track.speed_ms, strict=True)}
    values = [recording.channels[f"a{axis}"].values for axis in _AXES]
    lines = [f"# {comment}", "time_s,ax_m/s2,ay_m/s2,az_m/s2,gps_speed_km/h"]
    for row, stamp in enumerate(recording.time_s):
        kmh = f"{spoken[row]:.2f}" if row in spoken else ""
        lines.append(f"{stamp:.4f}," + ",".join(f"{axis[row]:.5f}" for axis in values) + f",{kmh}")
    return "\n".join(lines) + "\n"


@app.command()
def practice(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="Where to write it; must not exist yet.")],
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same recording.")] = 1,
    fault: Annotated[str, typer.Option(help="imbalance, runout, joint, propshaft or none.")] = "imbalance",
    grams: Annotated[float, typer.Option(help="Imbalance of the wheel, g.")] = 60.0,
    road_class: Annotated[str, typer.Option("--road", help="Road by ISO 8608: A (good) to D (poor).")] = "A",
    speed: Annotated[float, typer.Option(help="Speed at the start, km/h.")] = 90.0,
    to: Annotated[float, typer.Option(help="Speed at the end, km/h; the same holds it.")] = 110.0,
    seconds: Annotated[float, typer.Option(help="How long, s.")] = 90.0,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON with stable keys instead of text.")] = False,
) -> None:
    """Write an invented recording with a known fault, to practise `road` on."""
    with input_errors():
        for option, value, low, high in (
            ("--grams", grams, 0.0, 500.0),
            ("--speed", speed, 20.0, 250.0),
            ("--to", to, 20.0, 250.0),
            ("--seconds", seconds, 10.0, 1800.0),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                raise InputError(f"{value:g} is out of range; write {low:g} to {high:g}", field=option)
        if fault not in _FAULTS:
            raise InputError(f"'{fault}' is not known; write one of: {', '.join(_FAULTS)}", field="--fault")
        if road_class.upper() not in get_args(RoadClass):
            raise InputError(f"'{road_class}' is not known; write A, B, C or D", field="--road")
        if file.exists():
            raise InputError("is there already; write another name", file=file)
        faults, order, truth = _fault(fault, grams)
        drive = practice_recording(
            seed,
            drive=Drive(seconds=seconds, start_kmh=speed, end_kmh=to),
            road_class=cast(RoadClass, road_class.upper()),
            instruments=Instruments(rate_hz=_RATE_HZ),
            **faults,
        )
        comment = (
            f"Invented, for practice: written by vibdiag with a car model (seed {seed}); no car was driven. "
            f"Truth: {truth}; one turn of the wheel is {drive.circumference_m:.3f} m."
        )
        try:
            write_atomically(file, practice_csv(drive, comment))
        except OSError as error:
            raise InputError(f"cannot be written: {error.strerror}", file=file) from error
    known = {axis: drive.amplitude.get((order, axis)) for axis in _AXES} if order is not None else {}
    if as_json:
        print_json(
            {
                "written": str(file),
                "invented": True,
                "seed": seed,
                "fault": fault,
                "truth": truth,
                "order": order,
                "circumference_m": drive.circumference_m,
                "mean_kmh": round(3.6 * drive.mean_speed_ms, 3),
                "amplitude_ms2": {axis: round(each, 5) for axis, each in known.items() if each is not None},
            }
        )
        return
    say(paragraph(comment, indent="  "))
    for axis, each in known.items():
        if each is not None:
            say(f"  {axis}: {each:.3f} m/s2 zero to peak at the mean speed")
    more = "" if fault != "propshaft" else f" --axle-ratio {_RATIO:g}"
    say(f"Written: {file}")
    say(f"Now try: vibdiag road {file} --tyre {_TYRE} --place seat-rail{more}")
