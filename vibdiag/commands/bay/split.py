"""`vibdiag split`: one correction as two weights at given angles, as two equal ones, or from the sizes in stock."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from vibdiag.advice.remount import shown_in
from vibdiag.case.storage import load_case
from vibdiag.commands.bay.inputs import given, measuring, plain, polar, wheel_of, word
from vibdiag.commands.bay.options import Json, WheelName, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, polar_data, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import (
    Fitted,
    split_in_stock,
    split_over_angles,
    spread_two_equal,
)
from vibdiag.rotation import Polar
from vibdiag.units import to_grams

__all__ = ["app", "split"]

app = new_app()


def _fitted(found: Fitted) -> dict[str, Any]:
    return {
        "at": [
            {"deg": round(angle, 2), "pieces_g": list(pieces.each_g), "together_g": round(pieces.together_g, 3)}
            for angle, pieces in found.at
        ],
        "missing_g": polar_data(found.missing),
    }


def _from_case(path: Path, wheel: str | None, plane: str) -> Polar:
    """The weight, g, that the last reading before the repair asks for in a plane of a wheel."""
    word(plane, ("inner", "outer"), "--plane")
    at = wheel_of(wheel)
    shown = [
        (one.wheel, weight)
        for one in load_case(path).balance_readings
        if one.taken == "before"
        and (at is None or one.wheel == at)
        and (weight := shown_in(one, "inner" if plane == "inner" else "outer")) is not None
    ]
    if len({place for place, _ in shown}) > 1:
        raise InputError("the case has balance readings of several wheels; say which with --wheel")
    if not shown:
        raise InputError(f"the case has no 'balance_readings' in the {plane} plane{f' at {wheel}' if wheel else ''}")
    return shown[-1][1]


@app.command()
def split(
    weight: Annotated[str | None, typer.Option(metavar="AMOUNT@ANGLE", help="The correction, e.g. 30@10.")] = None,
    case: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Or: what the last balance reading of this case asks for, in g."),
    ] = None,
    wheel: WheelName = None,
    plane: Annotated[str, typer.Option(help="Of a case: inner or outer.")] = "inner",
    over: Annotated[str | None, typer.Option(help="Two angles where weights can go, e.g. '-26 46'.")] = None,
    equal: Annotated[float | None, typer.Option(help="Or: spread two equal weights of this size.")] = None,
    stock: Annotated[str | None, typer.Option(help="Sizes in the drawer, e.g. '5 10 15 20'.")] = None,
    most: Annotated[int, typer.Option(min=1, max=6, help="At most so many pieces at one place.")] = 3,
    unit: Annotated[str, typer.Option(help="g or oz, for every weight.")] = "g",
    as_json: Json = False,
) -> None:
    """One weight over two angles (behind two spokes), as two equal ones, or from the sizes in stock.

    One weight is all it takes, so there is no --csv.
    """
    with measuring():
        if over is None and equal is None and stock is None:
            raise InputError("give --over with two angles, --equal with a size, or --stock with the sizes there are")
        given(weight=weight, case=case)
        if case is not None:
            wanted = _from_case(case, wheel, plane)
        else:
            told = polar(weight or "", "--weight")
            wanted = Polar(to_grams(told.amount, unit), told.angle_deg)
        angles = None if over is None else plain(over, "--over", count=2)
        exact = None if angles is None else split_over_angles(wanted, angles[0], angles[1])
        spread = None if equal is None else spread_two_equal(wanted, to_grams(equal, unit))
        fitted = None
        if stock is not None:
            sizes = [to_grams(each, unit) for each in plain(stock, "--stock")]
            fitted = split_in_stock(wanted, angles or [wanted.angle_deg], sizes, most_each=most)
    if as_json:
        print_json(
            {
                "wanted_g": polar_data(wanted),
                "over": None if exact is None else [polar_data(each) for each in exact],
                "equal": None if spread is None else [polar_data(each) for each in spread],
                "stock": None if fitted is None else _fitted(fitted),
            }
        )
        return
    say(f"Wanted: {wanted.amount:.1f} g at {wanted.angle_deg:.0f} degrees")
    for name, pair in (("Over two angles", exact), ("Two equal weights", spread)):
        if pair is not None:
            say_all([f"{name}: " + ", ".join(f"{each.amount:.1f} g at {each.angle_deg:.0f} degrees" for each in pair)])
    if fitted is not None:
        for angle, pieces in fitted.at:
            each = " + ".join(f"{size:g}" for size in pieces.each_g) or "nothing"
            say_all([f"From stock at {angle:.0f} degrees: {each} g"])
        say_all([f"Still missing: {fitted.missing.amount:.1f} g at {fitted.missing.angle_deg:.0f} degrees"])
    say_all(
        ["Weights of the kind the rim is made for, on a clean dry surface, clear of brake and caliper.", WHO_DECIDES]
    )
