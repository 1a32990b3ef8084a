"""`vibdiag balance`: two planes as static and couple, the same in other places, and what rounding hides."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from vibdiag.advice.remount import shown_in
from vibdiag.case.vocabulary import Wheel
from vibdiag.commands.bay.inputs import (
    case_of,
    circumference_of,
    measuring,
    needed,
    number,
    polar,
    table,
    wheel_of,
    word,
)
from vibdiag.commands.bay.options import CaseFile, Json, WheelName, new_app
from vibdiag.commands.bay.show import WHO_DECIDES, heading, interval, judgement_data, polar_data, say_all
from vibdiag.commands.output import print_json, say
from vibdiag.files.errors import InputError
from vibdiag.measure import (
    Hidden,
    Permissible,
    Plane,
    ResidualJudged,
    TwoPlanes,
    hidden_by_rounding,
    judge_residual,
    move_correction,
    permissible_residual,
    to_static_and_couple,
)
from vibdiag.rotation import Interval, Polar, StaticAndCouple, wheel_hz
from vibdiag.units import to_grams, to_kmh

__all__ = ["app", "balance"]

app = new_app()
_CAUTION = (
    "Caution: guard down, hands and sleeves clear until it stands still. Take off old weights first, and stick or clip "
    "on only what the rim is made for, clear of brake and caliper."
)


_COLUMNS = ("inner", "inner_deg", "outer", "outer_deg")


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of every wheel alike; None where it is not asked."""

    to_inner: Plane | None
    to_outer: Plane | None
    step_g: float | None
    blind_g: float
    hz: float | None
    mass_kg: float | None
    centre_mm: float | None


@dataclass(frozen=True, slots=True)
class _Answer:
    wheel: str | None
    planes: TwoPlanes
    split: StaticAndCouple
    moved: TwoPlanes | None
    hidden: Hidden | None
    allowed: Permissible | None
    judged: ResidualJudged | None


def _plane(text: str, option: str, name: str) -> Plane:
    position, slash, radius = text.partition("/")
    if not slash:
        raise InputError(f"'{text}' is no place; write POSITION/RADIUS in mm, e.g. 120/175", field=option)
    return Plane(name, number(position, option), number(radius, option))


def _in_grams(text: str, option: str, unit: str) -> Polar:
    shown = polar(text, option)
    return Polar(to_grams(shown.amount, unit), shown.angle_deg)


def _from_case(path: Path, wheel: str | None) -> TwoPlanes:
    case = case_of(path)
    at = wheel_of(wheel)
    found = [] if case is None else [
        one for one in case.balance_readings if one.taken == "before" and (at is None or one.wheel == at)
    ]  # fmt: skip
    if len({one.wheel for one in found}) > 1:
        raise InputError("the case has balance readings of several wheels; say which with --wheel")
    if not found:
        raise InputError("the case has no 'balance_readings'" + (f" at {wheel}" if wheel else ""))
    last = found[-1]
    distance = needed(last.plane_distance_mm, "'plane_distance_mm'", "the distance of the two planes")
    inner = Plane("inner", 0.0, needed(last.inner_radius_mm, "'inner_radius_mm'", "the radius of the inner weights"))
    outer = Plane("outer", distance, needed(last.outer_radius_mm, "'outer_radius_mm'", "that of the outer weights"))
    none = Polar(0.0, 0.0)
    return TwoPlanes(inner, outer, shown_in(last, "inner") or none, shown_in(last, "outer") or none)


def _read(path: Path, inner: Plane, outer: Plane, unit: str) -> list[tuple[str | None, TwoPlanes]]:
    """One wheel or mounting a row: the wheel, None where it is not noted, and what was shown."""
    found = []
    for row in table(path, _COLUMNS, optional=("wheel",)):
        wheel = row.cells["wheel"] or None
        shown = [row.polar(side, f"{side}_deg") for side in ("inner", "outer")]
        one, other = (Polar(to_grams(each.amount, unit), each.angle_deg) for each in shown)
        named = None if wheel is None else word(wheel, get_args(Wheel), row.at("wheel"))
        found.append((named, TwoPlanes(inner, outer, one, other)))
    return found


