"""`vibdiag match`: tyre or rim, by how much to turn the tyre on the rim, what it leaves, and whether it is worth it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from vibdiag.advice.measured import first_harmonic
from vibdiag.case.model import ReadingSet
from vibdiag.case.vocabulary import ReadOn
from vibdiag.commands.bay.inputs import case_of, given, measuring, named, round_of, rounds_in, wheel_of, word
from vibdiag.commands.bay.options import CaseFile, Json, Limit, Resolution, Unit, WheelName, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, heading, interval, judgement_data, limit_data, say_all, vector
from vibdiag.commands.bay.show import vector_text as text_of
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import (
    AsPredicted,
    Judgement,
    MatchMount,
    UncertainVector,
    as_predicted,
    clock_text,
    limit_for,
    match_mount,
    rim_of,
)
from vibdiag.units import to_mm

__all__ = ["BEAD_CAUTION", "app", "harmonic_of", "match", "rim_vector"]

app = new_app()
BEAD_CAUTION = (
    "Caution: a bead is broken and seated only by who is trained for it, with restraint, never above the seating "
    "pressure the tyre maker allows; let all air out first, valve core removed. Balance the wheel anew afterwards."
)
_NAMES: dict[str, ReadOn] = {
    "tread": "tread-radial",
    "rim-inner": "rim-inner-radial",
    "rim-outer": "rim-outer-radial",
    "after": "tread-radial",
}


def harmonic_of(one: ReadingSet, what: str) -> UncertainVector:
    """The first harmonic, or one sentence why the readings do not carry it."""
    found = first_harmonic(one)
    if found is None:
        raise InputError(
            f"the readings of {what} cannot carry eccentricity: 8 places all round are the least, 12 better"
        )
    return found


def rim_vector(rims: list[ReadingSet]) -> UncertainVector:
    """What the rim gives the tyre: the mean of both bead seats, or the one that was read."""
    found = [harmonic_of(one, one.what) for one in rims]
    return rim_of(*found) if len(found) == 2 else found[0]


def _typed(tread: str | None, inner: str | None, outer: str | None, after: str | None, csv: list[str] | None,
           **more: Any) -> dict[str, ReadingSet]:  # fmt: skip
    values = {"tread": tread, "rim-inner": inner, "rim-outer": outer, "after": after}
    found = {
        name: round_of(what=_NAMES[name], values=text, option=f"--{name}", **more)
        for name, text in values.items()
        if text is not None
    }
    for text in csv or []:
        name, path = named(text, "--csv", "NAME=FILE, NAME one of tread, rim-inner, rim-outer, after")
        word(name, list(_NAMES), "--csv")
        found[name] = round_of(what=_NAMES[name], csv=Path(path), **more)
    return found


def _data(plan: MatchMount, checked: AsPredicted | None, maker: float | None) -> dict[str, Any]:
    return {
        "advice": plan.advice,
        "because": plan.because,
        "turn_deg": round(plan.turn_deg, 1) % 360.0,
        "before_mm": interval(plan.before),
        "left_mm": interval(plan.left),
        "gain_mm": interval(plan.gain),
        "tyre": vector(plan.tyre),
        "rim": vector(plan.rim),
        "limit": limit_data(limit_for("tread-radial", maker=maker)),
        "after": None if checked is None else judgement_data(Judgement("cannot-tell", checked.because))
        | {"verdict": checked.sign},
    }  # fmt: skip


@app.command()
def match(
    tread: Annotated[str | None, typer.Option(help="Radial readings of the tread, from the valve.")] = None,
    rim_inner: Annotated[str | None, typer.Option(help="Radial readings of the inner bead seat.")] = None,
    rim_outer: Annotated[str | None, typer.Option(help="Radial readings of the outer bead seat.")] = None,
    after: Annotated[str | None, typer.Option(help="Tread once turned: did it come out as predicted?")] = None,
    csv: Annotated[
        list[str] | None, typer.Option(metavar="NAME=FILE", help="The same from files, e.g. tread=a.csv.")
    ] = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    unit: Unit = "mm",
    resolution: Resolution = None,
    limit: Limit = None,
    seating: Annotated[float, typer.Option(min=0, help="What seating the bead anew changes, mm.")] = 0.0,
    as_json: Json = False,
) -> None:
    """Tyre or rim: how to turn the tyre on the rim, what that would leave, and whether it is worth it."""
    with measuring():
        given(tread_and_rims=tread or csv, case=case)
        told = case_of(case)
        if told is not None:
            sets = {one.what: one for one in rounds_in(told, wheel=wheel) if not one.moved_deg}
            if len({one.wheel for one in sets.values()}) > 1:
                raise InputError("the case has readings of several wheels; say which with --wheel")
            again = {one.what: one for one in told.readings if one.taken == "after" and wheel in (None, one.wheel)}
            by_name = {name: sets[what] for name, what in _NAMES.items() if what in sets and name != "after"}
            if "tread-radial" in again:
                by_name["after"] = again["tread-radial"]
        else:
            more = {"wheel": wheel_of(wheel), "unit": unit, "resolution": resolution}
            by_name = _typed(tread, rim_inner, rim_outer, after, csv, **more)
        rims = [by_name[name] for name in ("rim-inner", "rim-outer") if name in by_name]
        if "tread" not in by_name or not rims:
            raise InputError("radial readings are needed of the tread and of at least one bead seat of the rim")
        maker = None if limit is None else to_mm(limit, unit)
        plan = match_mount(
            harmonic_of(by_name["tread"], "tread"),
            rim_vector(rims),
            seating_error_mm=seating,
            limit=limit_for("tread-radial", maker=maker),
        )
        checked = as_predicted(plan, harmonic_of(by_name["after"], "after")) if "after" in by_name else None
    if as_json:
        print_json(_data(plan, checked, maker))
        return
    heading({"turn": "Turn the tyre on the rim", "leave": "Leave it as it is", "not-enough": "Turning is not enough",
             "cannot-tell": "It gains, but perhaps not enough"}[plan.advice])  # fmt: skip
    say_all([plan.because, f"Tyre {text_of(plan.tyre, 'mm')}.", f"Rim {text_of(plan.rim, 'mm')}."])
    if plan.advice != "leave":
        say_all(
            [
                f"Turn the tyre by {plan.turn_deg:.0f} degrees in the direction of turning: what sits at the valve "
                f"goes to {clock_text(plan.turn_deg)}, counted clockwise as on a wheel of the right side.",
            ]
        )
    say_all(["Amounts are of eccentricity; a dial shows twice as much in all. Oval is not mended by turning."])
    if len(rims) == 1:
        say_all(["Only one bead seat was read; the tyre sits on both, so read the other before breaking the bead."])
    if checked is not None:
        say_all([checked.because])
    say()
    say_all([BEAD_CAUTION, WHO_DECIDES])
