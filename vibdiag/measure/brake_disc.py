"""Brake disc: thickness variation and its orders, runout, and which of them is more likely felt.

Thickness variation changes the clamping force each turn and is felt as judder in the pedal and the steering.
Runout alone is mostly followed by a sliding caliper; it knocks the pads and wears the disc into thickness
variation (common practice). So thickness variation over its limit comes first, whatever the runout.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from vibdiag.measure.harmonics import Harmonic, HarmonicFit, fit_harmonics
from vibdiag.measure.judgement import Judgement, judge, judge_at_least
from vibdiag.measure.limits import limit_for
from vibdiag.measure.readings import Readings, dial_readings
from vibdiag.measure.runout import Runout
from vibdiag.measure.total_reading import TotalReading, total_reading

__all__ = [
    "BrakeDisc",
    "MoreLikelyFelt",
    "ThicknessVariation",
    "brake_disc",
    "thickness_readings",
    "thickness_variation",
]

MoreLikelyFelt = Literal["thickness-variation", "runout", "neither", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class ThicknessVariation:
    """fit, reading: thickness in mm round the disc. judgement: of the variation. orders: the harmonics that stand out
    of the noise, strongest first (order k is felt at k times the wheel's rotation). thinnest_mm: smallest reading.
    """

    fit: HarmonicFit
    reading: TotalReading
    judgement: Judgement
    orders: tuple[Harmonic, ...]
    thinnest_mm: float


@dataclass(frozen=True, slots=True)
class BrakeDisc:
    """Both findings side by side; more_likely_felt follows from their signs; because: one sentence."""

    thickness: ThicknessVariation
    runout: Runout | None
    more_likely_felt: MoreLikelyFelt
    because: str


def thickness_readings(
    values: Sequence[float | None],
    *,
    angles_deg: Sequence[float] | None = None,
    unit: str = "mm",
    first_again: Sequence[float] = (),
    resolution: float = 0.001,
    noise: float | None = None,
) -> Readings:
    """Micrometer readings of a disc, in mm, from mm or thousandths of an inch; otherwise as `dial_readings`.

    Raises ValueError for a thickness that is not above zero.
    """
    for place, value in enumerate(values, 1):
        if value is not None and not value > 0.0:
            raise ValueError(f"Thickness {place} is {value} {unit}, but must be above zero.")
    return dial_readings(
        values, angles_deg=angles_deg, unit=unit, first_again=first_again, resolution=resolution, noise=noise
    )


def thickness_variation(thickness: Readings, *, maker_limit_mm: float | None = None) -> ThicknessVariation:
    """Thickness variation against its limit. Fewer than 8 places give a lower bound: `over` or `cannot-tell`.

    >>> found = thickness_variation(thickness_readings([22.0, 22.008, 22.015, 22.04, 22.015, 22.008, 22.0, 21.99]))
    >>> found.judgement.sign
    'over'

    Raises ValueError for a limit that is not above zero.
    """
    limit = limit_for("disc-thickness-variation", maker=maker_limit_mm)
    fit = fit_harmonics(thickness)
    reading = total_reading(fit)
    if reading.total is None:
        judgement = judge_at_least(reading.at_least, limit, what="The thickness variation")
    else:
        judgement = judge(reading.total, limit, what="The thickness variation")
    standing_out = [each for each in fit.harmonics if fit.trusted and each.vector.is_detected]
    orders = tuple(sorted(standing_out, key=lambda each: -each.vector.value.amount))
    return ThicknessVariation(fit, reading, judgement, orders, min(fit.corrected))


def brake_disc(thickness: ThicknessVariation, runout: Runout | None = None) -> BrakeDisc:
    """Which is more likely felt. The minimum thickness is the maker's, cast into most discs: check it first.

    Raises ValueError when the runout is not that of a brake disc.
    """
    if runout is not None and runout.place != "brake-disc":
        raise ValueError(f"The runout is that of {runout.place}, but must be that of the brake disc.")
    felt, because = _felt(thickness.judgement, None if runout is None else runout.total)
    return BrakeDisc(thickness, runout, felt, because)


def _felt(thickness: Judgement, runout: Judgement | None) -> tuple[MoreLikelyFelt, str]:
    if thickness.sign == "over":
        return "thickness-variation", f"{thickness.because} Thickness variation is what a brake makes felt."
    if thickness.sign == "cannot-tell":
        return "cannot-tell", thickness.because
    if runout is None:
        return "cannot-tell", f"{thickness.because} Runout was not measured."
    if runout.sign == "over":
        return "runout", f"{runout.because} The thickness is still even; runout wears it uneven in time."
    if runout.sign == "cannot-tell":
        return "cannot-tell", runout.because
    return "neither", "Thickness variation and runout are both within; look elsewhere for the judder."
