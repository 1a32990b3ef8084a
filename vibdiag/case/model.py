"""The complaint as data. Everything is optional; what is left out is unknown and weighs nothing.

Field descriptions are the code book: they say how to put a story into this form, and they are exported by
`vibdiag schema`.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, model_validator

from vibdiag.case.history import Balance, Event, History, Repair
from vibdiag.case.part import Number, Part, Short, SpeedValue, Text, When
from vibdiag.case.reading_set import BalanceReading, ReadingSet
from vibdiag.case.vehicle import Tyres, Vehicle
from vibdiag.case.vocabulary import (
    UNITS_OF,
    Axle,
    CauseId,
    Direction,
    Effect,
    Growth,
    How,
    Noise,
    Place,
    Quantity,
    Rhythm,
    Role,
    SpeedPattern,
    SpeedSource,
    SpeedUnit,
    Tracks,
    Unit,
    Wheel,
    YesNo,
)

__all__ = [
    "CASE_VERSION",
    "GONE",
    "Acknowledgement",
    "Attachment",
    "Balance",
    "BalanceReading",
    "Case",
    "Complaint",
    "Conditions",
    "Event",
    "FollowUp",
    "History",
    "Measurement",
    "OrderAtSpeed",
    "Outcome",
    "ReadingSet",
    "RecordedOrder",
    "RecordedSign",
    "Repair",
    "Seen",
    "SpeedTold",
    "StepResult",
    "Tyres",
    "Vehicle",
]

CASE_VERSION = 1
# The outcome, after the repair only, of any observation when nothing is felt any more.
GONE = "gone"


class SpeedTold(Part):
    """Speeds as the customer tells them, in the customer's unit."""

    unit: SpeedUnit = "km/h"
    read_from: SpeedSource = "unknown"
    starts: SpeedValue | None = Field(None, description="Where the shake is first felt when speeding up.")
    worst: SpeedValue | None = None
    fades: SpeedValue | None = Field(
        None, description="Where it has gone again when speeding up further; left out when it never fades."
    )
    pattern: SpeedPattern = Field(
        "unknown",
        description=(
            "When words tell more than numbers. slow-worst: at town or walking speed, as bad or worse than when fast; "
            "from-slow: begins below about 50 km/h and stays when faster; narrow-band: comes in and goes out again "
            "within a band; fast: from road or motorway speed upward; very-fast: only above about 120 km/h; "
            "no-fixed-speed: at any speed or at no particular one."
        ),
    )

    @model_validator(mode="after")
    def _order(self) -> SpeedTold:
        if self.starts and self.fades and self.fades <= self.starts:
            raise ValueError(
                f"'fades' ({self.fades:g}) must be above 'starts' ({self.starts:g}); "
                "for a shake that is worst when slow leave 'starts' out"
            )
        return self


class Conditions(Part):
    """What each condition does to the shake.

    brings: it is there when this happens (that is when it was noticed); worsens: there anyway, stronger then;
    unchanged: tried or told to make no difference; eases: less or gone then.
    """

    braking: Effect = "unknown"
    accelerating: Effect = Field("unknown", description="Under power, while already rolling.")
    pulling_away: Effect = Field("unknown", description="Moving off from standstill.")
    coasting: Effect = Field("unknown", description="Foot off the pedal, in gear or slowing down.")
    neutral: Effect = Field("unknown", description="Out of gear or clutch down at the same road speed.")
    constant_speed: Effect = Field(
        "unknown", description="brings: it is there at a steady speed; eases: only when the speed changes."
    )
    turning_left: Effect = "unknown"
    turning_right: Effect = "unknown"
    rough_road: Effect = Field("unknown", description="brings: one bump sets it off.")
    smooth_road: Effect = Field("unknown", description="eases: gone where the road is smooth.")
    loaded: Effect = Field("unknown", description="Passengers, luggage, trailer or a climb.")
    cold: Effect = Field("unknown", description="The first minutes after standing; brings: there when cold.")
    warm: Effect = Field("unknown", description="After some distance; brings: appears when warm.")
    idle: Effect = Field("unknown", description="Standing with the engine running; brings: it is there.")
    idle_out_of_gear: Effect = Field("unknown", description="At idle, neutral or park against drive or reverse.")
    windows_or_wind: Effect = Field("unknown", description="Windows, roof load or wind change it.")
    air_conditioning: Effect = "unknown"
    parking_brake: Effect = Field("unknown", description="A light pull while rolling.")
    certain_roads: Effect = Field("unknown", description="brings: only on some roads.")
    clutch_or_lockup: Effect = Field(
        "unknown",
        description=(
            "eases: it stops when the converter unlocks or the clutch is dipped under load; brings: the shake or jerk "
            "comes as the converter locks."
        ),
    )


