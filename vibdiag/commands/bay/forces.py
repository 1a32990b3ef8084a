"""`vibdiag forces`: the force of imbalance beside that of runout over speed."""

from __future__ import annotations

from typing import Annotated

import typer

from vibdiag.commands.bay.inputs import circumference_of, measuring, plain
from vibdiag.commands.bay.options import Json, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, interval, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import TYRE_N_PER_MM, force_over_speed
from vibdiag.rotation import Interval, unbalance_gmm
from vibdiag.units import to_grams, to_kmh, to_mm

__all__ = ["app", "forces"]

app = new_app()


def _within(value: float, error: float, what: str) -> Interval:
    if value < 0.0 or error < 0.0:
        raise InputError(f"{what} and its error must be zero or more")
    return Interval(max(0.0, value - error), value, value + error)


@app.command()
def forces(
    tyre: Annotated[str, typer.Option(help="Tyre marking, e.g. 225/45R17.")],
    imbalance: Annotated[float, typer.Option(help="Static residual as a weight at the rim.")],
    runout: Annotated[float, typer.Option(help="First harmonic of radial runout, as a dial shows it in all.")],
    radius: Annotated[float, typer.Option(min=20, max=700, help="Radius of the weight, mm.")] = 200.0,
    imbalance_error: Annotated[float, typer.Option(help="Give or take (95 %).")] = 0.0,
    runout_error: Annotated[float, typer.Option(help="Give or take (95 %).")] = 0.0,
    angle: Annotated[float | None, typer.Option(help="From the tyre's high point to the heavy spot.")] = None,
    speeds: Annotated[str, typer.Option(help="Speeds, e.g. '60 80 100'.")] = "60 80 100 120 140",
    unit: Annotated[str, typer.Option(help="Of speed: km/h or mph.")] = "km/h",
    weight_unit: Annotated[str, typer.Option(help="g or oz.")] = "g",
    runout_unit: Annotated[str, typer.Option(help="mm or thou.")] = "mm",
    as_json: Json = False,
) -> None:
    """Imbalance beside runout over speed, as force at the axle: which of the two shakes, and from where on.

    Two numbers are all it takes, so there is no --csv and no --case.
    """
    with measuring():
        at = plain(speeds, "--speeds")
        found = force_over_speed(
            unbalance_gmm=_within(
                unbalance_gmm(to_grams(imbalance, weight_unit), radius) if imbalance >= 0 else -1.0,
                unbalance_gmm(to_grams(max(0.0, imbalance_error), weight_unit), radius),
                "--imbalance",
            ),
            eccentricity_mm=_within(to_mm(runout, runout_unit) / 2, to_mm(runout_error, runout_unit) / 2, "--runout"),
            circumference_m=circumference_of(tyre),
            speeds_kmh=[to_kmh(each, unit) for each in at],
            heavy_from_high_deg=angle,
        )
    if as_json:
        print_json(
            {
                "rows": [
                    {
                        "speed": speed,
                        "unit": unit,
                        "imbalance_n": interval(row.imbalance_n, 2),
                        "runout_n": interval(row.runout_n, 2),
                        "together_n": interval(row.together_n, 2),
                        "larger": row.larger,
                    }
                    for speed, row in zip(at, found.rows, strict=True)
                ],
                "equal_at_kmh": interval(found.equal_at_kmh, 1),
                "tyre_n_per_mm": interval(TYRE_N_PER_MM),
            }
        )
        return
    say(f"{unit:>7}  {'imbalance, N':>20}  {'runout, N':>20}  larger")
    for speed, row in zip(at, found.rows, strict=True):
        one, other = f"{row.imbalance_n:.0f}", f"{row.runout_n:.0f}"
        say(f"{speed:7g}  {one:>20}  {other:>20}  {row.larger}")
    equal = "Where the two are equal cannot be told: one of them may be nothing."
    if found.equal_at_kmh is not None:
        equal = f"The two are equal at {found.equal_at_kmh:.0f} km/h; below it runout is larger, above it imbalance."
    say_all(
        [
            equal,
            f"Amplitudes at the axle, for a tyre of {TYRE_N_PER_MM:.0f} N/mm (from memory). What the car makes of them "
            "(its resonances) is not in here.",
            WHO_DECIDES,
        ]
    )
