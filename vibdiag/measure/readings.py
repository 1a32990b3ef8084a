"""Readings round a part, as they are taken: in order, at known angles, some missing, the first one again at the end.

Millimetres, micrometres or newtons are alike here: the values are in one unit, which whoever builds them
names. `dial_readings` is the edge where thousandths of an inch and the sign of the dial are turned into
millimetres that grow outward.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from vibdiag.units import to_mm

__all__ = ["FEWEST_READINGS", "MOST_READINGS", "Readings", "dial_readings", "evenly_spaced_deg"]

FEWEST_READINGS: Final = 4
MOST_READINGS: Final = 360
_PRIOR_READINGS: Final = 4  # how many readings the assumed noise is worth beside repeated ones (our choice)


@dataclass(frozen=True, slots=True)
class Readings:
    """A round of readings in the order they were taken, all in one unit.

    angles_deg: 0 at the valve stem or mark, positive in the direction of turning. values: as many; None for
    a reading that is missing. first_again: the first place read again after the round, once or more.
    resolution: what one division stands for, above zero. noise: standard deviation of a reading in the hands
    that take it, where known; without it one division is assumed (common practice), corrected by the spread
    of first_again when that was read twice or more. angle_error_deg: standard deviation of the marks' places.

    Raises ValueError, saying which reading, when fewer than 4 or more than 360 different places are left, and
    for anything that is not a finite number.
    """

    angles_deg: tuple[float, ...]
    values: tuple[float | None, ...]
    first_again: tuple[float, ...] = ()
    resolution: float = 0.01
    noise: float | None = None
    angle_error_deg: float = 0.0

    def __post_init__(self) -> None:
        if len(self.angles_deg) != len(self.values):
            raise ValueError(f"There are {len(self.values)} readings at {len(self.angles_deg)} angles; give one each.")
        for place, angle in enumerate(self.angles_deg, 1):
            if not math.isfinite(angle):
                raise ValueError(f"Angle {place} is {angle}, but must be a number of degrees.")
        for place, value in enumerate(self.values, 1):
            if value is not None and not math.isfinite(value):
                raise ValueError(f"Reading {place} is {value}, but must be a number, or left out when missing.")
        for value in self.first_again:
            if not math.isfinite(value):
                raise ValueError(f"The repeated first reading is {value}, but must be a number.")
        if not FEWEST_READINGS <= self.count <= MOST_READINGS:
            raise ValueError(
                f"{self.count} different places were read; between {FEWEST_READINGS} and {MOST_READINGS} are needed, "
                "12 are recommended."
            )
        if not (math.isfinite(self.resolution) and self.resolution > 0.0):
            raise ValueError(f"The resolution must be above zero, not {self.resolution}.")
        if self.noise is not None and not (math.isfinite(self.noise) and self.noise >= 0.0):
            raise ValueError(f"The noise of a reading must be zero or more, not {self.noise}.")
        if not 0.0 <= self.angle_error_deg <= 45.0:
            raise ValueError(f"The error of the angles must be 0 to 45 degrees, not {self.angle_error_deg}.")
        if self.first_again and self.values[0] is None:
            raise ValueError("The first place was read again, but its first reading is missing; give both or neither.")

    @property
    def taken(self) -> tuple[tuple[float, float, float], ...]:
        """Angle in degrees, value, and time as a fraction of the round, for every reading there is."""
        steps = len(self.values)
        found = [
            (angle, value, index / steps)
            for index, (angle, value) in enumerate(zip(self.angles_deg, self.values, strict=True))
            if value is not None
        ]
        found += [(self.angles_deg[0], value, 1.0 + index / steps) for index, value in enumerate(self.first_again)]
        return tuple(found)

    @property
    def count(self) -> int:
        """How many different places were read (0 and 360 degrees are one place)."""
        read = (angle for angle, value in zip(self.angles_deg, self.values, strict=True) if value is not None)
        return len({round(angle % 360.0, 6) % 360.0 for angle in read})

    @property
    def reading_error(self) -> float:
        """Standard deviation of one reading: noise and rounding together, hypot(noise, resolution / sqrt 12)."""
        return math.hypot(self._noise_and_dof()[0], self.resolution / math.sqrt(12.0))

    @property
    def reading_error_dof(self) -> float:
        """Degrees of freedom behind it; infinite when the noise was stated or assumed."""
        return self._noise_and_dof()[1]

    @property
    def noise_known_from(self) -> Literal["stated", "assumed", "repeats"]:
        """Where the noise comes from."""
        if self.noise is not None:
            return "stated"
        return "repeats" if len(self.first_again) > 1 else "assumed"

    def _noise_and_dof(self) -> tuple[float, float]:
        if self.noise is not None:
            return self.noise, math.inf
        again = self.first_again
        if len(again) < 2:
            return self.resolution, math.inf
        mean = sum(again) / len(again)
        spread = sum((value - mean) ** 2 for value in again)
        dof = _PRIOR_READINGS + len(again) - 1
        return math.sqrt((_PRIOR_READINGS * self.resolution**2 + spread) / dof), float(dof)


def evenly_spaced_deg(count: int) -> tuple[float, ...]:
    """count angles, evenly spaced from 0.

    >>> evenly_spaced_deg(4)
    (0.0, 90.0, 180.0, 270.0)
    """
    return tuple(360.0 * index / count for index in range(count))


def dial_readings(
    values: Sequence[float | None],
    *,
    angles_deg: Sequence[float] | None = None,
    unit: str = "mm",
    rises: Literal["outward", "inward"] = "outward",
    first_again: Sequence[float] = (),
    resolution: float = 0.01,
    noise: float | None = None,
    angle_error_deg: float = 0.0,
) -> Readings:
    """Readings of a dial indicator, in mm, growing outward (towards the dial).

    values, first_again, resolution, noise: all in `unit` ("mm" or "thou"). angles_deg: evenly spaced from 0
    unless given. rises: "outward" when the dial's number rises as the surface comes towards it (plunger
    pushed in), "inward" for a dial that counts the other way.

    >>> dial_readings([0, 10, 0, -10], unit="thou", resolution=1).values
    (0.0, 0.254, 0.0, -0.254)

    Raises ValueError as `Readings` does, and for an unknown unit or word.
    """
    if rises not in ("outward", "inward"):
        raise ValueError(f"rises is {rises!r}, but must be outward or inward.")
    one = to_mm(1.0, unit)
    sign = one if rises == "outward" else -one
    return Readings(
        angles_deg=tuple(evenly_spaced_deg(len(values)) if angles_deg is None else angles_deg),
        values=tuple(None if value is None else sign * value for value in values),
        first_again=tuple(sign * value for value in first_again),
        resolution=one * resolution,
        noise=None if noise is None else one * noise,
        angle_error_deg=angle_error_deg,
    )
