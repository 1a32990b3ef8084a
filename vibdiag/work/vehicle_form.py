"""The vehicle as a form: its fields, declared once, and the vehicle that was typed into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from vibdiag.advice.turning import driveline_of
from vibdiag.case.model import Tyres, Vehicle
from vibdiag.case.vocabulary import Quantity
from vibdiag.files.errors import InputError
from vibdiag.work.form import FormField, number_typed, shown, value_typed

__all__ = ["VEHICLE_FIELDS", "WHEEL_ROWS", "VehicleDraft", "model_of", "read_vehicle", "typed_of", "wheel_value_typed"]

VEHICLE_FIELDS = (
    FormField("tyres.front", "Front tyre", "marking", "225/45R17 91W"),
    FormField("tyres.rear", "Rear tyre", "marking", "255/40R17; empty: as the front"),
    FormField("tyres.old_or_used", "Tyres old, used", "words"),
    FormField("wheels_not_original", "Rims not original", "words"),
    FormField("driven", "Driven axle", "words"),
    FormField("engine_placement", "Engine lies", "words"),
    FormField("power", "Power", "words"),
    FormField("gearbox", "Gearbox", "words"),
    FormField("solid_front_axle", "Solid front axle", "words"),
    FormField("cylinders", "Cylinders", "whole", "4"),
    FormField("axle_ratio", "Axle ratio", "number", "3.65"),
    FormField("gear_ratio", "Gear ratio", "number", "0.76"),
    FormField("reduction_ratio", "Motor reduction", "number", "9.3"),
    FormField("engine_rpm", "Engine, 1/min", "thousands", "2400"),
    FormField("odometer_km", "Odometer, km", "distance", "52000 mi"),
    FormField("description", "The car in words", "text", "estate, alloys; no owner, no plate"),
)

# Readings that are taken at each wheel and written down with the vehicle.
WHEEL_ROWS: tuple[tuple[Quantity, str], ...] = (("tyre-pressure", "Pressure"), ("tread-depth", "Tread depth"))


@dataclass(frozen=True)
class VehicleDraft:
    """What could be read, and one sentence for each field (by path) that could not; `driveline` for all together."""

    vehicle: Vehicle
    faults: Mapping[str, str]


def model_of(field: FormField) -> type[BaseModel]:
    """The part of the case a field of the vehicle belongs to."""
    return Tyres if field.path.startswith("tyres.") else Vehicle


def typed_of(vehicle: Vehicle) -> dict[str, str]:
    """What each field shows for a vehicle, by path; read back it gives the same vehicle."""
    parts: dict[type[BaseModel], BaseModel] = {Tyres: vehicle.tyres, Vehicle: vehicle}
    return {field.path: shown(getattr(parts[model_of(field)], field.name)) for field in VEHICLE_FIELDS}


def wheel_value_typed(text: str) -> float | None:
    """A pressure or depth, None for an empty field; raises ValueError with one sentence."""
    if not text.strip():
        return None
    value = number_typed(text)
    if not 0 <= value <= 50_000:
        raise ValueError(f"must be zero or more, and '{text.strip()}' is no such reading")
    return value


def read_vehicle(typed: Mapping[str, str]) -> VehicleDraft:
    """The vehicle that was typed, by path of each field. A field with a fault is left out of the vehicle."""
    found: dict[type[BaseModel], dict[str, Any]] = {Tyres: {}, Vehicle: {}}
    faults: dict[str, str] = {}
    for field in VEHICLE_FIELDS:
        text = typed.get(field.path, "").strip()
        if not text:
            continue
        try:
            found[model_of(field)][field.name] = value_typed(field, text, model_of(field))
        except ValueError as error:
            faults[field.path] = str(error)
    vehicle = Vehicle.model_validate(found[Vehicle] | {"tyres": found[Tyres]})
    try:
        driveline_of(vehicle)
    except InputError as error:
        faults["driveline"] = error.message.replace("_", " ")
    return VehicleDraft(vehicle, faults)
