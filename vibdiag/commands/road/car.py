"""What is known of the car before its recording is looked at: which circumferences, which gearing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from vibdiag.advice.turning import layout_facts
from vibdiag.case.model import Case
from vibdiag.files.errors import InputError
from vibdiag.recording.analyse import USUAL_CIRCUMFERENCE_M
from vibdiag.recording.signal import SpeedSource
from vibdiag.rotation import TyreMarkingError, parse_tyre, rolling_circumference, true_speed
from vibdiag.rotation.speed import ReadFrom

__all__ = ["Car", "car_of", "searched_m"]

_READ_FROM: Final[Mapping[SpeedSource, ReadFrom]] = MappingProxyType(
    {"gps": "gps", "wheel-speed": "obd", "obd": "obd", "cruise": "held-by-cruise", "unknown": "unknown"}
)
_AT_KMH = 100.0  # what a source may read wrong is taken at this speed


@dataclass(frozen=True, slots=True)
class Car:
    """tyres: markings. cylinders, axle_ratio (propshaft turns per wheel turn) and wheel_circumference_m (what the speed
    of each wheel was reckoned with): None where not known. held_kmh: a held speed, in place of a
    recorded one."""

    tyres: tuple[str, ...] = ()
    cylinders: int | None = None
    axle_ratio: float | None = None
    wheel_circumference_m: float | None = None
    held_kmh: float | None = None


def car_of(case: Case | None, *, tyre: str | None, cylinders: int | None, axle_ratio: float | None) -> Car:
    """The car of a case, with what was typed instead of what stands there.

    Raises InputError for a number that no car has.
    """
    if cylinders is not None and not 1 <= cylinders <= 16:
        raise InputError(f"{cylinders} cylinders are none of a car; write 1 to 16", field="--cylinders")
    if axle_ratio is not None and not (math.isfinite(axle_ratio) and 1.0 <= axle_ratio <= 15.0):
        raise InputError(
            f"{axle_ratio:g} is no ratio of a final drive; write propshaft turns per wheel turn, 1 to 15",
            field="--axle-ratio",
        )
    if case is None:
        return Car(() if tyre is None else (tyre,), cylinders, axle_ratio)
    vehicle = case.vehicle
    told = (vehicle.tyres.front, vehicle.tyres.rear) if tyre is None else (tyre,)
    ratio = vehicle.axle_ratio
    if ratio is None or ratio < 1.0 or layout_facts(vehicle).get("propshaft-in-car") == "no":
        ratio = None
    return Car(
        tuple(dict.fromkeys(each for each in told if each)),
        vehicle.cylinders if cylinders is None else cylinders,
        ratio if axle_ratio is None else axle_ratio,
    )


def searched_m(tyres: tuple[str, ...], source: SpeedSource) -> tuple[float, float]:
    """(smallest, largest) circumference to look for, by the speed as recorded: tyre, wear, and what the speed may read
    wrong. Of no tyre in particular when none is known. Raises InputError for a marking that cannot be read."""
    if not tyres:
        return USUAL_CIRCUMFERENCE_M
    truth = true_speed(_AT_KMH, "km/h", _READ_FROM[source])
    try:
        each = [rolling_circumference(parse_tyre(marking)) for marking in tyres]
    except TyreMarkingError as error:
        raise InputError(str(error), field="--tyre") from error
    return min(m.low for m in each) * _AT_KMH / truth.high, max(m.high for m in each) * _AT_KMH / truth.low
