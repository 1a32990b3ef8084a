"""`vibdiag turns`: what turns how fast, what would be felt where, and which part a frequency fits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast, get_args

from vibdiag.case.model import Case, Vehicle
from vibdiag.case.storage import load_case
from vibdiag.case.vocabulary import SpeedSource
from vibdiag.commands.output import input_errors, paragraph, print_json, say
from vibdiag.files.errors import InputError
from vibdiag.rotation import (
    CircumferenceDifference,
    Driveline,
    Interval,
    Match,
    OrderAtSpeed,
    Rate,
    TyreMarkingError,
    WindowHit,
    circumference_difference,
    frequency_from_count,
    indistinguishable,
    match_frequency,
    orders_from_speeds,
    parse_tyre,
    revolutions_per_km,
    revolutions_per_mile,
    rolling_circumference,
    rotation_rates,
    true_speed,
    windows_hit,
)

__all__ = ["TurnsRequest", "show_turns"]


@dataclass(frozen=True)
class TurnsRequest:
    """What was asked on the command line; None where nothing was said."""

    tyre: str | None = None
    rear_tyre: str | None = None
    speed: float | None = None
    unit: str = "km/h"
    read_from: str = "unknown"
    driven: str = "unknown"
    placement: str = "unknown"
    power: str = "unknown"
    axle_ratio: float | None = None
    gear_ratio: float | None = None
    rpm: float | None = None
    cylinders: int | None = None
    reduction: float | None = None
    accessories: tuple[str, ...] = ()
    hz: float | None = None
    count: float | None = None
    seconds: float | None = None
    beat: float | None = None
    starts: float | None = None
    worst: float | None = None
    fades: float | None = None
    case: Path | None = None


@dataclass(frozen=True)
class Turning:
    """The answer: rates at one speed, where they would be felt, and what was matched."""

    front_m: Interval
    rear_m: Interval
    speed_kmh: Interval
    rates: tuple[Rate, ...]
    hits: tuple[WindowHit, ...]
    measured_hz: Interval | None = None
    matches: tuple[Match, ...] = ()
    alike: tuple[tuple[str, ...], ...] = ()
    from_speeds: tuple[OrderAtSpeed, ...] = ()
    beat: CircumferenceDifference | None = None
    notes: tuple[str, ...] = field(default=())


def _accessories(items: tuple[str, ...]) -> dict[str, float]:
    found = {}
    for item in items:
        name, _, ratio = item.partition("=")
        try:
            found[name.strip()] = float(ratio)
        except ValueError as error:
            raise InputError(f"'{item}' is no accessory; write NAME=RATIO, e.g. alternator=2.6") from error
    return found


def _from_case(request: TurnsRequest) -> TurnsRequest:
    """The request with everything that the command line leaves open taken from its case file."""
    if request.case is None:
        return request
    case: Case = load_case(request.case)
    vehicle, speed = case.vehicle, case.complaint.speed
    told = {
        "tyre": vehicle.tyres.front or vehicle.tyres.rear,
        "rear_tyre": vehicle.tyres.rear,
        "speed": speed.worst or speed.starts or speed.fades,
        "driven": vehicle.driven,
        "placement": vehicle.engine_placement,
        "power": vehicle.power,
        "axle_ratio": vehicle.axle_ratio,
        "gear_ratio": vehicle.gear_ratio,
        "rpm": vehicle.engine_rpm,
        "cylinders": vehicle.cylinders,
        "reduction": vehicle.reduction_ratio,
        "starts": speed.starts,
        "worst": speed.worst,
        "fades": speed.fades,
        "beat": case.complaint.beat_period_s,
        "read_from": speed.read_from,
    }
    given = dict(vars(request))
    if request.speed is None:
        given["unit"] = speed.unit
    for name, value in told.items():
        if given[name] in (None, "unknown"):
            given[name] = value
    return TurnsRequest(**given)


def _driveline(request: TurnsRequest) -> Driveline:
    words: dict[str, Any] = {
        "driven": request.driven,
        "engine_placement": request.placement,
        "power": request.power,
    }
    for name, value in words.items():
        allowed = get_args(Vehicle.model_fields[name].annotation)
        if value not in allowed:
            raise InputError(f"'{value}' is not known; write one of: {', '.join(allowed)}", field=name)
    for name, value in (
        ("axle_ratio", request.axle_ratio),
        ("gear_ratio", request.gear_ratio),
        ("engine_rpm", request.rpm),
        ("cylinders", request.cylinders),
        ("reduction_ratio", request.reduction),
    ):
        words[name] = value
    try:
        return Driveline(**words, accessory_ratios=_accessories(request.accessories))
    except ValueError as error:
        raise InputError(str(error)) from error


def _circumference(marking: str, option: str) -> Interval:
    try:
        return rolling_circumference(parse_tyre(marking))
    except TyreMarkingError as error:
        raise InputError(str(error), field=option) from error


def _measured(request: TurnsRequest) -> Interval | None:
    if request.hz is not None:
        # A frequency read off somewhere is taken to be good to half a tenth of a hertz, or one per cent.
        return Interval.around(request.hz, max(min(0.05, request.hz), 0.01 * request.hz))
    if (request.count is None) != (request.seconds is None):
        raise InputError("--count and --seconds belong together: so many shakes in so many seconds")
    if request.count is not None and request.seconds is not None:
        return frequency_from_count(request.count, request.seconds)
    return None


def compute_turning(request: TurnsRequest) -> Turning:
    """Everything that can be told for `request`; raises InputError for what cannot be or is missing."""
    request = _from_case(request)
    for option, value in (("--hz", request.hz), ("--count", request.count), ("--seconds", request.seconds)):
        if value is not None and not math.isfinite(value):
            raise InputError(f"{value} is not a number that can be measured", field=option)
    if request.starts and request.fades and request.fades <= request.starts:
        raise InputError(f"--fades ({request.fades:g}) must be above --starts ({request.starts:g})")
    if request.tyre is None and request.rear_tyre is None:
        raise InputError("no tyre is known; give --tyre 225/45R17, or --case with a tyre in it")
    shown = request.speed or request.worst or request.starts or request.fades
    if shown is None:
        raise InputError("no speed is known; give --speed, or the complaint's --starts, --worst or --fades")
    if request.read_from not in get_args(SpeedSource):
        raise InputError(f"'{request.read_from}' is not known; --from takes {', '.join(get_args(SpeedSource))}")
    if request.unit not in ("km/h", "mph"):
        raise InputError(f"'{request.unit}' is no unit of speed here; --unit takes km/h or mph")
    source = cast(SpeedSource, request.read_from)
    front = _circumference(request.tyre or request.rear_tyre or "", "--tyre")
    rear = _circumference(request.rear_tyre or request.tyre or "", "--rear-tyre")
    driveline = _driveline(request)

    def true(value: float | None) -> Interval | None:
        return None if value is None else true_speed(value, request.unit, source)

    speed = true_speed(shown, request.unit, source)
    rates = rotation_rates(front, speed, driveline, rear_circumference_m=None if front == rear else rear)
    measured = _measured(request)
    matches = match_frequency(measured, rates) if measured is not None else ()
    alike = tuple(
        tuple(rate.label for rate in group.rates) for group in indistinguishable(rates) if len(group.rates) > 1
    )
    worst = true(request.worst or request.starts)
    from_speeds: tuple[OrderAtSpeed, ...] = ()
    if worst is not None:
        labelled = {
            rate.label: rate.per_wheel_turn for rate in rates if rate.per_wheel_turn is not None and rate.order <= 3
        }
        from_speeds = orders_from_speeds(
            worst,
            front,
            starts_kmh=true(request.starts),
            fades_kmh=true(request.fades),
            per_wheel_turn=labelled,
        )
    difference = None
    if request.beat is not None:
        try:
            difference = circumference_difference(request.beat, speed, front)
        except ValueError as error:
            raise InputError(str(error), field="--beat") from error
    return Turning(front, rear, speed, rates, windows_hit(rates), measured, matches, alike, from_speeds, difference)


def _interval(value: Interval, digits: int = 3) -> dict[str, float]:
    return {
        "low": round(value.low, digits),
        "best": round(value.best, digits),
        "high": round(value.high, digits),
    }


def _data(found: Turning) -> dict[str, Any]:
    return {
        "speed_kmh": _interval(found.speed_kmh),
        "circumference_m": {"front": _interval(found.front_m, 4), "rear": _interval(found.rear_m, 4)},
        "revolutions_per_km": _interval(revolutions_per_km(found.front_m)),
        "revolutions_per_mile": _interval(revolutions_per_mile(found.front_m)),
        "rates": [
            {
                "id": rate.key,
                "label": rate.label,
                "hz": _interval(rate.frequency_hz),
                "per_wheel_turn": None if rate.per_wheel_turn is None else _interval(rate.per_wheel_turn),
                "follows": rate.follows,
                "certain": rate.certain,
                "assumed": rate.assumed,
                "how": rate.how,
            }
            for rate in found.rates
        ],
        "felt": [
            {
                "label": hit.rate.label,
                "window": hit.window.id,
                "felt": hit.window.felt,
                "share": round(hit.share, 3),
            }
            for hit in found.hits
        ],
        "measured_hz": None if found.measured_hz is None else _interval(found.measured_hz),
        "matches": [
            {
                "label": match.rate.label,
                "goodness": round(match.goodness, 3),
                "confused_with": list(match.confused_with),
            }
            for match in found.matches
        ],
        "alike": [list(labels) for labels in found.alike],
        "from_speeds": [
            {
                "label": each.label,
                "window": each.window.id,
                "hz": _interval(each.worst_hz),
                "share": round(each.share, 3),
            }
            for each in found.from_speeds
        ],
        "beat": None
        if found.beat is None
        else {
            "fraction": _interval(found.beat.fraction, 5),
            "circumference_mm": _interval(found.beat.circumference_mm, 2),
            "diameter_mm": _interval(found.beat.diameter_mm, 2),
        },
    }


def _print(found: Turning) -> None:
    staggered = found.rear_m != found.front_m
    say(f"true speed, km/h          {found.speed_kmh:.0f}")
    say(f"one turn of the wheel, m  {found.front_m:.3f}{'  front' if staggered else ''}")
    if staggered:
        say(f"                          {found.rear_m:.3f}  rear")
    say(f"turns a kilometre         {revolutions_per_km(found.front_m):.0f}")
    say(f"turns a mile              {revolutions_per_mile(found.front_m):.0f}")
    say()
    felt: dict[str, list[str]] = {}
    for hit in found.hits:
        felt.setdefault(hit.rate.label, []).append(hit.window.felt)
    say(f"{'what turns':24} {'Hz':>6} {'from':>6} {'to':>6}  where the car would answer")
    for rate in found.rates:
        hz = rate.frequency_hz
        doubt = "" if rate.certain and not rate.assumed else " ?"
        where = "; ".join(dict.fromkeys(felt.get(rate.label, [])))
        row = f"{rate.label + doubt:24} {hz.best:6.1f} {hz.low:6.1f} {hz.high:6.1f}"
        say(paragraph(where, indent=" " * 48, first=f"{row}  ") if where else row)
    if any(not rate.certain or rate.assumed for rate in found.rates):
        say("? the layout or a ratio is not known; the figure is a plausible range")
    _print_matches(found)
    _print_speeds(found)
    if found.beat is not None:
        say()
        text = (
            f"A beat of that period: two circumferences {100 * found.beat.fraction.best:.2f} % apart, "
            f"{found.beat.circumference_mm:.1f} mm round, {found.beat.diameter_mm:.1f} mm in diameter"
        )
        say(paragraph(text, indent="  ", first=""))


def _print_matches(found: Turning) -> None:
    if found.measured_hz is None:
        return
    say()
    if not found.matches:
        say(paragraph(
            f"{found.measured_hz:.1f} Hz fits nothing that turns here: a resonance, the road, "
            "or speed, tyre or ratio are not what was said.", indent="  ", first=""
        ))  # fmt: skip
        return
    say(f"{found.measured_hz:.1f} Hz fits:")
    for match in found.matches:
        same = f"; cannot be told from {', '.join(match.confused_with)}" if match.confused_with else ""
        say(paragraph(f"{match.rate.label}, fit {match.goodness:.2f} of 1{same}", indent="    ", first="  "))


def _print_speeds(found: Turning) -> None:
    if not found.from_speeds:
        return
    say()
    say("From the complaint's speeds alone, at its worst:")
    for each in found.from_speeds:
        if each.share >= 0.25:
            text = f"{each.label:16} {each.worst_hz.best:5.1f} Hz, in reach of: {each.window.what}"
            say(paragraph(text, indent=" " * 28, first="  "))


def show_turns(request: TurnsRequest, *, as_json: bool) -> None:
    """Print the table for a person, or JSON."""
    with input_errors():
        found = compute_turning(request)
    if as_json:
        print_json(_data(found))
    else:
        _print(found)
