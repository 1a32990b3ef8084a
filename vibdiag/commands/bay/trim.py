"""`vibdiag trim`: the best single weight on the car, from runs before and with a trial weight."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vibdiag.commands.bay.inputs import given, measuring, named, polar, table
from vibdiag.commands.bay.options import Json, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, interval, polar_data, say_all, vector, vector_text
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import RunPair, UncertainVector, best_trim
from vibdiag.rotation import Polar
from vibdiag.units import to_grams

__all__ = ["app", "trim"]

app = new_app()
_CAUTION = (
    "Caution: a wheel that spins on a lift can throw stones and weights and pull the car off. Only where the vehicle "
    "maker allows it: on its lift points, the axle carried as it says, the other wheels secured, nobody near or in "
    "line, the driver alone inside; no spinning of one wheel against a locked one. The trial weight comes off first."
)


_COLUMNS = ("before", "before_deg", "with", "with_deg")


def _typed(texts: list[str]) -> list[tuple[Polar, Polar]]:
    found = []
    for text in texts:
        before, with_it = named(text, "--run", "BEFORE=WITH, e.g. 4@0=2@10")
        found.append((polar(before, "--run"), polar(with_it, "--run")))
    return found


def _read(path: Path) -> list[tuple[Polar, Polar]]:
    rows = table(path, _COLUMNS)
    return [(row.polar("before", "before_deg"), row.polar("with", "with_deg")) for row in rows]


@app.command()
def trim(
    trial: Annotated[str, typer.Option(metavar="AMOUNT@ANGLE", help="The trial weight, e.g. 20@0.")],
    scatter: Annotated[float, typer.Option(help="How far a reading repeats (standard deviation), in its unit.")],
    run: Annotated[
        list[str] | None,
        typer.Option(metavar="BEFORE=WITH", help="Vibration before and with it, e.g. 4@0=2@10; once a place or speed."),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The same: columns before,before_deg,with,with_deg; a row a place or speed."),
    ] = None,
    unit: Annotated[str, typer.Option(help="Of the weight: g or oz.")] = "g",
    as_json: Json = False,
) -> None:
    """The best single weight on the car, from runs before and with a trial weight.

    A case holds no runs with a trial weight, so there is no --case.
    """
    with measuring():
        if not 0.0 < scatter < float("inf"):
            raise InputError("--scatter must be above zero: repeat a run to see how far it repeats")
        given(run=run, csv=csv)
        tried = polar(trial, "--trial")
        pairs = [
            RunPair(UncertainVector.even(before, scatter), UncertainVector.even(with_it, scatter))
            for before, with_it in (_read(csv) if csv is not None else _typed(run or []))
        ]
        if tried.amount == 0.0:
            raise InputError("the trial weight must be above zero", field="--trial")
        found = best_trim(pairs, Polar(to_grams(tried.amount, unit), tried.angle_deg))
    if as_json:
        print_json(
            {
                "weight_g": vector(found.weight),
                "before": [polar_data(each) for each in found.before],
                "left": [polar_data(each) for each in found.left],
                "left_share": interval(found.left_share),
            }
        )
        return
    say_all(
        [f"Best weight: {vector_text(found.weight, 'g', digits=1)}, at the radius of the trial; the trial comes off."]
    )
    for place, (now, left) in enumerate(zip(found.before, found.left, strict=True), 1):
        say_all([f"Run {place}: {now.amount:.2f} now, {left.amount:.2f} predicted."])
    share = found.left_share
    say_all([f"Left of the whole: {100 * share.best:.0f} %, at most {100 * share.high:.0f} %."])
    if not found.weight.is_detected:
        say_all(["The weight is no larger than its error: leave it."])
    say()
    say_all([_CAUTION, WHO_DECIDES])
