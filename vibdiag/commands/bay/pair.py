"""`vibdiag pair`: which tyre on which rim, and which assembly at which place of the car."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from vibdiag.case.model import ReadingSet
from vibdiag.case.vocabulary import Wheel
from vibdiag.commands.bay.inputs import case_of, given, measuring, plain, round_of, rounds_in
from vibdiag.commands.bay.match import BEAD_CAUTION, harmonic_of, rim_vector
from vibdiag.commands.bay.options import CaseFile, Json, Resolution, Unit, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, heading, interval, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import (
    FELT_AT,
    RE_TORQUE_CAUTION,
    Pairing,
    Placing,
    UncertainVector,
    pair_tyres_with_rims,
    place_on_axles,
)

__all__ = ["app", "pair"]

app = new_app()
_PLACES = tuple(place for place in get_args(Wheel) if place != "unknown")


def _from_sets(sets: list[ReadingSet]) -> tuple[list[str], list[UncertainVector], list[UncertainVector]]:
    """Names, assemblies and rims; no rims when one of the wheels has none."""
    at = {(one.wheel, one.what): one for one in sets if not one.moved_deg}
    names = [place for place in (*_PLACES, "unknown") if (place, "tread-radial") in at]
    assemblies = [harmonic_of(at[name, "tread-radial"], f"the tread at {name}") for name in names]
    rims = [
        [at[name, what] for what in ("rim-inner-radial", "rim-outer-radial") if (name, what) in at] for name in names
    ]
    return names, assemblies, [rim_vector(rim) for rim in rims] if all(rims) else []


def _from_values(
    tread: list[str], rim: list[str], csv: list[str], **more: Any
) -> tuple[list[str], list[UncertainVector], list[UncertainVector]]:
    treads = [round_of(what="tread-radial", values=text, option="--tread", **more) for text in tread]
    treads += [round_of(what="tread-radial", csv=Path(path), **more) for path in csv]
    rims = [round_of(what="rim-outer-radial", values=text, option="--rim", **more) for text in rim]
    if rims and len(rims) != len(treads):
        raise InputError(f"there are {len(treads)} of --tread and {len(rims)} of --rim; give as many, in one order")
    names = list(_PLACES) if len(treads) == len(_PLACES) else [f"wheel {each + 1}" for each in range(len(treads))]
    assemblies = [harmonic_of(one, f"the tread of {name}") for one, name in zip(treads, names, strict=True)]
    return names, assemblies, [harmonic_of(one, "a rim") for one in rims]


def _data(names: list[str], plan: Pairing | None, placing: Placing | None) -> dict[str, Any]:
    return {
        "pairs": None
        if plan is None
        else [
            {
                "tyre_of": names[each.tyre],
                "rim_of": names[each.rim],
                "turn_deg": None if each.turn_deg is None else round(each.turn_deg, 1) % 360.0,
                "left_mm": interval(each.left_mm),
            }
            for each in plan.pairs
        ],
        "before_rms_mm": None if plan is None else round(plan.before_rms_mm, 4),
        "left_rms_mm": None if plan is None else round(plan.left_rms_mm, 4),
        "worst_before_mm": None if plan is None else interval(plan.worst_before_mm),
        "worst_mm": None if plan is None else interval(plan.worst_mm),
        "beads_to_break": None if plan is None else plan.beads_to_break,
        "places": None if placing is None else {at: names[number] for at, number in placing.at.items()},
    }


@app.command()
def pair(
    tread: Annotated[
        list[str] | None, typer.Option(help="Radial readings of a tread; once a wheel, front-left first.")
    ] = None,
    rim: Annotated[
        list[str] | None, typer.Option(help="Radial readings of its rim; as many, in the same order.")
    ] = None,
    csv: Annotated[
        list[str] | None, typer.Option(metavar="FILE", help="Tread readings from files, one a wheel.")
    ] = None,
    amounts: Annotated[
        str | None, typer.Option(help="Or: four figures, front-left, front-right, rear-left, rear-right.")
    ] = None,
    case: CaseFile = None,
    unit: Unit = "mm",
    resolution: Resolution = None,
    as_json: Json = False,
) -> None:
    """Which tyre on which rim, and which assembly at which place, so that least is felt."""
    with measuring():
        given(tread_or_csv=tread or csv, amounts=amounts, case=case)
        told = case_of(case)
        plan: Pairing | None = None
        assemblies: list[UncertainVector] = []
        rims: list[UncertainVector] = []
        if amounts is not None:
            names, figures = list(_PLACES), plain(amounts, "--amounts", count=4)
        else:
            if told is not None:
                names, assemblies, rims = _from_sets(list(rounds_in(told, wheel=None)))
            else:
                more = {"unit": unit, "resolution": resolution}
                names, assemblies, rims = _from_values(tread or [], rim or [], csv or [], **more)
            if not assemblies:
                raise InputError("radial readings of the treads are needed, with 'what: tread-radial'")
            if rims:
                plan = pair_tyres_with_rims(assemblies, rims)
            figures = [each.amount.best for each in assemblies]
        placing = place_on_axles(figures) if names == list(_PLACES) else None
    if as_json:
        print_json(_data(names, plan, placing))
        return
    if plan is not None:
        _say_pairs(names, plan)
    if placing is not None:
        heading("Where each assembly is felt least, as it is")
        for at, chosen in placing.at.items():
            say(f"  {at:12} the assembly from {names[chosen]}")
        say_all(
            [
                f"The front is taken to be felt {FELT_AT['front-left'] / FELT_AT['rear-left']:.1f} times as much as "
                "the rear. Only where the maker allows exchanging axles: same size, load and speed rating, direction "
                "of turning kept, better treads where the maker wants them."
            ]
        )
        say()
    elif plan is None:
        say_all(["Readings of the rims would tell which tyre goes on which; four wheels would tell where they go."])
    say_all([*([BEAD_CAUTION] if plan and plan.beads_to_break else []), f"Caution: {RE_TORQUE_CAUTION}", WHO_DECIDES])


def _say_pairs(names: list[str], plan: Pairing) -> None:
    heading("Which tyre on which rim")
    for each in plan.pairs:
        turn = "stays as it is" if each.turn_deg is None else f"turned by {each.turn_deg:.0f} degrees, valve to valve"
        own = "its own rim" if each.tyre == each.rim else f"the rim of {names[each.rim]}"
        say_all([f"Tyre of {names[each.tyre]} on {own}, {turn}: {each.left_mm:.2f} mm left."])
    say_all(
        [
            f"Largest eccentricity {plan.worst_before_mm:.2f} mm now, {plan.worst_mm:.2f} mm then; "
            f"beads to break: {plan.beads_to_break}."
        ]
    )
    say()
