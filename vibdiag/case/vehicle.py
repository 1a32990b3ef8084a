"""The car of the complaint, as far as it is known."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from vibdiag.case.part import Number, Part, Short, Whole
from vibdiag.case.vocabulary import YesNo

__all__ = ["Tyres", "Vehicle"]


class Tyres(Part):
    front: Short | None = Field(None, description="Marking as on the sidewall, e.g. 225/45R17 91W.")
    rear: Short | None = Field(None, description="Marking of the rear tyres; left out means the same as front.")
    old_or_used: YesNo = Field(
        "unknown", description="yes: the tyres are second-hand, worn near the limit or over six years old."
    )


class Vehicle(Part):
    description: Short | None = Field(None, description="Kind of car in neutral words; no owner, no plate.")
    driven: Literal["front", "rear", "all", "unknown"] = Field("unknown", description="Which axle is driven.")
    engine_placement: Literal["transverse", "longitudinal", "unknown"] = "unknown"
    power: Literal["combustion", "electric", "hybrid", "unknown"] = Field(
        "unknown", description="What drives the car; an electric car has no engine to run rough."
    )
    gearbox: Literal["manual", "automatic", "unknown"] = "unknown"
    cylinders: Annotated[Whole, Field(ge=1, le=16)] | None = None
    axle_ratio: Annotated[Number, Field(gt=0.5, lt=20)] | None = Field(
        None, description="Propshaft turns (or gearbox output turns) for one wheel turn."
    )
    gear_ratio: Annotated[Number, Field(gt=0.1, lt=20)] | None = Field(
        None, description="Engine turns for one gearbox output turn, in the gear of the complaint."
    )
    engine_rpm: Annotated[Number, Field(gt=0, lt=20_000)] | None = Field(
        None, description="Engine speed at the complaint's speed, read from the tachometer."
    )
    reduction_ratio: Annotated[Number, Field(gt=0.5, lt=30)] | None = Field(
        None, description="Motor turns for one wheel turn, for an electric car."
    )
    solid_front_axle: YesNo = Field("unknown", description="yes: both front wheels on one beam axle.")
    wheels_not_original: YesNo = Field("unknown", description="yes: the rims are not the maker's for this car.")
    tyres: Tyres = Tyres()
    odometer_km: Annotated[Number, Field(ge=0, le=5_000_000)] | None = Field(
        None, description="Kilometres run; told in words, nearly new is 10 000 and a high mileage 200 000."
    )
