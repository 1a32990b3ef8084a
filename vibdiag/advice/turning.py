"""What turns in the car of a case, how fast, and which turning part a measured frequency fits."""

from __future__ import annotations

from dataclasses import dataclass

from vibdiag.case.model import Case, Vehicle
from vibdiag.files.errors import InputError
from vibdiag.rotation import (
    Driveline,
    Interval,
    Rate,
    TyreMarkingError,
    match_frequency,
    parse_tyre,
    rolling_circumference,
    rotation_rates,
    true_speed,
    turning_parts,
)
from vibdiag.units import to_hz

__all__ = ["TurningTable", "driveline_of", "follows", "layout_facts", "turning_table"]

# Below this fit (0 to 1) an order is out of the question for a measured frequency.
_FITS = 0.05


@dataclass(frozen=True)
class TurningTable:
    """The rates of a case at one speed: `front_circumference_m`, `rear_circumference_m` and the true speed."""

    front_circumference_m: Interval
    rear_circumference_m: Interval
    speed_kmh: Interval
    rates: tuple[Rate, ...]


def driveline_of(vehicle: Vehicle) -> Driveline:
    """The driveline a vehicle describes; raises InputError for a ratio that no car has."""
    try:
        return Driveline(
            driven=vehicle.driven,
            engine_placement=vehicle.engine_placement,
            power=vehicle.power,
            axle_ratio=vehicle.axle_ratio,
            gear_ratio=vehicle.gear_ratio,
            engine_rpm=vehicle.engine_rpm,
            cylinders=vehicle.cylinders,
            reduction_ratio=vehicle.reduction_ratio,
        )
    except ValueError as error:
        raise InputError(str(error), field="vehicle") from error


def layout_facts(vehicle: Vehicle) -> dict[str, str]:
    """Which optional parts the car certainly has or has not; nothing where the layout is not known."""
    layout = Driveline(driven=vehicle.driven, engine_placement=vehicle.engine_placement, power=vehicle.power)
    parts = {part.id: part.certain for part in turning_parts(layout)}
    known: dict[str, str] = {}
    for part, fact in (("propshaft", "propshaft-in-car"), ("engine", "engine-in-car")):
        if part not in parts:
            known[fact] = "no"
        elif parts[part]:
            known[fact] = "yes"
    if vehicle.power != "unknown":
        known["clutch-or-converter-in-car"] = "no" if vehicle.power == "electric" else "yes"
    return known


def _circumference(marking: str, axle: str) -> Interval:
    try:
        return rolling_circumference(parse_tyre(marking))
    except TyreMarkingError as error:
        raise InputError(str(error), field=f"vehicle.tyres.{axle}") from error


def turning_table(case: Case, *, speed: float | None = None) -> TurningTable | None:
    """The rates at `speed` (in the case's unit), or at the complaint's own worst or starting speed.

    None when tyre or speed are not known; raises InputError for a tyre marking or ratio that cannot be.
    """
    told = case.complaint.speed
    shown = speed or told.worst or told.starts or told.fades
    tyres = case.vehicle.tyres
    front, rear = tyres.front or tyres.rear, tyres.rear or tyres.front
    if front is None or rear is None or shown is None:
        return None
    front_m, rear_m = _circumference(front, "front"), _circumference(rear, "rear")
    speed_kmh = true_speed(shown, told.unit, told.read_from)
    staggered = None if front_m == rear_m else rear_m
    rates = rotation_rates(front_m, speed_kmh, driveline_of(case.vehicle), rear_circumference_m=staggered)
    return TurningTable(front_m, rear_m, speed_kmh, rates)


def _kind(rate: Rate) -> str | None:
    """The word of the sign `follows` that an order belongs to."""
    if "wheel" in rate.label:
        return "wheel-1x" if rate.order == 1.0 else "wheel-2x-or-more"
    if rate.part == "propshaft":
        return "propshaft-1x" if rate.order == 1.0 else "propshaft-2x"
    if rate.part == "halfshaft-joint":
        return "halfshaft-3x"
    if rate.follows == "engine-speed" or rate.part == "engine":
        return "engine"
    return None


def follows(case: Case) -> str | None:
    """The turning part that the measured frequencies fit, each taken alone.

    None when none of them fits one kind of part alone, or when two of them name different kinds: the order in which
    they were written down must not decide.
    """
    named: set[str] = set()
    for measurement in case.measurements:
        if measurement.quantity != "frequency" or measurement.taken == "after":
            continue
        table = turning_table(case, speed=measurement.speed)
        if table is None:
            continue
        matches = match_frequency(to_hz(measurement.value, measurement.unit), table.rates)
        kinds = {_kind(match.rate) for match in matches if match.goodness >= _FITS}
        if len(kinds) == 1:
            named |= {kind for kind in kinds if kind is not None}
    return named.pop() if len(named) == 1 else None
