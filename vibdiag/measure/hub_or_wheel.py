"""Hub or wheel? The same runout read twice or more, the wheel moved on the studs in between.

What keeps its angle on the hub is the hub's (bent flange, rust, a ring that sits wrong); what moves with the
wheel is the wheel's. A quarter turn or less tells them apart with a larger error than half a turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from vibdiag.measure.separation import Mounting, separate
from vibdiag.measure.uncertain import UncertainVector

__all__ = ["HubOrWheel", "hub_or_wheel", "stud_angles_deg"]

BelongsTo = Literal["hub", "wheel", "both", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class HubOrWheel:
    """hub, wheel: the two first harmonics, mm, with errors; angles as in `hub_or_wheel`. belongs_to: which of them
    was detected. larger: which is larger for sure (intervals apart), else None. smallest_detectable_mm: of
    hub and wheel, below which this measurement sees nothing. because: one sentence.
    """

    hub: UncertainVector
    wheel: UncertainVector
    belongs_to: BelongsTo
    larger: Literal["hub", "wheel"] | None
    smallest_detectable_mm: tuple[float, float]
    repeatability_mm: float | None
    because: str


def stud_angles_deg(studs: int) -> tuple[float, ...]:
    """The angles by which a wheel can be moved on its studs, the best for separating first (nearest half a turn).

    >>> stud_angles_deg(5)
    (144.0, 216.0, 72.0, 288.0)

    Raises ValueError for fewer than 3 or more than 10 studs.
    """
    if not 3 <= studs <= 10:
        raise ValueError(f"A wheel has 3 to 10 studs, not {studs}.")
    angles = (360.0 * step / studs for step in range(1, studs))
    return tuple(sorted(angles, key=lambda angle: (round(abs(angle - 180.0), 9), angle)))


def hub_or_wheel(
    rounds: Sequence[tuple[float, UncertainVector]],
    *,
    angles_from: Literal["hub", "wheel"] = "hub",
    seating_error_mm: float = 0.0,
) -> HubOrWheel:
    """Separate hub and wheel from first harmonics read at two or more positions of the wheel on its studs.

    rounds: for each, how far the wheel was moved on the hub in the direction of turning (degrees, the first
    usually 0) and the first harmonic. angles_from: whether 0 of the readings is a mark on the hub (a marked
    stud) or one that moves with the wheel (the valve stem). The hub's angle is then counted from the mark on
    the hub, the wheel's from its stem, the stem at the hub's mark when the wheel is at 0.
    seating_error_mm: standard deviation of what re-seating alone changes; mount twice at one place to find it.

    >>> from vibdiag.rotation import Polar
    >>> hub, wheel = Polar(0.05, 90), Polar(0.3, 0)
    >>> found = hub_or_wheel([(0, UncertainVector.even(hub + wheel, 0.005)),
    ...                       (180, UncertainVector.even(hub - wheel, 0.005))])
    >>> f"hub {found.hub.amount:.2f}, wheel {found.wheel.amount:.2f} mm: {found.belongs_to}"
    'hub 0.05 (0.04 to 0.06), wheel 0.30 (0.29 to 0.31) mm: both'

    Raises ValueError as `separate` does.
    """
    if angles_from not in ("hub", "wheel"):
        raise ValueError(f"angles_from is {angles_from!r}, but must be hub or wheel.")
    mountings = [
        Mounting(moved, vector.turned(moved) if angles_from == "wheel" else vector) for moved, vector in rounds
    ]
    found = separate(mountings, seating_error=seating_error_mm)
    hub, wheel = found.fixed, found.travelling
    belongs_to = _belongs_to(hub.is_detected, wheel.is_detected)
    larger: Literal["hub", "wheel"] | None = None
    if hub.amount.low > wheel.amount.high:
        larger = "hub"
    elif wheel.amount.low > hub.amount.high:
        larger = "wheel"
    detectable = (hub.smallest_detectable, wheel.smallest_detectable)
    said = {
        "hub": "It stays with the hub",
        "wheel": "It travels with the wheel",
        "both": "Hub and wheel both have a part in it",
        "cannot-tell": "Neither part is large enough to be seen",
    }[belongs_to]
    because = (
        f"{said}: hub {hub.amount:.3f} mm, wheel {wheel.amount:.3f} mm; "
        f"below {detectable[0]:.3f} mm (hub) and {detectable[1]:.3f} mm (wheel) nothing can be told."
    )
    return HubOrWheel(hub, wheel, belongs_to, larger, detectable, found.repeatability, because)


def _belongs_to(hub: bool, wheel: bool) -> BelongsTo:
    if hub and wheel:
        return "both"
    if hub:
        return "hub"
    return "wheel" if wheel else "cannot-tell"
