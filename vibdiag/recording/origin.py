"""Where an order comes from, as far as one sensor can tell: which axis it is strongest on, front or rear.

Only hints (common practice): a turning of the steering, or an order stronger at the steering than at the seat's own
axes, speaks for the front wheels; a sensor under the rear seat or in the boot is not modelled. Nothing here is a
measurement of place, so the trust is low and `cannot tell` is the usual answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from vibdiag.recording.orders import Line
from vibdiag.recording.signal import Channel, Place

__all__ = ["Origin", "origin_of"]

_DIRECTION = MappingProxyType({"x": "fore-aft", "y": "side-to-side", "z": "up-down"})


@dataclass(frozen=True, slots=True)
class Origin:
    """strongest: channel name. direction: a word of the sign `direction`, or None. end: where it comes from. why: in
    words. trust: 0 to 1 in `end`."""

    strongest: str | None
    direction: str | None
    end: Literal["front", "rear", "cannot tell"]
    why: str
    trust: float


def origin_of(lines: Sequence[Line], channels: Mapping[str, Channel], *, order: float, place: Place) -> Origin:
    """Judge one order from its found lines on all channels."""
    found = [line for line in lines if line.found and abs(line.order - order) < 1e-9]
    accelerations = [line for line in found if channels[line.channel].kind == "acceleration"]
    rotations = [line for line in found if channels[line.channel].kind == "rotation"]
    strongest = max(accelerations, key=lambda line: line.amplitude).channel if accelerations else None
    direction = _DIRECTION.get(channels[strongest].axis) if strongest is not None else None
    at_steering = place in ("steering-wheel", "steering-column")
    if at_steering and rotations:
        return Origin(strongest, "steering-rotates", "front", "the steering turns to and fro with it", 0.6)
    if at_steering and found:
        return Origin(strongest, direction, "front", "it is at the steering, though it may reach it otherwise", 0.3)
    if at_steering:
        return Origin(None, None, "rear", "it was not found at the steering", 0.2)
    yaw = [line for line in rotations if channels[line.channel].axis == "z"]
    if yaw and strongest is not None and direction == "side-to-side":
        return Origin(strongest, direction, "front", "the car's nose swings with it", 0.2)
    return Origin(
        strongest, direction, "cannot tell", "a sensor at one place in the car does not tell front from rear", 0.0
    )
