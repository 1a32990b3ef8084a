"""`vibdiag torque`: the star in which wheel fasteners are drawn up, and the torque found on them."""

from __future__ import annotations

from typing import Annotated

import typer

from vibdiag.commands.bay.inputs import measuring, numbers, plain
from vibdiag.commands.bay.options import Json, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.measure import RE_TORQUE_CAUTION, fastener_torque, tightening_sequence
from vibdiag.rotation import Interval
from vibdiag.units import to_newton_metre

__all__ = ["app", "torque"]

app = new_app()


@app.command()
def torque(
    studs: Annotated[int | None, typer.Option(help="How many fasteners, 3 to 10.")] = None,
    found: Annotated[
        str | None, typer.Option(help="Torque at which each moved on, e.g. '118 121 x 119 120'; x is missing.")
    ] = None,
    maker: Annotated[str | None, typer.Option(help="The maker's range, e.g. '110 130'.")] = None,
    unit: Annotated[str, typer.Option(help="N.m or lbf.ft.")] = "N.m",
    as_json: Json = False,
) -> None:
    """Star sequence of the wheel fasteners, and the torque found on them against the maker's."""
    with measuring():
        read = None if found is None else numbers(found, "--found")
        count = studs if studs is not None else len(read) if read is not None else 5
        order = tightening_sequence(count)
        asked = None if maker is None else sorted(to_newton_metre(each, unit) for each in plain(maker, "--maker"))
        judged = None
        if read is not None:
            judged = fastener_torque(
                [None if each is None else to_newton_metre(each, unit) for each in read],
                maker_nm=None if not asked else Interval.between(asked[0], asked[-1]),
            )
    if as_json:
        print_json(
            {
                "studs": count,
                "sequence": list(order),
                "verdict": None if judged is None else judged.sign,
                "each": None if judged is None else list(judged.each),
                "because": None if judged is None else judged.because,
                "caution": RE_TORQUE_CAUTION,
            }
        )
        return
    if judged is not None:
        say_all([f"DANGER: {judged.because}" if judged.sign == "danger" else judged.because])
        say()
    say(f"Sequence, studs counted round: {' '.join(str(number) for number in order)}")
    say_all(
        [
            "Clean seats and threads, wheel flat on the hub, drawn up by hand first, then in the star in two or three "
            "steps, the last with a torque wrench.",
            f"Caution: {RE_TORQUE_CAUTION}",
            WHO_DECIDES,
        ]
    )
