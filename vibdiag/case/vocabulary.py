"""The words a case is written in. Every list has `unknown`, or may be left out: both weigh nothing."""

from __future__ import annotations

from typing import Literal

__all__ = [
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
Unit = Literal["mm", "in", "thou", "g", "oz", "N", "lbf", "N.m", "bar", "kPa", "psi", "Hz", "1/min", "C", "m/s2"]
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
