"""`vibdiag index`: runout with the wheel moved on its studs; what stays is the hub's, what travels the wheel's."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from vibdiag.advice.measured import HalfTurn, half_turns
from vibdiag.case.model import Case, ReadingSet
from vibdiag.case.vocabulary import ReadOn
from vibdiag.commands.bay.inputs import case_of, given, measuring, named, number, round_of, wheel_of, word
from vibdiag.commands.bay.options import CaseFile, Json, Resolution, Unit, WheelName, new_app
from vibdiag.commands.bay.show import ON_STANDS, WHO_DECIDES, heading, place, say_all, vector, vector_text
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import RE_TORQUE_CAUTION, stud_angles_deg

__all__ = ["app", "index"]

app = new_app()
_WORDS = {
    "with-hub": "The high point stays at the same stud: look at hub, seat and what carries them.",
    "with-wheel": "The high point goes with the valve: look at rim and tyre.",
    "neither": "It follows neither: both have a part in it, or it is too small to follow.",
    None: "The readings cannot tell which of them it follows; read more places, or move the wheel half a turn.",
}


def _data(each: HalfTurn) -> dict[str, Any]:
    found = each.found
    return {
        "wheel": each.wheel,
        "what": each.what,
        "follows": each.word,
        "belongs_to": found.belongs_to,
        "larger": found.larger,
        "hub": vector(found.hub),
        "wheel_part": vector(found.wheel),
        "smallest_detectable_mm": [round(value, 4) for value in found.smallest_detectable_mm],
        "repeatability_mm": None if found.repeatability_mm is None else round(found.repeatability_mm, 4),
        "because": found.because,
    }


def _rounds(texts: list[str], *, csv: bool, **more: Any) -> list[ReadingSet]:
    option = "--csv" if csv else "--round"
    example = "MOVED=FILE, e.g. 180=turned.csv" if csv else "MOVED=VALUES, e.g. 180='0.1 0.2 ...'"
    found = []
    for text in texts:
        moved, rest = named(text, option, example)
        source = {"csv": Path(rest)} if csv else {"values": rest}
        found.append(round_of(moved_deg=number(moved, option), option=option, **source, **more))
    return found


@app.command()
def index(
    rounds: Annotated[
        list[str] | None, typer.Option("--round", metavar="MOVED=VALUES", help="How far moved, and readings; twice.")
    ] = None,
    csv: Annotated[list[str] | None, typer.Option(metavar="MOVED=FILE", help="The same from files; twice.")] = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    on: Annotated[str, typer.Option(help="Where it was read: tread-radial, rim-outer-lateral ...")] = "tread-radial",
    unit: Unit = "mm",
    resolution: Resolution = None,
    studs: Annotated[int | None, typer.Option(help="Number of studs: by how much to move the wheel.")] = None,
    as_json: Json = False,
) -> None:
    """Hub or wheel: rounds of readings with the wheel moved on its studs, counted from the valve."""
    with measuring():
        angles = None if studs is None else stud_angles_deg(studs)
        found: tuple[HalfTurn, ...] = ()
        if angles is None or rounds or csv or case:
            given(round=rounds, csv=csv, case=case)
            word(on, [each for each in get_args(ReadOn) if each.startswith(("tread", "rim"))], "--on")
            told = case_of(case)
            if told is None:
                more = {"what": on, "wheel": wheel_of(wheel), "unit": unit, "resolution": resolution}
                told = Case(vibdiag_case=1, id="typed", readings=_rounds(rounds or csv or [], csv=bool(csv), **more))
            found = tuple(each for each in half_turns(told) if wheel is None or each.wheel == wheel)
            if not found:
                raise InputError(
                    "nothing can be told apart: two rounds of one place are needed, 8 readings or more each, with the "
                    "wheel moved by more than 10 degrees in between (half a turn is best)"
                )
    if as_json:
        print_json({"found": [_data(each) for each in found], "move_by_deg": angles})
        return
    for each in found:
        heading(place(each.what, each.wheel))
        say_all([_WORDS[each.word], each.found.because])
        say_all(
            [
                f"Hub {vector_text(each.found.hub, 'mm', digits=3)}, from the mark on the hub.",
                f"Wheel {vector_text(each.found.wheel, 'mm', digits=3)}, from the valve.",
                "These are amounts; a dial shows twice as much in all.",
            ]
        )
        say()
    if angles is not None:
        say_all([f"Move the wheel by {' or '.join(f'{angle:g}' for angle in angles)} degrees; the first tells most."])
    say_all([f"Caution: the car is not driven between the rounds. {RE_TORQUE_CAUTION}", ON_STANDS, WHO_DECIDES])
