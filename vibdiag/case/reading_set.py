"""Whole rounds of readings in a case: a dial round a part, or what a balancing machine showed.

The form only holds what was read; what it means is worked out elsewhere (`vibdiag.measure`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from vibdiag.case.part import Number, Part, Short, Text, When
from vibdiag.case.vocabulary import ReadOn, Wheel

__all__ = ["FEWEST_PLACES", "MOST_PLACES", "BalanceReading", "ReadingSet"]

# As `vibdiag.measure` asks (a test compares them); repeated here because the form loads without numpy.
FEWEST_PLACES = 4
MOST_PLACES = 360

Read = Annotated[Number, Field(ge=-50_000, le=50_000, allow_inf_nan=False)]
Angle = Annotated[Number, Field(ge=-360, le=720, allow_inf_nan=False)]
Grams = Annotated[Number, Field(ge=0, le=2000, allow_inf_nan=False)]
Step = Annotated[Number, Field(ge=0.0001, le=1000, allow_inf_nan=False)]
Taken = Literal["before", "after"]


class ReadingSet(Part):
    """One round of readings, in the order they were taken, turning the part the way it turns when driving forward."""

    what: ReadOn = Field(
        description=(
            "Where it was read. radial: across the axis; lateral: along it. rim-inner, rim-outer: on the bead seats. "
            "propshaft-front, -middle, -rear: by the place along the shaft. disc-thickness: with a micrometer."
        )
    )
    wheel: Wheel = Field("unknown", description="The wheel it was read at; left out for a propshaft.")
    unit: Literal["mm", "thou", "N"] = Field(
        "mm", description="thou: thousandths of an inch; N only for radial-force, which takes nothing else."
    )
    values: list[Read | None] = Field(
        min_length=FEWEST_PLACES,
        max_length=MOST_PLACES,
        description="What was read, in order; null for a place that could not be read. 12 are recommended.",
    )
    angles_deg: list[Angle] | None = Field(
        None,
        max_length=MOST_PLACES,
        description=(
            "The place of each reading, counted from the valve stem (hub, disc and shaft: from the mark) in the "
            "direction of turning; left out when evenly spaced from there."
        ),
    )
    first_again: list[Read] = Field(
        default_factory=list,
        max_length=20,
        description="The first place read again at the end, once or more: shows drift and how well a reading repeats.",
    )
    resolution: Step | None = Field(
        None, description="One division of the instrument, in the unit; left out: 0.01 mm or 1 thou, thickness a tenth."
    )
    rises: Literal["outward", "inward"] = Field(
        "outward", description="outward: the number rises as the surface comes towards the dial."
    )
    moved_deg: Angle = Field(
        0.0,
        description="How far the wheel was moved on its studs for this round, as it turns; 0 as it came.",
    )
    limit: Annotated[Number, Field(ge=0.0001, le=10_000)] | None = Field(
        None, description="The vehicle maker's limit for the total reading, in the unit; it overrides the table's."
    )
    rim: Literal["steel", "alloy", "unknown"] = Field("unknown", description="What the rim is made of.")
    taken: Taken = Field(
        "before", description="after: read once the repair was done; it proves the repair and never weighs."
    )
    by: Short | None = Field(None, description="Who read it.")
    at: When | None = Field(None, description="When it was read.")
    note: Text | None = Field(None, description="Anything else; kept, and never weighed.")

    @model_validator(mode="after")
    def _fits_together(self) -> ReadingSet:
        if (self.unit == "N") != (self.what == "radial-force"):
            right = "N" if self.what == "radial-force" else "mm, thou"
            raise ValueError(f"'{self.unit}' is no unit of '{self.what}'; it can be {right}")
        if self.angles_deg is not None and len(self.angles_deg) != len(self.values):
            raise ValueError(f"there are {len(self.values)} values at {len(self.angles_deg)} angles; give one each")
        if self.places < FEWEST_PLACES:
            raise ValueError(f"{self.places} different places were read; at least {FEWEST_PLACES} are needed")
        if self.first_again and self.values[0] is None:
            raise ValueError("'first_again' needs the first value, but it is missing")
        if self.what == "disc-thickness" and any(value is not None and value <= 0 for value in self._all()):
            raise ValueError("a thickness must be above zero")
        return self

    @property
    def places(self) -> int:
        """How many different places were read, those closer than a degree counted once."""
        if self.angles_deg is None:
            return sum(value is not None for value in self.values)
        read = zip(self.angles_deg, self.values, strict=True)
        return len({round(angle) % 360 for angle, value in read if value is not None})

    def _all(self) -> list[float | None]:
        return [*self.values, *self.first_again]


class BalanceReading(Part):
    """What a balancing machine showed after one mounting, with the weights as they were.

    Two or more of one wheel, turned on the shaft in between, tell the wheel's imbalance from the mounting's.
    """

    wheel: Wheel = Field("unknown", description="The wheel that was mounted.")
    inner_amount: Grams | None = Field(None, description="Weight asked for in the inner plane, in the unit.")
    inner_deg: Angle | None = Field(
        None, description="Where, counted from the valve stem in the direction of turning; needed unless it is 0."
    )
    outer_amount: Grams | None = Field(None, description="Weight asked for in the outer plane, in the unit.")
    outer_deg: Angle | None = Field(None, description="Where in the outer plane, counted in the same way.")
    unit: Literal["g", "oz"] = Field("g", description="Grams or ounces.")
    display_step: Step | None = Field(
        None, description="Smallest step the display showed, in the unit; left out: 5 g or 1/4 oz."
    )
    plane_distance_mm: Annotated[Number, Field(gt=0, le=1000)] | None = Field(
        None, description="Distance of the two planes along the axis."
    )
    inner_radius_mm: Annotated[Number, Field(ge=20, le=700)] | None = Field(
        None, description="Radius on which the inner weight sits."
    )
    outer_radius_mm: Annotated[Number, Field(ge=20, le=700)] | None = Field(
        None, description="Radius on which the outer weight sits."
    )
    shaft_deg: Angle | None = Field(
        None,
        description="How far the wheel was turned on the shaft for this mounting, in the direction of turning; "
        "0 for the first. Left out: not noted.",
    )
    taken: Taken = Field("before", description="after: shown once the repair was done; never weighs.")
    by: Short | None = Field(None, description="Who mounted it.")
    at: When | None = Field(None, description="When it was shown.")
    note: Text | None = Field(None, description="Anything else; kept, and never weighed.")

    @model_validator(mode="after")
    def _has_a_place(self) -> BalanceReading:
        if self.inner_amount is None and self.outer_amount is None:
            raise ValueError("a balance reading needs 'inner_amount' or 'outer_amount'")
        for plane, amount, angle in (
            ("inner", self.inner_amount, self.inner_deg),
            ("outer", self.outer_amount, self.outer_deg),
        ):
            if amount and angle is None:
                raise ValueError(f"'{plane}_amount' is {amount:g}, so '{plane}_deg' is needed: where it is asked for")
        return self
