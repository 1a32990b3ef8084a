"""The words a case is written in. Every list has `unknown`, or may be left out: both weigh nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

__all__ = [
    "UNITS_OF",
    "Axle",
    "BalanceEffect",
    "CauseId",
    "Direction",
    "Effect",
    "EventKind",
    "Growth",
    "How",
    "Noise",
    "Place",
    "Quantity",
    "ReadOn",
    "RepairEffect",
    "RepairKind",
    "Rhythm",
    "Role",
    "SpeedPattern",
    "SpeedSource",
    "SpeedUnit",
    "Tracks",
    "Unit",
    "Wheel",
    "YesNo",
]

YesNo = Literal["yes", "no", "unknown"]
Role = Literal["desk", "road", "bay", "customer", "unknown"]
How = Literal["measured", "looked", "told"]
SpeedUnit = Literal["km/h", "mph"]
SpeedSource = Literal["dashboard", "gps", "obd", "held-by-cruise", "unknown"]
SpeedPattern = Literal["slow-worst", "from-slow", "narrow-band", "fast", "very-fast", "no-fixed-speed", "unknown"]
Tracks = Literal["road-speed", "engine-speed", "neither", "unknown"]
Place = Literal[
    "steering-wheel",
    "seat",
    "floor",
    "brake-pedal",
    "gear-lever",
    "mirror-or-dash",
    "whole-body",
    "unknown",
]
Direction = Literal["steering-rotates", "up-down", "side-to-side", "fore-aft", "unknown"]
Rhythm = Literal["steady", "comes-and-goes", "once-per-turn", "bursts", "unknown"]
Effect = Literal["brings", "worsens", "unchanged", "eases", "unknown"]
Growth = Literal["sudden", "days", "slow", "stable", "unknown"]
Noise = Literal[
    "hum-or-growl",
    "click",
    "thump-or-slap",
    "clunk",
    "whine",
    "scrape-or-squeal",
    "rattle-or-buzz",
    "boom",
    "wind-throb",
    "none",
]
EventKind = Literal[
    "new-tyres",
    "other-wheels",
    "wheels-off",
    "rotation",
    "balance",
    "alignment",
    "pothole-or-kerb",
    "blow-underneath",
    "brake-work",
    "suspension-work",
    "driveline-work",
    "engine-work",
    "long-standing",
    "mud-snow-or-wash",
    "sealant",
    "hard-skid",
    "outside-part-fitted",
    "crash",
    "under-cover-touched",
]
BalanceEffect = Literal["none", "better", "worse", "came-back", "unknown"]
RepairKind = Literal[
    "balance",
    "rotation",
    "alignment",
    "tyres-renewed",
    "rims-renewed",
    "brake-work",
    "bearing-renewed",
    "steering-suspension-work",
    "driveline-work",
    "engine-work",
    "mounts-renewed",
    "wheel-seat-cleaned",
    "wheels-cleaned",
    "fasteners-tightened",
    "other",
]
RepairEffect = Literal["cured", "partly", "none", "worse", "came-back", "unknown"]
Axle = Literal["front", "rear", "none", "unknown"]
Wheel = Literal["front-left", "front-right", "rear-left", "rear-right", "unknown"]
Quantity = Literal[
    "frequency",
    "tread-radial-runout",
    "tread-lateral-runout",
    "rim-radial-runout",
    "rim-lateral-runout",
    "hub-face-runout",
    "hub-pilot-runout",
    "disc-runout",
    "disc-thickness-variation",
    "propshaft-runout",
    "radial-force-variation",
    "residual-imbalance",
    "fastener-torque",
    "tyre-pressure",
    "tread-depth",
    "brake-temperature",
    "shake-level",
]
# What a whole round of readings is taken on.
ReadOn = Literal[
    "tread-radial",
    "tread-lateral",
    "rim-inner-radial",
    "rim-outer-radial",
    "rim-inner-lateral",
    "rim-outer-lateral",
    "hub-face",
    "hub-pilot",
    "disc-runout",
    "disc-thickness",
    "propshaft-front",
    "propshaft-middle",
    "propshaft-rear",
    "radial-force",
]
Unit = Literal["mm", "in", "thou", "g", "oz", "N", "lbf", "N.m", "bar", "kPa", "psi", "Hz", "1/min", "C", "m/s2"]
_LENGTHS: tuple[Unit, ...] = ("mm", "in", "thou")
UNITS_OF: Mapping[Quantity, tuple[Unit, ...]] = {
    "frequency": ("Hz", "1/min"),
    "tread-radial-runout": _LENGTHS,
    "tread-lateral-runout": _LENGTHS,
    "rim-radial-runout": _LENGTHS,
    "rim-lateral-runout": _LENGTHS,
    "hub-face-runout": _LENGTHS,
    "hub-pilot-runout": _LENGTHS,
    "disc-runout": _LENGTHS,
    "disc-thickness-variation": _LENGTHS,
    "propshaft-runout": _LENGTHS,
    "radial-force-variation": ("N", "lbf"),
    "residual-imbalance": ("g", "oz"),
    "fastener-torque": ("N.m",),
    "tyre-pressure": ("bar", "kPa", "psi"),
    "tread-depth": _LENGTHS,
    "brake-temperature": ("C",),
    "shake-level": ("m/s2",),
}
CauseId = Literal[
    "residual-imbalance",
    "debris-in-wheel",
    "balanced-off-centre",
    "hub-centring-error",
    "loose-wheel",
    "bent-rim",
    "tyre-runout",
    "tyre-force-variation",
    "tyre-belt-damage",
    "tyre-flat-spot",
    "tyre-uneven-wear",
    "tyre-mismatch",
    "hub-runout",
    "wheel-bearing",
    "steering-suspension-play",
    "damper-worn",
    "alignment-fault",
    "brake-disc-variation",
    "brake-drag",
    "propshaft-imbalance",
    "propshaft-joint",
    "propshaft-centre-bearing",
    "inner-drive-joint",
    "outer-drive-joint",
    "halfshaft-bent",
    "final-drive",
    "converter-or-clutch-judder",
    "engine-rough-running",
    "powertrain-mount",
    "accessory-or-exhaust",
    "aerodynamic",
    "road-or-normal",
    "not-in-rule-base",
]
