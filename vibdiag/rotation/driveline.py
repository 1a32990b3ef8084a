"""What turns in a car, and which of it the car has at all.

A part the car does not have is never named: a front-wheel-drive car has no propshaft, an electric car no
firing order. Where the layout is not known, a part it may have is named with `certain=False`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

__all__ = [
    "Driveline",
    "Driven",
    "EngineEnd",
    "EnginePlacement",
    "Part",
    "Power",
    "SolidAxles",
    "firing_order",
    "turning_parts",
]

Driven = Literal["front", "rear", "all", "unknown"]
EnginePlacement = Literal["transverse", "longitudinal", "unknown"]
EngineEnd = Literal["front", "rear", "unknown"]
Power = Literal["combustion", "electric", "hybrid", "unknown"]
SolidAxles = Literal["none", "rear", "both", "unknown"]
_TAKEN_NAMES = ("wheel", "front wheel", "rear wheel", "halfshaft", "propshaft", "engine", "motor")
_Answer = Literal["yes", "no", "maybe"]

_WORDS: Mapping[str, tuple[str, ...]] = {
    "driven": get_args(Driven),
    "engine_placement": get_args(EnginePlacement),
    "engine_end": get_args(EngineEnd),
    "power": get_args(Power),
    "solid_axles": get_args(SolidAxles),
}
# Wide limits that only a slip of the pen exceeds (common practice; crawler gears and hub reductions
# included).
_LIMITS: Mapping[str, tuple[float, float]] = {
    "axle_ratio": (1.0, 15.0),
    "rear_axle_ratio": (1.0, 15.0),
    "gear_ratio": (0.3, 25.0),
    "engine_rpm": (100.0, 20000.0),
    "cylinders": (1, 16),
    "reduction_ratio": (1.0, 30.0),
}


@dataclass(frozen=True, slots=True)
class Driveline:
    """How the wheels are driven; leave out what is not known.

    engine_end: "rear" for an engine behind or just ahead of the rear axle; "unknown" counts as front, with a
    caveat. axle_ratio: turns of the final drive's input per turn of the driven wheels. rear_axle_ratio: turns
    of the propshaft per turn of the rear wheels, where that is another gear, as in an all-wheel-drive car
    with a transverse engine. gear_ratio: turns of the engine per turn of the final drive's input, in the gear
    of the complaint. engine_rpm: tachometer reading, 1/min. strokes: 4 or 2. reduction_ratio: turns of an
    electric motor per turn of its wheels. accessory_ratios: turns of each accessory per turn of the engine
    (crankshaft pulley diameter over its own).

    Raises ValueError, naming the field, for a word or number that cannot be.
    """

    driven: Driven = "unknown"
    engine_placement: EnginePlacement = "unknown"
    power: Power = "unknown"
    engine_end: EngineEnd = "unknown"
    solid_axles: SolidAxles = "unknown"
    axle_ratio: float | None = None
    rear_axle_ratio: float | None = None
    gear_ratio: float | None = None
    engine_rpm: float | None = None
    cylinders: int | None = None
    strokes: Literal[2, 4] = 4
    reduction_ratio: float | None = None
    accessory_ratios: Mapping[str, float] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        for name, words in _WORDS.items():
            if getattr(self, name) not in words:
                raise ValueError(f"{name} is {getattr(self, name)!r}, but must be one of {', '.join(words)}.")
        for name, (low, high) in _LIMITS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name} is {value:g}, but must be {low:g} to {high:g}.")
        if self.strokes not in (2, 4):
            raise ValueError(f"strokes is {self.strokes}, but an engine has 2 or 4.")
        if self.cylinders is not None and int(self.cylinders) != self.cylinders:
            raise ValueError(f"cylinders is {self.cylinders}, but must be a whole number.")
        for name, ratio in self.accessory_ratios.items():
            if not name.strip() or name in _TAKEN_NAMES or not (math.isfinite(ratio) and 0.05 <= ratio <= 20.0):
                raise ValueError(f"accessory_ratios has {name!r}: {ratio}, but needs its own name and 0.05 to 20.")
        object.__setattr__(self, "accessory_ratios", dict(self.accessory_ratios))  # a copy of our own


@dataclass(frozen=True, slots=True)
class Part:
    """A turning part of this car. certain: False where the layout is not known well enough. note: why, in
    words.
    """

    id: str
    name: str
    certain: bool
    note: str


def firing_order(cylinders: int, *, strokes: Literal[2, 4] = 4) -> float:
    """Firings per turn of the engine: cylinders / 2 in a four-stroke, cylinders in a two-stroke (even
    firing).

    >>> firing_order(6)
    3.0
    """
    if cylinders < 1:
        raise ValueError(f"An engine has at least one cylinder, not {cylinders}.")
    return cylinders * 2.0 / strokes


def turning_parts(driveline: Driveline) -> tuple[Part, ...]:
    """Every turning part the car has or may have, wheels first.

    >>> [part.name for part in turning_parts(Driveline(driven="front", power="combustion"))]
    ['wheel', 'halfshaft', 'engine']
    """
    found = [Part("wheel", "wheel", True, "every car has wheels")]
    for part_id, name, (answer, note) in (
        ("halfshaft-joint", "halfshaft", _halfshafts(driveline)),
        ("propshaft", "propshaft", _propshaft(driveline)),
        ("engine", "engine", _engine(driveline)),
        ("motor", "motor", _motor(driveline)),
    ):
        if answer != "no":
            found.append(Part(part_id, name, answer == "yes", note))
    engine = next((part for part in found if part.id == "engine"), None)
    if engine is not None:
        for name in driveline.accessory_ratios:
            found.append(Part(f"accessory:{name}", name, engine.certain, "driven from the engine"))
    return tuple(found)


def _engine(car: Driveline) -> tuple[_Answer, str]:
    if car.power in ("combustion", "hybrid"):
        return "yes", f"the power is {car.power}"
    if car.power == "electric":
        return "no", "the power is electric"
    if car.engine_placement != "unknown" or car.engine_rpm is not None or car.cylinders is not None:
        return "yes", "an engine was described"
    return "maybe", "the kind of power is not known"


def _motor(car: Driveline) -> tuple[_Answer, str]:
    if car.power in ("electric", "hybrid"):
        return "yes", f"the power is {car.power}"
    if car.power == "unknown" and car.reduction_ratio is not None:
        return "maybe", "a reduction ratio was given, but the kind of power is not known"
    return "no", "nothing says that the car has one"


def _halfshafts(car: Driveline) -> tuple[_Answer, str]:
    if car.solid_axles == "both":
        return "no", "solid axles have no jointed halfshafts"
    if car.driven in ("front", "all"):
        return "yes", "the front wheels are driven through jointed halfshafts"
    if car.driven == "rear":
        if car.solid_axles == "rear":
            return "no", "a solid rear axle has no jointed halfshafts"
        if car.solid_axles == "none" or car.power == "electric":
            return "yes", "the rear wheels are sprung one by one and driven through jointed halfshafts"
        return "maybe", "the rear axle may be solid and then has no jointed halfshafts"
    if car.solid_axles == "none":
        return "yes", "whichever wheels are driven, they are sprung one by one"
    return "maybe", "it is not known which wheels are driven"


def _propshaft(car: Driveline) -> tuple[_Answer, str]:
    if car.driven == "front":
        return "no", "front-wheel drive has no propshaft"
    if car.power == "electric":
        return "no", "an electric motor sits at the axle it drives"
    engine, _ = _engine(car)
    if car.driven == "all":
        if car.power == "hybrid" and car.engine_placement != "longitudinal":
            return "maybe", "all wheels are driven, but a hybrid's second axle may have a motor of its own"
        if engine == "yes":
            return "yes", "all wheels are driven from one engine"
        return "maybe", "all wheels are driven, but the kind of power is not known"
    if car.driven == "rear":
        if car.engine_end == "rear" or car.engine_placement == "transverse":
            return "no", "the engine sits at the rear wheels it drives"
        if car.engine_end == "front" and engine == "yes":
            return "yes", "a front engine drives the rear wheels"
        if car.engine_placement == "longitudinal":
            return (
                "yes",
                "a longitudinal engine drives the rear wheels (unless it sits at the rear: then none)",
            )
        return "maybe", "the rear wheels are driven, but it is not known where the engine sits"
    return "maybe", "it is not known which wheels are driven"
