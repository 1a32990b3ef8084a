"""Runout of a part against its limit: what the dial would show in all, and how much of it is off-centre or tilt.

On a surface read radially the first harmonic is eccentricity (half of it is how far the centre lies off); on a
face read along the axis it is tilt. Both are what centring, a hub or match mounting can change; oval and the
rest belong to the part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, get_args

from vibdiag.measure.clock import Turning, clock_text
from vibdiag.measure.harmonics import HarmonicFit, fit_harmonics
from vibdiag.measure.judgement import Judgement, Limit, judge, judge_at_least
from vibdiag.measure.limits import LimitId, limit_for
from vibdiag.measure.readings import Readings
from vibdiag.measure.total_reading import TotalReading, total_reading

__all__ = ["Place", "RimMaterial", "Runout", "limit_id_of", "runout", "tilt_deg"]

Place = Literal[
    "tread-radial",
    "tread-lateral",
    "rim-inner-radial",
    "rim-inner-lateral",
    "rim-outer-radial",
    "rim-outer-lateral",
    "hub-face",
    "hub-pilot",
    "brake-disc",
    "propshaft-front",
    "propshaft-middle",
    "propshaft-rear",
]
RimMaterial = Literal["alloy", "steel", "unknown"]
_ALONG_THE_AXIS: Final = ("tread-lateral", "rim-inner-lateral", "rim-outer-lateral", "hub-face", "brake-disc")


@dataclass(frozen=True, slots=True)
class Runout:
    """Runout at one place, mm. first_is: what the first harmonic means here. first: the first harmonic's own total
    reading (twice its amount) against the limit. total: the whole against the same limit. says: in sentences.
    """

    place: Place
    fit: HarmonicFit
    reading: TotalReading
    limit: Limit
    first_is: Literal["eccentricity", "tilt"]
    total: Judgement
    first: Judgement
    says: tuple[str, ...]


def limit_id_of(place: Place, *, rim: RimMaterial = "unknown") -> LimitId:
    """Which row of the limits a place is held against.

    Raises ValueError for a place or material that is not known.
    """
    if place not in get_args(Place):
        raise ValueError(f"There is no place {place!r}; known are {', '.join(get_args(Place))}.")
    if rim not in get_args(RimMaterial):
        raise ValueError(f"The rim is {rim!r}, but must be alloy, steel or unknown.")
    if place.startswith("propshaft"):
        return "propshaft"
    if place.startswith("rim"):
        kind = f"rim-{rim}" if rim != "unknown" else "rim"
        found: LimitId = f"{kind}-{'radial' if place.endswith('radial') else 'lateral'}"  # type: ignore[assignment]
        return found
    return place  # type: ignore[return-value]


def runout(
    readings: Readings,
    place: Place,
    *,
    maker_limit_mm: float | None = None,
    rim: RimMaterial = "unknown",
    turning: Turning = "clockwise",
) -> Runout:
    """Fit and judge a round of dial readings in mm.

    maker_limit_mm: the vehicle maker's limit for the total reading, which overrides the table. rim: alloy or
    steel, for its bead seats. turning: for the clock positions in the sentences, see `clock_hour`.

    From 4 to 7 readings only a lower bound follows: it can show `over`, never `within`, and nothing is said of
    eccentricity or tilt but, from 6 or 7, a hint. 8 readings carry the first harmonic and the oval, 12 the
    third too.

    Raises ValueError for an unknown place, material or limit.
    """
    limit = limit_for(limit_id_of(place, rim=rim), maker=maker_limit_mm)
    fit = fit_harmonics(readings)
    reading = total_reading(fit)
    first_is: Literal["eccentricity", "tilt"] = "tilt" if place in _ALONG_THE_AXIS else "eccentricity"
    if reading.total is None or fit.first is None or fit.untrusted_because is not None:
        total = judge_at_least(reading.at_least, limit, what="The total reading")
        first = Judgement("cannot-tell", str(fit.untrusted_because))
    else:
        total = judge(reading.total, limit, what="The total reading")
        first = judge(fit.first.total_reading, limit, what=f"The part of it that is {first_is}")
    return Runout(place, fit, reading, limit, first_is, total, first, _sentences(fit, total, first, first_is, turning))


def tilt_deg(amount_mm: float, radius_mm: float) -> float:
    """Angle of a face from the first harmonic of its lateral runout (half the total) read at radius_mm.

    >>> round(tilt_deg(0.5, 200.0), 3)
    0.143

    Raises ValueError unless the radius is above zero.
    """
    if not radius_mm > 0.0:
        raise ValueError(f"The radius of the readings must be above zero, not {radius_mm} mm.")
    return math.degrees(math.atan2(amount_mm, radius_mm))


def _sentences(
    fit: HarmonicFit, total: Judgement, first: Judgement, first_is: str, turning: Turning
) -> tuple[str, ...]:
    said = [total.because, first.because]
    harmonic = fit.first
    if harmonic is not None:
        angle = harmonic.vector.value.angle_deg
        where = f"high point near {clock_text(angle, turning=turning)} ({angle:.0f} degrees)"
        if not harmonic.vector.is_detected:
            where = "too small to say where the high point is"
        hint = "" if fit.trusted else "Only a hint, if the part is otherwise round: "
        said.append(f"{hint}{first_is} {harmonic.vector.amount:.2f} mm, {where}.")
    for name, each in (("Oval", fit.second), ("Three-cornered", fit.third)):
        if each is not None and each.vector.is_detected:
            said.append(f"{name}: {each.vector.amount:.2f} mm.")
    if fit.trusted and fit.local.is_real:
        side = "outward" if fit.local.amount > 0.0 else "inward"
        place = clock_text(fit.local.angle_deg, turning=turning)
        said.append(
            f"A local departure of {abs(fit.local.amount):.2f} mm {side} near {place}: look there for a bend or bulge."
        )
    if fit.drift is not None and fit.drift.is_real:
        said.append(f"The dial drifted by {fit.drift.per_round.best:+.2f} mm over the round; that was taken out.")
    return tuple(said)
