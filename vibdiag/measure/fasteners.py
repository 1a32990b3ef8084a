"""Wheel fasteners: the star in which they are drawn up, the torque found on each, and the re-torque caution.

The torque is the maker's and nobody else's; without it nothing is judged but looseness. A missing or loose
fastener is a danger, whatever the rest: the car is not driven. (One loose or missing is a major defect, more
than one dangerous: DVSA inspection manual 5.2.1.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from vibdiag.measure.limits import RE_TORQUE_KM
from vibdiag.rotation import Interval

__all__ = ["RE_TORQUE_CAUTION", "FastenerTorque", "fastener_torque", "tightening_sequence"]

RE_TORQUE_CAUTION: Final = (
    f"Check the torque again after {RE_TORQUE_KM[0]:.0f} to {RE_TORQUE_KM[1]:.0f} km (common practice), or as the "
    "vehicle maker says. Torque, sequence and dry or oiled threads are the maker's."
)
_LOOSE_SHARE: Final = 0.5  # below half of the least torque a fastener counts as loose (our choice)
_LOOSE_NM: Final = 40.0  # car makers ask for 80 and more (common practice); used where the maker's is not at hand

FastenerSign = Literal["within", "over", "under", "danger", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class FastenerTorque:
    """sign: the worst over the wheel; danger outranks all. each: per stud, in the order given. because, caution:
    sentences that are shown together.
    """

    sign: FastenerSign
    each: tuple[FastenerSign, ...]
    because: str
    caution: str = RE_TORQUE_CAUTION


def tightening_sequence(studs: int) -> tuple[int, ...]:
    """Stud numbers (1 to studs, counted round) in a star, so that the wheel is drawn on evenly.

    Opposite studs follow each other where there are opposites; an odd number is crossed by the step nearest to
    half the circle. (Common practice; the maker's sequence goes before.)

    >>> tightening_sequence(5), tightening_sequence(8)
    ((1, 3, 5, 2, 4), (1, 5, 3, 7, 2, 6, 4, 8))

    Raises ValueError for fewer than 3 or more than 10 studs.
    """
    if not 3 <= studs <= 10:
        raise ValueError(f"A wheel has 3 to 10 studs, not {studs}.")
    if studs % 2:
        step = (studs - 1) // 2
        return tuple(1 + (index * step) % studs for index in range(studs))
    order: list[int] = []
    while len(order) < studs:
        left = [number for number in range(studs) if number not in order]
        if len(order) % 2:
            order.append((order[-1] + studs // 2) % studs)
        elif order:  # the stud furthest from all that are tight; at a tie furthest from the last
            order.append(
                max(left, key=lambda n: (min(_apart(n, o, studs) for o in order), _apart(n, order[-1], studs)))
            )
        else:
            order.append(0)
    return tuple(number + 1 for number in order)


def fastener_torque(
    found_nm: Sequence[float | None], *, maker_nm: Interval | None, error_share: float = 0.04
) -> FastenerTorque:
    """Judge the torque found on each fastener when it just moves on; None for one that is missing.

    maker_nm: the maker's range, N.m, or None when not at hand. error_share: of the wrench, 95 % (ISO 6789 allows
    indicating wrenches 4 %, from memory). What a fastener moves on at is a rough guide to its clamp: corroded threads
    hold torque without clamping.

    >>> fastener_torque([118, 121, None, 119, 120], maker_nm=Interval.between(110, 130)).sign
    'danger'

    Raises ValueError for fewer than 3 or more than 10 fasteners, a negative torque or an impossible error.
    """
    if not 3 <= len(found_nm) <= 10:
        raise ValueError(f"A wheel has 3 to 10 fasteners, not {len(found_nm)}.")
    if not 0.0 <= error_share < 0.5:
        raise ValueError(f"The error of the wrench must be 0 to 0.5 of the reading, not {error_share}.")
    for number, torque in enumerate(found_nm, 1):
        if torque is not None and not (math.isfinite(torque) and torque >= 0.0):
            raise ValueError(f"The torque of fastener {number} is {torque}, but must be zero or more N.m.")
    each = tuple(_sign(torque, maker_nm, error_share) for torque in found_nm)
    worst = next(word for word in ("danger", "under", "over", "cannot-tell", "within") if word in each)
    numbers = ", ".join(str(number) for number, word in enumerate(each, 1) if word == worst)
    because = {
        "danger": f"Fastener {numbers} is missing or loose: do not drive the car.",
        "under": f"Fastener {numbers} is below the maker's torque: loosen and draw up the wheel anew in the star.",
        "over": f"Fastener {numbers} is above the maker's torque: studs and seats may be stretched; examine them.",
        "cannot-tell": "The maker's torque for this car is needed to judge these."
        if maker_nm is None
        else f"Fastener {numbers} is too close to the end of the maker's range for this wrench.",
        "within": "All fasteners are within the maker's torque.",
    }[worst]
    return FastenerTorque(worst, each, because)


def _apart(one: int, other: int, studs: int) -> int:
    return min((one - other) % studs, (other - one) % studs)


def _sign(torque: float | None, maker: Interval | None, error_share: float) -> FastenerSign:
    if torque is None or torque == 0.0:
        return "danger"
    if maker is None:
        return "danger" if torque < _LOOSE_NM else "cannot-tell"
    low, high = torque * (1.0 - error_share), torque * (1.0 + error_share)
    if high < _LOOSE_SHARE * maker.low:
        return "danger"
    if high < maker.low:
        return "under"
    if low > maker.high:
        return "over"
    return "within" if maker.low <= low and high <= maker.high else "cannot-tell"
