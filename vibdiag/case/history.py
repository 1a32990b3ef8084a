"""What happened to the car before the shake, how it was balanced, and what was tried against it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from vibdiag.case.part import Number, Part, Short, Text, When, Whole
from vibdiag.case.vocabulary import BalanceEffect, EventKind, RepairEffect, RepairKind, YesNo

__all__ = ["Balance", "Event", "History", "Repair"]


class Event(Part):
    what: EventKind = Field(
        description=(
            "crash: in a crash, or a wheel hit from the side; pothole-or-kerb: what a wheel ran into or over; "
            "blow-underneath: what struck or passed beneath; under-cover-touched: an undershield, arch liner or bumper "
            "was off, loose or hit, at an oil service too."
        )
    )
    ago_days: Annotated[Number, Field(ge=0, le=36_500)] | None = Field(
        None,
        description=(
            "Days before the shake began, whenever that was; 0 is the same day. Done by an earlier owner: as many as "
            "are known at least. Work more than 60 days before is old."
        ),
    )
    note: Text | None = None


class Balance(Part):
    times: Annotated[Whole, Field(ge=0, le=100)] | None = Field(None, description="How often balanced for this shake.")
    found_g: Annotated[Number, Field(ge=0, le=2000)] | None = Field(
        None, description="Largest correction that was needed at the last balancing, grams."
    )
    needed: Literal["little", "much", "impossible", "unknown"] = Field(
        "unknown",
        description=(
            "much: it took a lot of weight; impossible: it would not come to zero, or asked for weight elsewhere at "
            "each spin."
        ),
    )
    old_weights_removed: YesNo = "unknown"
    centring: Literal["true-bore", "doubtful", "unknown"] = Field(
        "unknown",
        description="true-bore: on the truest bore surface and checked; doubtful: wrong cone, heavy or worn.",
    )
    display_step_g: Annotated[Number, Field(gt=0, le=100)] | None = Field(
        None, description="Smallest step the display showed, grams (7 g is a quarter ounce)."
    )
    repeats_on_remount: YesNo = "unknown"
    effect: BalanceEffect = Field("unknown", description="What balancing did to the shake.")


class Repair(Part):
    what: RepairKind
    effect: RepairEffect = "unknown"
    by: Short | None = None
    at: When | None = None
    note: Text | None = None


class History(Part):
    events: list[Event] = Field(
        default_factory=list,
        description="What was done to the car or happened to it before the shake began; work of any kind counts.",
    )
    not_happened: list[EventKind] = Field(default_factory=list, description="Asked for, and the answer was no.")
    balance: Balance = Balance()
    axle_swap: Literal["moved", "no-change", "better", "worse", "gone", "unknown"] = Field(
        "unknown",
        description=(
            "What moving the wheels front to rear did. moved: the shake moved with them, also when the steering went "
            "quiet, or nearly, with the front wheels at the rear; better: less, without having moved; gone: felt "
            "nowhere any more."
        ),
    )
    known_good_wheels: Literal["gone", "stays", "unknown"] = Field(
        "unknown", description="What another, good set of wheels did."
    )
    repairs: list[Repair] = Field(default_factory=list, description="Work tried against this shake, with its effect.")