class Complaint(Part):
    words: Text = Field("", description="The customer's own words, kept as they were said.")
    speed: SpeedTold = SpeedTold()
    tracks: Tracks = Field(
        "unknown",
        description="What the shake keeps pace with, if somebody tried: same road speed in another gear or neutral.",
    )
    felt_at: list[Place] = Field(default_factory=list, description="Every place that was named.")
    strongest: Place = Field("unknown", description="Where it is felt most, if that was said.")
    seems_from: Literal["front", "rear", "middle", "unknown"] = Field(
        "unknown", description="Where on the car the shake or noise seems to come from, whatever the side."
    )
    severity: Literal["slight", "plain", "violent", "unknown"] = Field(
        "unknown",
        description=(
            "violent: frightening, very large, the car hard to hold, slowed down for fear; slight: only just felt."
        ),
    )
    shake: YesNo = Field("unknown", description="no: only a noise is complained of; yes: asked, and there is a shake.")
    direction: Direction = Field(
        "unknown",
        description=(
            "steering-rotates: the steering wheel wobbles, shimmies, swings to and fro; up-down: hops, bounces; "
            "fore-aft: jerks, bucks, surges."
        ),
    )
    rhythm: Rhythm = Field(
        "unknown",
        description=(
            "steady; comes-and-goes: swells and fades at one speed; once-per-turn: a bump or thump with each wheel "
            "turn, or as if a wheel were square or egg-shaped; bursts: breaks out and dies away by itself, for a few "
            "seconds at a time."
        ),
    )
    beat_period_s: Annotated[Number, Field(gt=0.05, le=600)] | None = Field(
        None, description="Seconds between two swells at a steady speed."
    )
    same_engine_speed: YesNo = Field(
        "unknown", description="yes: always at one engine speed, also with the car standing."
    )
    conditions: Conditions = Conditions()
    noise: list[Noise] = Field(
        default_factory=list,
        description=(
            "Noises that came with the shake; [none] when asked and none. One noise is one word. clunk: a knock when "
            "the load changes or over a bump; thump-or-slap: a steady beat or knocking while rolling; click: also a "
            "clatter on steering lock; hum-or-growl: heard, a feel like rumble strips is no noise. Trim that rattles "
            "along, and a noise that was there before, go into the notes."
        ),
    )
    pull: YesNo = Field("unknown", description="The car pulls to one side.")
    heat_or_smell: YesNo = Field("unknown", description="A hot wheel, smoke or a burning smell.")
    sluggish: YesNo = Field("unknown", description="The car feels held back or shifts down on the level.")
    warning_lamp: YesNo = Field("unknown", description="Engine lamp lit or a misfire code stored.")
    wanders: YesNo = Field("unknown", description="Has to be kept straight by constant correcting.")
    keeps_bouncing: YesNo = Field(
        "unknown", description="The body goes on bouncing after a bump, or sways and floats along."
    )
    same_in_another_car: YesNo = Field(
        "unknown", description="Another car of the same kind was driven the same way: yes, it does it too."
    )
    growth: Growth = Field(
        "unknown",
        description=(
            "How it came: sudden: from one minute to the next or within one drive; days: plainly worse within hours to "
            "days; slow: over weeks or months; stable: as it was when it began, or as bought. That it comes some way "
            "into a drive is warm, not growth."
        ),
    )


