"""`vibdiag disc`: thickness variation and runout of a brake disc, and which of them is more likely felt."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vibdiag.advice.measured import judge_set
from vibdiag.case.model import ReadingSet
from vibdiag.commands.bay.inputs import case_of, given, measuring, round_of, rounds_in, wheel_of
from vibdiag.commands.bay.options import CaseFile, Csv, Json, Unit, WheelName, new_app
from vibdiag.commands.bay.runout import judged_data, sentences_of
from vibdiag.commands.bay.show import ON_STANDS, WHO_DECIDES, heading, place, say_all, say_picture
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import BrakeDisc, Runout, ThicknessVariation, brake_disc

__all__ = ["app", "disc"]

app = new_app()
_CAUTION = (
    "Caution: below the minimum thickness cast into it a disc is not used again, and is not turned to below it. Keep "
    "brake dust out of lungs, pump the pedal hard before the car moves, and bed new parts in as the maker says."
)
_FELT = {
    "thickness-variation": "More likely felt: thickness variation.",
    "runout": "More likely felt: runout, once it has worn the disc thick and thin.",
    "neither": "Neither is likely to be felt.",
    "cannot-tell": "Which of them is felt cannot be told.",
}


def _judged(sets: list[ReadingSet]) -> BrakeDisc | None:
    found = {one.what: judge_set(one) for one in sets}
    thickness, side = found.get("disc-thickness"), found.get("disc-runout")
    if not isinstance(thickness, ThicknessVariation):
        return None
    return brake_disc(thickness, side if isinstance(side, Runout) else None)


@app.command()
def disc(
    thickness: Annotated[str | None, typer.Option(help="Micrometer readings round the disc.")] = None,
    runout: Annotated[str | None, typer.Option(help="Dial readings of its face.")] = None,
    csv: Csv = None,
    runout_csv: Annotated[Path | None, typer.Option(metavar="FILE", help="Dial readings of its face.")] = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    unit: Unit = "mm",
    limit: Annotated[float | None, typer.Option(help="The maker's limit of thickness variation.")] = None,
    runout_limit: Annotated[float | None, typer.Option(help="The maker's limit of runout.")] = None,
    as_json: Json = False,
) -> None:
    """Brake disc: thickness variation, its orders, runout, and which of them is more likely felt."""
    with measuring():
        given(thickness=thickness, csv=csv, case=case)
        told = case_of(case)
        if told is not None:
            sets = list(rounds_in(told, wheel=wheel, what=("disc-thickness", "disc-runout")))
        else:
            at = wheel_of(wheel)
            sets = [round_of(what="disc-thickness", values=thickness, csv=csv, option="--thickness", wheel=at,
                             unit=unit, limit=limit)]  # fmt: skip
            if runout is not None or runout_csv is not None:
                sets.append(round_of(what="disc-runout", values=runout, csv=runout_csv, option="--runout", wheel=at,
                                     unit=unit, limit=runout_limit))  # fmt: skip
        if len({one.wheel for one in sets}) > 1:
            raise InputError("the case has discs of several wheels; say which with --wheel")
        both = _judged(sets)
    rounds = [(one, judge_set(one)) for one in sets]
    if as_json:
        print_json(
            {
                "felt": None if both is None else both.more_likely_felt,
                "because": None if both is None else both.because,
                "orders": [] if both is None else [each.order for each in both.thickness.orders],
                "thinnest_mm": None if both is None else round(both.thickness.thinnest_mm, 4),
                "rounds": [judged_data(one, judged) for one, judged in rounds],
            }
        )
        return
    for one, judged in rounds:
        heading(place(one.what, one.wheel))
        say_picture(judged.fit, turning="counter-clockwise" if one.wheel.endswith("left") else "clockwise")
        say_all(sentences_of(judged))
        say()
    if both is not None:
        say_all([_FELT[both.more_likely_felt]])
        say()
    say_all([_CAUTION, ON_STANDS, WHO_DECIDES])
