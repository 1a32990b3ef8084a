"""`vibdiag road`: which turning part shakes the car, how surely and how badly, and what a repair did to it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

import typer

from vibdiag.commands.output import input_errors, paragraph, print_json, say
from vibdiag.commands.road.ask import Judged, changes_between, corrections, judge, place_of, rotation_doubt, unit_doubt
from vibdiag.commands.road.car import car_of
from vibdiag.commands.road.data import road_data
from vibdiag.commands.road.keep import keep
from vibdiag.commands.road.svg import as_svg
from vibdiag.commands.road.text import say_changes, say_road
from vibdiag.commands.where import case_at, hand_at
from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import layout_of

__all__ = ["app", "road"]

app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)


@app.command()
def road(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="One recording; several files with clocks.")],
    tyre: Annotated[str | None, typer.Option(help="Tyre marking, e.g. 225/45R17.")] = None,
    case_file: Annotated[
        Path | None, typer.Option("--case", metavar="CASE", help="Take tyre, cylinders and ratio from this case.")
    ] = None,
    place: Annotated[
        str | None, typer.Option(help="Where the sensor sat: seat-rail, floor, steering-column or steering-wheel.")
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=ROLE", help="Correct what a column was taken for, e.g. CH3=accel-z:g."),
    ] = None,
    columns: Annotated[bool, typer.Option("--columns", help="Only show what each column was taken for.")] = False,
    before: Annotated[
        list[Path] | None, typer.Option(metavar="FILE", help="Recording before the repair, to compare with.")
    ] = None,
    before_place: Annotated[
        str | None, typer.Option(help="Where the sensor sat before; as --place when left out.")
    ] = None,
    cylinders: Annotated[int | None, typer.Option(help="Number of cylinders: looks for engine orders.")] = None,
    axle_ratio: Annotated[float | None, typer.Option(help="Propshaft turns per wheel turn: looks for it.")] = None,
    speed: Annotated[
        float | None, typer.Option(metavar="KMH", help="The speed was held at this, instead of recorded.")
    ] = None,
    wheel_circumference: Annotated[
        float | None,
        typer.Option(metavar="M", help="What each wheel's own speed was reckoned with, m a turn: parts the wheels."),
    ] = None,
    keep_it: Annotated[
        bool, typer.Option("--keep", help="Attach the recording and its signs to the case given by --case.")
    ] = False,
    taken: Annotated[
        str | None, typer.Option(help="With --keep: before or after the repair; after when --before is given.")
    ] = None,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Write the pictures as SVG.")] = None,
    png: Annotated[Path | None, typer.Option("--png", metavar="FILE", help="Write the pictures as PNG.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON with stable keys instead of text.")] = False,
) -> None:
    """A road-test recording: which turning part shakes the car, how surely, how badly."""
    with input_errors():
        said, sat = corrections(column or ()), place_of(place, "--place")
        if columns:
            layout, problem = layout_of(files, columns=said)
            if as_json:
                print_json({"read_as": list(layout.lines())})
            else:
                say("\n".join(paragraph(line, indent="        ") for line in layout.lines()))
            if problem is not None:
                raise problem
            return
        when = _taken(taken, compared=bool(before))
        if keep_it and case_file is None:
            raise InputError("--keep needs --case, the case that the recording belongs to")
        case = None if case_file is None else case_at(case_file)[0]
        car = car_of(case, tyre=tyre, cylinders=cylinders, axle_ratio=axle_ratio)
        _in_range(wheel_circumference, 1.0, 4.0, "m is no circumference of a wheel", "--wheel-circumference")
        _in_range(speed, 15.0, 300.0, "km/h is no speed to hold", "--speed")
        car = replace(car, wheel_circumference_m=wheel_circumference, held_kmh=speed)
        first = None
        if before:
            sat_before = sat if before_place is None else place_of(before_place, "--before-place")
            first = judge(before, car, columns=said, place=sat_before)
        judged = judge(files, car, columns=said, place=sat, like=first)
        changes = None if first is None else changes_between(first, judged)
        _draw(judged, title=", ".join(file.name for file in files), svg=svg, png=png)
        kept = None
        if keep_it and case is not None and case_file is not None:
            with hand_at(case_file) as hand:
                keep(hand, files, judged, place=sat, taken=when)
            kept = str(case_file)
    if as_json:
        print_json(road_data(judged, changes, kept))
        return
    say_road(judged)
    if changes is not None:
        say_changes(changes)
    for path, what in ((svg, "Written"), (png, "Written"), (case_file if kept else None, "Kept in")):
        if path is not None:
            say(f"{what}: {path}")
    if kept is not None and (unit_doubt(judged) or rotation_doubt(judged)):
        say(paragraph("A unit is in doubt, so before and after are not compared by its sizes; say it and keep again."))


def _in_range(value: float | None, low: float, high: float, wrong: str, option: str) -> None:
    if value is not None and not low <= value <= high:
        raise InputError(f"{value:g} {wrong}; write {low:g} to {high:g}", field=option)


def _taken(text: str | None, *, compared: bool) -> Literal["before", "after"]:
    if text is None:
        return "after" if compared else "before"
    if text not in ("before", "after"):
        raise InputError(f"'{text}' is not known; write before or after", field="--taken")
    return "before" if text == "before" else "after"


def _draw(judged: Judged, *, title: str, svg: Path | None, png: Path | None) -> None:
    if svg is None and png is None:
        return
    drawing = as_svg(judged, title=title)
    path = png
    try:
        if png is not None:
            from vibdiag.commands.road.png import as_png

            png.write_bytes(as_png(drawing))
        if svg is not None:
            path = svg
            write_atomically(svg, drawing)
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}", file=path) from error
