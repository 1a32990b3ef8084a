"""`vibdiag mountings`: repeated mountings on the balancing shaft, and what sitting off-centre does, both ways."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from vibdiag.advice.remount import display_step_g, shown_in
from vibdiag.case.model import Case
from vibdiag.commands.bay.inputs import case_of, measuring, named, needed, number, polar, rows_of, wheel_of, word
from vibdiag.commands.bay.options import CaseFile, Json, WheelName, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, heading, interval, judgement_data, say_all, vector, vector_text
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import OffCentre, WheelOrMounting, gap_for_unbalance, off_centre, wheel_or_mounting
from vibdiag.rotation import Polar, unbalance_gmm
from vibdiag.units import to_grams

__all__ = ["app", "mountings"]

app = new_app()
Shown = list[tuple[float, Polar]]
_CAUTION = (
    "Caution: guard down, hands, sleeves and hair clear until it stands still, four full turns of thread or more on "
    "the nut, as the makers of vehicle and machine say."
)


def _typed(texts: list[str], unit: str) -> Shown:
    found = []
    for text in texts:
        turned, shown = named(text, "--mounting", "TURNED=AMOUNT@ANGLE, e.g. 180=24@90")
        vector = polar(shown, "--mounting")
        found.append((number(turned, "--mounting"), Polar(to_grams(vector.amount, unit), vector.angle_deg)))
    return found


def _read(path: Path, unit: str) -> Shown:
    found = []
    for place, row in enumerate(rows_of(path), 1):
        where = f"{path}: mounting {place}"
        if len(row) != 3:
            raise InputError("needs three columns: turned, amount, angle", field=where)
        vector = polar(f"{row[1]}@{row[2]}", where)
        found.append((number(row[0], where), Polar(to_grams(vector.amount, unit), vector.angle_deg)))
    return found


def _of_case(case: Case, wheel: str | None, plane: str) -> tuple[Shown, float]:
    at = wheel_of(wheel)
    readings = [one for one in case.balance_readings if one.taken == "before" and (at is None or one.wheel == at)]
    if len({one.wheel for one in readings}) > 1:
        raise InputError("the case has balance readings of several wheels; say which with --wheel")
    found: Shown = []
    for one in readings:
        vector = shown_in(one, "inner" if plane == "inner" else "outer")
        if one.shaft_deg is not None and vector is not None:
            found.append((one.shaft_deg, vector))
    if len(found) < 2:
        raise InputError(f"the case has no two 'balance_readings' with 'shaft_deg' in the {plane} plane")
    return found, max(display_step_g(case, one) for one in readings)


def _data(found: WheelOrMounting | None, gap: float | None, seat: OffCentre | None) -> dict[str, Any]:
    return {
        "wheel_g": None if found is None else vector(found.wheel),
        "mounting_g": None if found is None else vector(found.mounting),
        "repeatability_g": None if found is None else interval(found.repeatability),
        "repeats": None if found is None else judgement_data(found.repeats),
        "because": None if found is None else found.because,
        "gap_that_explains_mm": None if gap is None else round(gap, 4),
        "off_centre": None
        if seat is None
        else {
            "gap_mm": round(seat.gap_mm, 4),
            "offset_mm": interval(seat.offset_mm),
            "unbalance_gmm": interval(seat.unbalance_gmm, 1),
            "weight_g": interval(seat.weight_g, 2),
            "runout_mm": interval(seat.runout_mm),
        },
    }


@app.command()
def mountings(
    mounting: Annotated[
        list[str] | None,
        typer.Option(metavar="TURNED=AMOUNT@ANGLE", help="Turned on the shaft, and what was shown; several times."),
    ] = None,
    csv: Annotated[Path | None, typer.Option(metavar="FILE", help="The same: columns turned,amount,angle.")] = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    plane: Annotated[str, typer.Option(help="Of a case: inner or outer.")] = "inner",
    unit: Annotated[str, typer.Option(help="g or oz.")] = "g",
    step: Annotated[float | None, typer.Option(help="Smallest step of the display, in the unit.")] = None,
    counted_from: Annotated[
        str, typer.Option("--from", help="Angles counted from the wheel (valve) or shaft.")
    ] = "wheel",
    bore: Annotated[float | None, typer.Option(help="Bore of the wheel, mm.")] = None,
    pilot: Annotated[float | None, typer.Option(help="Pilot of the hub, mm.")] = None,
    mass: Annotated[float | None, typer.Option(help="Mass of wheel and tyre, kg.")] = None,
    radius: Annotated[float, typer.Option(min=20, max=700, help="Radius of the weights, mm.")] = 200.0,
    as_json: Json = False,
) -> None:
    """Wheel or mounting, from repeated balance readings; and what sitting off-centre does, both ways."""
    with measuring():
        found, gap, seat = None, None, None
        if bore is not None or pilot is not None:
            seat = off_centre(
                needed(bore, "--bore", "the wheel's bore, mm"),
                needed(pilot, "--pilot", "the hub's pilot, mm"),
                mass_kg=needed(mass, "--mass", "the mass of wheel and tyre, kg"),
                rim_radius_mm=radius,
            )
        told = case_of(case)
        if sum(bool(each) for each in (mounting, csv, told)) > 1:
            raise InputError("give one of --mounting, --csv, --case")
        shown: Shown = []
        smallest = to_grams({"oz": 0.25}.get(unit, 5.0) if step is None else step, unit)
        if told is not None:
            word(plane, ("inner", "outer"), "--plane")
            shown, of_case = _of_case(told, wheel, plane)
            smallest = of_case if step is None else smallest
        elif mounting or csv:
            shown = _typed(mounting, unit) if mounting else _read(csv, unit) if csv else []
        elif seat is None:
            raise InputError("give --mounting several times, --csv or --case; or --bore, --pilot and --mass")
        if shown:
            word(counted_from, ("wheel", "shaft"), "--from")
            side: Any = counted_from
            found = wheel_or_mounting(shown, display_step=smallest, angles_from=side)
            if mass is not None and found.mounting.is_detected:
                gap = gap_for_unbalance(unbalance_gmm(found.mounting.value.amount, radius), mass_kg=mass)
    if as_json:
        print_json(_data(found, gap, seat))
        return
    if found is not None:
        heading("Wheel or mounting")
        say_all([found.because])
        say_all(
            [
                f"The wheel's own: {vector_text(found.wheel, 'g', digits=1)} from the valve.",
                f"The mounting's: {vector_text(found.mounting, 'g', digits=1)} on the shaft.",
                f"Display step taken as {smallest:g} g.",
            ]
        )
        if gap is not None:
            say_all([f"A gap of {gap:.2f} mm between bore and cone or pilot could explain the mounting's part."])
        say()
    if seat is not None:
        heading("Off-centre on the hub")
        say_all(
            [
                f"The gap of {seat.gap_mm:.2f} mm lets the wheel lie up to {seat.offset_mm.high:.2f} mm off: up to "
                f"{seat.unbalance_gmm.high:.0f} g.mm, {seat.weight_g.high:.1f} g at {radius:g} mm, and "
                f"{seat.runout_mm.high:.2f} mm of runout in all. Tapered seats may centre it better than that."
            ]
        )
        say()
    say_all([_CAUTION, WHO_DECIDES])