@app.command()
def balance(
    inner: Annotated[str | None, typer.Option(metavar="AMOUNT@ANGLE", help="Weight shown for the inner plane.")] = None,
    outer: Annotated[str | None, typer.Option(metavar="AMOUNT@ANGLE", help="Weight shown for the outer plane.")] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="The same, a row a wheel or mounting: columns inner,inner_deg,outer,outer_deg[,wheel]."
        ),
    ] = None,
    case: CaseFile = None,
    wheel: WheelName = None,
    unit: Annotated[str, typer.Option(help="g or oz.")] = "g",
    at_inner: Annotated[str, typer.Option(metavar="POSITION/RADIUS", help="Inner plane, mm.")] = "0/200",
    at_outer: Annotated[str, typer.Option(metavar="POSITION/RADIUS", help="Outer plane, mm.")] = "150/200",
    to_inner: Annotated[
        str | None, typer.Option(metavar="POSITION/RADIUS", help="Where the inner weight shall go instead.")
    ] = None,
    to_outer: Annotated[
        str | None, typer.Option(metavar="POSITION/RADIUS", help="Where the outer weight shall go instead.")
    ] = None,
    step: Annotated[float | None, typer.Option(help="Smallest step of the display, in the unit.")] = None,
    blind: Annotated[float, typer.Option(min=0, help="Shown as zero below this, in the unit.")] = 0.0,
    tyre: Annotated[str | None, typer.Option(help="Tyre marking, for forces at a speed.")] = None,
    speed: Annotated[float | None, typer.Option(min=1, max=400, help="Speed for the force.")] = None,
    speed_unit: Annotated[str, typer.Option(help="km/h or mph.")] = "km/h",
    mass: Annotated[float | None, typer.Option(help="Mass of wheel and tyre, kg: the permissible residual.")] = None,
    centre: Annotated[float | None, typer.Option(help="Position of the centre of mass, mm (half-way).")] = None,
    as_json: Json = False,
) -> None:
    """Two planes as static and couple, moved to other places, what rounding hides, and what may be left."""
    with measuring():
        word(unit, ("g", "oz"), "--unit")
        if sum((inner is not None or outer is not None, csv is not None, case is not None)) > 1:
            raise InputError("give one of --inner and --outer, --csv, --case")
        at = _plane(at_inner, "--at-inner", "inner"), _plane(at_outer, "--at-outer", "outer")
        if case is not None:
            shown: list[tuple[str | None, TwoPlanes]] = [(wheel, _from_case(case, wheel))]
        elif csv is not None:
            shown = _read(csv, *at, unit)
        else:
            if inner is None and outer is None and step is None and mass is None:
                raise InputError("give --inner and --outer, --csv, --case, or --step with --tyre and --speed")
            weights = _in_grams(inner or "0", "--inner", unit), _in_grams(outer or "0", "--outer", unit)
            shown = [(None, TwoPlanes(*at, *weights))]
        hz: Interval | None = None
        if tyre is not None and speed is not None:
            hz = wheel_hz(circumference_of(tyre), Interval.exact(to_kmh(speed, speed_unit)))
        if (step is not None or mass is not None) and hz is None:
            raise InputError("--tyre and --speed are needed for a force or a permissible residual")
        asked = _Asked(
            _plane(to_inner, "--to-inner", "inner") if to_inner else None,
            _plane(to_outer, "--to-outer", "outer") if to_outer else None,
            None if step is None else to_grams(step, unit),
            to_grams(blind, unit),
            None if hz is None else hz.best,
            mass,
            centre,
        )
        answers = [_answer(place, planes, asked) for place, planes in shown]
    if as_json:
        rows = [_data(answer) for answer in answers]
        with_wheel = [{"wheel": answer.wheel} | row for answer, row in zip(answers, rows, strict=True)]
        print_json(rows[0] if csv is None else {"rows": with_wheel})
        return
    for place, answer in enumerate(answers, 1):
        if csv is not None:
            say_all([f"Row {place}" + (f", {answer.wheel}" if answer.wheel else "") + ":"])
        _say(answer, speed, speed_unit)
    say_all([_CAUTION, WHO_DECIDES])