class Seen(Part):
    """What somebody saw without measuring."""

    weight_missing: YesNo = Field("unknown", description="The clean trace of a lost balance weight.")
    dirt_in_wheel: YesNo = Field("unknown", description="Mud, snow, stones or liquid in a rim or tyre.")
    rim_bent: YesNo = "unknown"
    tyre: Literal["bulge-or-cord", "cupped-or-worn", "flat-place", "nothing", "unknown"] = Field(
        "unknown", description="What looking at the tyres from outside showed."
    )
    wheel_wobbles: YesNo = Field("unknown", description="A wheel runs out visibly when turned or driven.")
    joint_boot_torn: YesNo = "unknown"
    propshaft_damaged: YesNo = Field("unknown", description="Dent, lost weight, ice or a rub mark on the propshaft.")
    engine_rocks: YesNo = Field("unknown", description="The engine visibly rocks or jumps.")
    note: Text | None = None


class StepResult(Part):
    """The answer to a question, an observation on the road or the result of a check."""

    step: Short = Field(description="Id of the question or check in the rule base.")
    outcome: Short = Field(
        description="One of the step's outcomes, or unknown; after the repair also gone: nothing is felt any more."
    )
    how: How = Field(
        "measured",
        description="measured: done as the step says; looked: a quick look; told: somebody's verdict, handed on.",
    )
    wheel: Wheel = "unknown"
    by: Short | None = None
    role: Role = "unknown"
    at: When | None = None
    taken: Literal["before", "after"] = Field(
        "before",
        description="after: seen once the repair was done; it proves the repair and does not weigh on the causes.",
    )
    words: Text | None = Field(None, description="What was said or noted, word for word.")


class Measurement(Part):
    quantity: Quantity
    value: Annotated[Number, Field(allow_inf_nan=False, ge=-50_000, le=50_000)]
    unit: Unit
    wheel: Wheel = "unknown"
    limit: Annotated[Number, Field(gt=0, le=1e6)] | None = Field(
        None, description="The vehicle maker's limit in the same unit; it overrides the rule base's."
    )
    speed: SpeedValue | None = Field(None, description="Speed of the measurement, in the case's unit.")
    taken: Literal["before", "after", "unknown"] = Field("unknown", description="Before or after the repair.")
    by: Short | None = None
    at: When | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _unit_fits(self) -> Measurement:
        fitting = UNITS_OF[self.quantity]
        if self.unit not in fitting:
            raise ValueError(f"'{self.unit}' is no unit of '{self.quantity}'; it can be {', '.join(fitting)}")
        return self


class Acknowledgement(Part):
    """Somebody has read a danger and signs for having read it; the danger itself stays."""

    danger: CauseId
    by: Annotated[str, Field(min_length=1, max_length=100)]
    at: When | None = None


class RecordedSign(Part):
    """What a recording says of one sign; it weighs by its trust, and never more than what was measured in the bay."""

    sign: Short = Field(description="A sign of the rule base.")
    word: Short = Field(description="One of the sign's words.")
    trust: Annotated[Number, Field(ge=0, le=1, allow_inf_nan=False)] = Field(
        description="How often such a recording is right about it; the rest of the time it says nothing."
    )
    because: Short = Field("", description="What was seen in the recording, in one sentence.")


_Amplitude = Annotated[Number, Field(ge=0, le=1e6, allow_inf_nan=False)]


class OrderAtSpeed(Part):
    """Amplitude of an order about one road speed."""

    kmh: Annotated[Number, Field(ge=0, le=500, allow_inf_nan=False)] = Field(description="The middle of the step.")
    amplitude: _Amplitude = Field(description="Zero to peak, in the order's unit.")
    low: _Amplitude = Field(description="90 % interval, from ...")
    high: _Amplitude = Field(description="... to.")


