"""`vibdiag runout`: readings round a part, their shape, and the verdict from their interval."""

from __future__ import annotations

from typing import Annotated, Any, get_args

import typer

from vibdiag.advice.measured import Judged, judge_set, sign_of
from vibdiag.case.model import ReadingSet
from vibdiag.case.vocabulary import ReadOn
from vibdiag.commands.bay.inputs import case_of, given, measuring, numbers, plain, round_of, rounds_in, word
from vibdiag.commands.bay.options import CaseFile, Csv, Json, Limit, Resolution, Unit, WheelName, new_app
from vibdiag.commands.bay.show import (
    ON_STANDS,
    WHO_DECIDES,
    fit_data,
    heading,
    interval,
    limit_data,
    place,
    say_all,
    say_picture,
)
from vibdiag.commands.output import print_json, say
from vibdiag.measure import ForceVariation, Runout, limit_for
from vibdiag.measure import Limit as MeasureLimit

__all__ = ["app", "judged_data", "runout", "sentences_of"]

app = new_app()


def sentences_of(judged: Judged) -> tuple[str, ...]:
    """What is said of a round, verdict first."""
    if isinstance(judged, Runout):
        return judged.says
    if isinstance(judged, ForceVariation):
        return judged.total.because, judged.first.because
    orders = ", ".join(f"{each.order} times a turn {2 * each.vector.value.amount:.3f} mm" for each in judged.orders)
    return (
        judged.judgement.because,
        f"Thinnest reading {judged.thinnest_mm:.3f} mm.",
        f"What stands out of the readings' error: {orders or 'no single order'}.",
    )


def _limit(judged: Judged, one: ReadingSet) -> MeasureLimit:
    if isinstance(judged, Runout):
        return judged.limit
    maker = one.limit if one.unit != "thou" or one.limit is None else one.limit * 0.0254
    return limit_for("radial-force-total" if isinstance(judged, ForceVariation) else "disc-thickness-variation",
                     maker=maker)  # fmt: skip


def judged_data(one: ReadingSet, judged: Judged) -> dict[str, Any]:
    """One round with stable keys."""
    return {
        "what": one.what,
        "wheel": one.wheel,
        "moved_deg": one.moved_deg,
        "taken": one.taken,
        "verdict": sign_of(judged),
        "because": list(sentences_of(judged)),
        "limit": limit_data(_limit(judged, one)),
        "unit": "N" if one.unit == "N" else "mm",
        "total": interval(judged.reading.total),
        "at_least": round(judged.reading.at_least, 4),
        "high_deg": round(judged.reading.high_deg, 2) % 360.0,
        "low_deg": round(judged.reading.low_deg, 2) % 360.0,
        "first_is": judged.first_is if isinstance(judged, Runout) else None,
    } | fit_data(judged.fit)


@app.command()
def runout(
    on: Annotated[
        str | None, typer.Option(help="Where: tread-radial (usual), rim-inner-radial, hub-face, propshaft-middle ...")
    ] = None,
    values: Annotated[
        str | None, typer.Option(help="Readings in order, e.g. '0 0.1 x -0.05'; x where one is missing.")
    ] = None,
    angles: Annotated[str | None, typer.Option(help="Their angles from the valve, where not even.")] = None,
    csv: Csv = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    unit: Unit = "mm",
    first_again: Annotated[str | None, typer.Option(help="The first place read again, once or more.")] = None,
    resolution: Resolution = None,
    rises: Annotated[str, typer.Option(help="The dial's number rises: outward or inward.")] = "outward",
    limit: Limit = None,
    rim: Annotated[str, typer.Option(help="steel, alloy or unknown.")] = "unknown",
    picture: Annotated[bool, typer.Option(help="Draw the round.")] = True,
    as_json: Json = False,
) -> None:
    """Readings round a wheel, rim, hub, disc or propshaft: how far out, what kind, and the verdict."""
    with measuring():
        given(values=values, csv=csv, case=case)
        known = get_args(ReadOn)
        if on is not None:
            word(on, known, "--on")
        told = case_of(case)
        if told is not None:
            sets = rounds_in(told, wheel=wheel, what=(on,) if on else ())  # type: ignore[arg-type]
        else:
            again = None if first_again is None else plain(first_again, "--first-again")
            places = None if angles is None else numbers(angles, "--angles")
            one = round_of(
                what=on or "tread-radial", values=values, csv=csv, wheel=wheel, unit=unit, first_again=again,
                limit=limit, resolution=resolution, rises=rises, rim=rim, angles_deg=places,
            )  # fmt: skip
            sets = (one,)
        found = [(one, judge_set(one)) for one in sets]
    if as_json:
        print_json({"rounds": [judged_data(one, judged) for one, judged in found]})
        return
    for one, judged in found:
        heading(place(one.what, one.wheel) + (f", moved by {one.moved_deg:g} degrees" if one.moved_deg else ""))
        if picture:
            left = one.wheel.endswith("left")
            say_picture(judged.fit, turning="counter-clockwise" if left else "clockwise")
        say_all(sentences_of(judged))
        published = _limit(judged, one).published
        if published:
            say_all([f"Makers' figures that were published: {published}."])
        say()
    say_all([ON_STANDS, WHO_DECIDES])
