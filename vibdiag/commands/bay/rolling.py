"""`vibdiag rolling`: what pressures and tread depths make of the circumferences, and the beat that would make."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, get_args

import typer

from vibdiag.advice.measured import wheel_states
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import Wheel
from vibdiag.commands.bay.inputs import case_of, circumference_of, given, measuring, named, number, table, word
from vibdiag.commands.bay.options import CaseFile, Json, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, interval, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import PairDifference, WheelState, circumference_differences
from vibdiag.rotation import parse_tyre, true_speed
from vibdiag.units import to_kmh, to_kpa, to_mm

__all__ = ["app", "rolling"]

app = new_app()
_PLACES = tuple(place for place in get_args(Wheel) if place != "unknown")


def _typed(texts: list[str], pressure_unit: str, depth_unit: str) -> list[WheelState]:
    found = []
    for text in texts:
        place, rest = named(text, "--at", "PLACE=PRESSURE/DEPTH, e.g. front-left=2.3/7")
        pressure, slash, depth = rest.partition("/")
        if not slash:
            raise InputError(f"'{text}' has no tread depth; write e.g. front-left=2.3/7", field="--at")
        found.append(
            WheelState(
                word(place, _PLACES, "--at"),
                to_mm(number(depth, "--at"), depth_unit),
                to_kpa(number(pressure, "--at"), pressure_unit),
            )
        )
    return found


def _read(path: Path, pressure_unit: str, depth_unit: str) -> list[WheelState]:
    found: list[WheelState] = []
    for row in table(path, ("wheel", "pressure", "tread")):
        place = word(row.cells["wheel"], _PLACES, row.at("wheel"))
        if place in [one.place for one in found]:
            raise InputError(f"'{place}' stands in a row above already", field=row.at("wheel"))
        depth, pressure = to_mm(row.number("tread"), depth_unit), to_kpa(row.number("pressure"), pressure_unit)
        try:
            found.append(WheelState(place, depth, pressure))
        except ValueError as error:
            raise InputError(str(error), field=row.where) from error
    return found


def _compared(wheels: list[WheelState], tyre: str, speed_kmh: float) -> list[PairDifference]:
    circumference = circumference_of(tyre).best
    diameter = parse_tyre(tyre).free_diameter_mm
    found = circumference_differences(wheels, diameter_mm=diameter, circumference_m=circumference, speed_kmh=speed_kmh)
    return list(found)


def _of_case(case: Case, tyre: str | None, speed: float | None) -> list[PairDifference]:
    """All four wheels of one size, or each axle by itself where the sizes differ."""
    tyres, told = case.vehicle.tyres, case.complaint.speed
    front, rear = tyre or tyres.front or tyres.rear, tyre or tyres.rear or tyres.front
    shown = speed or told.worst or told.starts or told.fades
    if front is None or rear is None or shown is None:
        raise InputError("tyre size and speed are needed; the case lacks one, so give --tyre or --speed")
    kmh = true_speed(shown, told.unit, told.read_from).best
    groups = [(_PLACES, front)] if front == rear else [(_PLACES[:2], front), (_PLACES[2:], rear)]
    found: list[PairDifference] = []
    for places, size in groups:
        states = wheel_states(case, places)
        if len(states) > 1:
            found += _compared(list(states), size, kmh)
    if not found:
        raise InputError("the case has no two wheels with 'tyre-pressure' and 'tread-depth' both under 'measurements'")
    return found


@app.command()
def rolling(
    at: Annotated[
        list[str] | None, typer.Option(metavar="PLACE=PRESSURE/DEPTH", help="E.g. front-left=2.3/7; once a wheel.")
    ] = None,
    csv: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The same: columns wheel,pressure,tread; a row a wheel.")
    ] = None,
    case: CaseFile = None,
    tyre: Annotated[str | None, typer.Option(help="Tyre marking, e.g. 225/45R17.")] = None,
    speed: Annotated[float | None, typer.Option(min=1, max=400, help="Speed of the complaint.")] = None,
    unit: Annotated[str, typer.Option(help="Of speed: km/h or mph.")] = "km/h",
    pressure_unit: Annotated[str, typer.Option(help="bar, kPa or psi.")] = "bar",
    depth_unit: Annotated[str, typer.Option(help="mm or 32nds.")] = "mm",
    as_json: Json = False,
) -> None:
    """Pressures and tread depths: how far the circumferences differ, and the beat they would make."""
    with measuring():
        given(at=at, csv=csv, case=case)
        told = case_of(case)
        if told is not None:
            found = _of_case(told, tyre, speed)
        else:
            if tyre is None or speed is None:
                raise InputError("--tyre and --speed are needed beside --at and --csv")
            states = (
                _read(csv, pressure_unit, depth_unit)
                if csv is not None
                else _typed(at or [], pressure_unit, depth_unit)
            )
            found = _compared(states, tyre, to_kmh(speed, unit))
    if as_json:
        print_json(
            {
                "pairs": [
                    {
                        "first": each.first,
                        "second": each.second,
                        "percent": interval(each.percent),
                        "is_real": each.is_real,
                        "beat_s": {
                            "shortest": round(each.shortest_s, 2),
                            "likely": None if each.likely_s is None else round(each.likely_s, 2),
                            "longest": None if each.longest_s is None else round(each.longest_s, 2),
                        },
                    }
                    for each in found
                ]
            }
        )
        return
    for each in found:
        beat = f"a beat not shorter than {each.shortest_s:.1f} s, if any"
        if each.likely_s is not None and each.longest_s is not None:
            beat = f"a beat of {each.likely_s:.1f} s ({each.shortest_s:.1f} to {each.longest_s:.1f})"
        say_all([f"{each.first} less {each.second}: {each.percent:+.2f} % of circumference, {beat}."])
    say()
    say_all(
        [
            "On a bend the wheels turn unlike each other anyway: listen on a straight road at a steady speed.",
            "Caution: pressures as the vehicle maker says for the load, set cold, never above the maximum marked on "
            "the tyre. Unlike sizes or depths on one axle, or on a car driven on all wheels, can harm the driveline.",
            WHO_DECIDES,
        ]
    )