class RecordedOrder(Part):
    """One order that was found in a recording, on one axis; it is shown in reports and weighs by its sign alone."""

    order: Short = Field(description="As ISO 13373 writes it, such as 1x wheel.")
    part: Short = Field("", description="What turns so, in words.")
    axis: Short = Field(description="The channel of the recording it stands on.")
    unit: Short
    hz: Annotated[Number, Field(gt=0, le=1e5, allow_inf_nan=False)] = Field(description="At the mean speed.")
    kmh: Annotated[Number, Field(ge=0, le=500, allow_inf_nan=False)] | None = Field(None, description="The mean speed.")
    amplitude: _Amplitude = Field(description="Zero to peak, in unit.")
    low: _Amplitude = Field(description="90 % interval, from ...")
    high: _Amplitude = Field(description="... to.")
    over_speed: list[OrderAtSpeed] = Field(default_factory=list, max_length=100)


class Attachment(Part):
    """A recording or picture that belongs to the case; the file itself stays where it is."""

    path: Short
    sensor_place: Literal["seat-rail", "floor", "steering-column", "steering-wheel", "unknown"] = "unknown"
    taken: Literal["before", "after", "unknown"] = Field("unknown", description="Before or after the repair.")
    at: When | None = None
    note: Text | None = None
    signs: list[RecordedSign] = Field(
        default_factory=list,
        max_length=100,
        description="What `vibdiag road` read in it; after the repair it does not weigh on the causes.",
    )
    orders: list[RecordedOrder] = Field(
        default_factory=list, max_length=100, description="The orders `vibdiag road` found in it, the surest first."
    )
    unit_doubt: Text | None = Field(
        None,
        description="Why the unit of its acceleration is in doubt; then the size of its orders is compared with none.",
    )
    rotation_doubt: Text | None = Field(None, description="The same of its rotation, such as that of a gyroscope.")


class FollowUp(Part):
    """Something to do later, such as checking the fastener torque again or calling the customer."""

    what: Literal["check-torque", "call-back", "other"]
    due: date
    done: bool = False
    note: Text | None = None


class Outcome(Part):
    confirmed_cause: CauseId
    axle: Axle = "unknown"
    wheel: Wheel = "unknown"
    secondary_cause: CauseId | None = Field(None, description="A second fault that was found and mended with it.")
    place: Short | None = Field(None, description="Where exactly, in words.")
    proof: Text | None = Field(None, description="What showed that the shake is gone.")
    confirming_step: Short | None = Field(None, description="Id of the check that settled it.")
    by: Short | None = None
    at: When | None = None


class Case(Part):
    """One complaint, from the first words to the proof."""

    vibdiag_case: Literal[1] = Field(description="Version of this form.")
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,79}$")]
    title: Short | None = None
    invented: bool = Field(False, description="true: made up, for practice or demonstration.")
    source: Short | None = Field(None, description="Where a published case comes from.")
    opened_by: Short | None = None
    opened_at: When | None = None
    vehicle: Vehicle = Vehicle()
    complaint: Complaint = Complaint()
    history: History = History()
    seen: Seen = Seen()
    steps: list[StepResult] = Field(default_factory=list, max_length=2000)
    measurements: list[Measurement] = Field(default_factory=list, max_length=5000)
    readings: list[ReadingSet] = Field(default_factory=list, max_length=500, description="Whole rounds of readings.")
    balance_readings: list[BalanceReading] = Field(
        default_factory=list, max_length=500, description="What the balancing machine showed, one for each mounting."
    )
    dangers_shown: list[CauseId] = Field(
        default_factory=list, max_length=100, description="Dangers that were shown; each stays until it is cleared."
    )
    acknowledged: list[Acknowledgement] = Field(default_factory=list, description="Dangers somebody has read.")
    attachments: list[Attachment] = Field(default_factory=list, max_length=1000)
    follow_ups: list[FollowUp] = Field(default_factory=list, max_length=1000)
    notes: Text | None = Field(None, description="Anything else; kept, and never weighed.")
    outcome: Outcome | None = None