def _answer(wheel: str | None, planes: TwoPlanes, asked: _Asked) -> _Answer:
    moved = hidden = allowed = judged = None
    if asked.to_inner is not None or asked.to_outer is not None:
        moved = move_correction(planes, inner=asked.to_inner or planes.inner, outer=asked.to_outer or planes.outer)
    if asked.step_g is not None and asked.hz is not None:
        hidden = hidden_by_rounding(asked.step_g, planes.inner, planes.outer, rotation_hz=asked.hz,
                                    blind_below_g=asked.blind_g)  # fmt: skip
    if asked.mass_kg is not None and asked.hz is not None:
        middle = (planes.inner.position_mm + planes.outer.position_mm) / 2.0
        allowed = permissible_residual(asked.mass_kg, asked.hz, inner=planes.inner, outer=planes.outer,
                                       centre_mm=middle if asked.centre_mm is None else asked.centre_mm)  # fmt: skip
        judged = judge_residual(planes, allowed, step_g=asked.step_g or 0.0)
    return _Answer(wheel, planes, to_static_and_couple(planes), moved, hidden, allowed, judged)


def _planes_data(planes: TwoPlanes) -> dict[str, Any]:
    return {
        side.name: {"position_mm": side.position_mm, "radius_mm": side.radius_mm, "weight_g": polar_data(weight)}
        for side, weight in ((planes.inner, planes.inner_g), (planes.outer, planes.outer_g))
    }


def _data(answer: _Answer) -> dict[str, Any]:
    hidden, allowed, judged = answer.hidden, answer.allowed, answer.judged
    return {
        "planes": _planes_data(answer.planes),
        "static_gmm": polar_data(answer.split.static, 1),
        "couple": {
            "pair_gmm": polar_data(answer.split.pair, 1),
            "moment_gmm2": None if answer.split.moment is None else round(answer.split.moment, 1),
        },
        "moved": None if answer.moved is None else _planes_data(answer.moved),
        "hidden": None
        if hidden is None
        else {
            "per_plane_g": round(hidden.per_plane_g, 3),
            "static_g": interval(hidden.static_g, 2),
            "static_gmm": interval(hidden.static_gmm, 1),
            "couple_gmm2": round(hidden.couple_gmm2, 1),
            "force_n": interval(hidden.force_n, 2),
        },
        "permissible": None
        if allowed is None
        else {
            "total_gmm": round(allowed.total_gmm, 1),
            "inner_g": round(allowed.inner_g, 2),
            "outer_g": round(allowed.outer_g, 2),
            "source": allowed.source,
        },
        "judged": None
        if judged is None
        else {side: judgement_data(getattr(judged, side)) for side in ("inner", "outer", "static")},
    }


def _weights(planes: TwoPlanes) -> list[str]:
    return [
        f"{side.name}, {side.position_mm:g} mm along, radius {side.radius_mm:g} mm: {weight.amount:.1f} g at "
        f"{weight.angle_deg:.0f} degrees"
        for side, weight in ((planes.inner, planes.inner_g), (planes.outer, planes.outer_g))
    ]


def _say(answer: _Answer, speed: float | None, speed_unit: str) -> None:
    heading("Static and couple")
    mean = (answer.planes.inner.radius_mm + answer.planes.outer.radius_mm) / 2.0
    static, pair = answer.split.static, answer.split.pair
    say_all(_weights(answer.planes))
    say_all(
        [
            f"Static: {static.amount:.0f} g.mm at {static.angle_deg:.0f} degrees, {static.amount / mean:.1f} g at "
            f"{mean:g} mm; it shakes up and down.",
            f"Couple: {pair.amount:.0f} g.mm in each plane against each other, {pair.amount / mean:.1f} g at {mean:g} "
            "mm; it shakes the steering.",
        ]
    )
    say()
    if answer.moved is not None:
        heading("The same in the other places")
        say_all(_weights(answer.moved))
        say()
    if answer.hidden is not None:
        heading(f"What zeros can hide, at {speed:g} {speed_unit}")
        say_all(
            [
                f"Up to {answer.hidden.per_plane_g:.1f} g in each plane; together usually "
                f"{answer.hidden.static_g.best:.1f} g, at worst {answer.hidden.static_g.high:.1f} g: a force of "
                f"{answer.hidden.force_n.best:.1f} N, at worst {answer.hidden.force_n.high:.1f} N."
            ]
        )
        say()
    if answer.allowed is not None and answer.judged is not None:
        heading("What may be left")
        say_all(
            [
                f"{answer.allowed.source}: {answer.allowed.total_gmm:.0f} g.mm in all, {answer.allowed.inner_g:.1f} g "
                f"in the inner and {answer.allowed.outer_g:.1f} g in the outer plane. That is far more than is felt: "
                "within it is no proof that the wheel does not shake.",
                answer.judged.inner.because,
                answer.judged.outer.because,
                answer.judged.static.because,
            ]
        )
        say()
