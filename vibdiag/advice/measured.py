"""From a case's readings to what they mean: each round judged from its interval, hub or wheel, wheel or mounting.

What was read after the repair is kept apart: it proves the repair and never weighs on the causes. Where an interval
does not decide there is no fact, so that it weighs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from vibdiag.case.model import Case, Measurement, ReadingSet
from vibdiag.case.vocabulary import Quantity, ReadOn, Wheel
from vibdiag.measure import (
    ForceVariation,
    HubOrWheel,
    Place,
    Readings,
    Runout,
    Sign,
    ThicknessVariation,
    UncertainVector,
    WheelState,
    dial_readings,
    force_readings,
    force_variation,
    hub_or_wheel,
    runout,
    thickness_readings,
    thickness_variation,
)
from vibdiag.units import to_kpa, to_mm

__all__ = [
    "JUDGED_FACTS",
    "HalfTurn",
    "Judged",
    "are_apart",
    "first_harmonic",
    "half_turns",
    "judge_set",
    "judged_facts",
    "numbers_that_count",
    "readings_of",
    "sets_in_force",
    "sign_of",
    "wheel_states",
]

Judged = Runout | ThicknessVariation | ForceVariation
HalfTurnWord = Literal["with-hub", "with-wheel", "neither"]

# What was read -> the fact it judges, and the quantity of a single number that says the same.
_MEANS: Final[Mapping[ReadOn, tuple[str, Quantity]]] = MappingProxyType(
    {
        "tread-radial": ("tread-radial-judged", "tread-radial-runout"),
        "tread-lateral": ("tread-lateral-judged", "tread-lateral-runout"),
        "rim-inner-radial": ("rim-runout-judged", "rim-radial-runout"),
        "rim-outer-radial": ("rim-runout-judged", "rim-radial-runout"),
        "rim-inner-lateral": ("rim-runout-judged", "rim-lateral-runout"),
        "rim-outer-lateral": ("rim-runout-judged", "rim-lateral-runout"),
        "hub-face": ("hub-runout-judged", "hub-face-runout"),
        "hub-pilot": ("hub-runout-judged", "hub-pilot-runout"),
        "disc-runout": ("disc-judged", "disc-runout"),
        "disc-thickness": ("disc-judged", "disc-thickness-variation"),
        "propshaft-front": ("propshaft-runout-judged", "propshaft-runout"),
        "propshaft-middle": ("propshaft-runout-judged", "propshaft-runout"),
        "propshaft-rear": ("propshaft-runout-judged", "propshaft-runout"),
        "radial-force": ("force-judged", "radial-force-variation"),
    }
)
JUDGED_FACTS: Final[tuple[str, ...]] = tuple(dict.fromkeys(fact for fact, _ in _MEANS.values()))
_FACT_OF: Final[Mapping[Quantity, str]] = MappingProxyType({quantity: fact for fact, quantity in _MEANS.values()})
_ON_THE_WHEEL: Final = ("tread", "rim")  # what travels with the wheel when it is moved on its studs
_SAME_PLACE_DEG: Final = 10.0  # closer than this two mountings tell nothing (as `separate` asks)
_SEATING_MM: Final = 0.02  # standard deviation of what putting a wheel on anew changes (our choice)
# A second part of half the size turns the high point by 30 degrees at most (arcsin 1/2): it still follows the first.
# "A high point within 30 degrees follows it": common practice.
_FOLLOWS_SHARE: Final = 0.5
_TOO_SMALL_MM: Final = 0.3  # total reading below which the high point is not worth following (from memory)


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """One wheel read at two or more positions on its studs. word: None where the intervals do not decide."""

    wheel: Wheel
    what: ReadOn
    found: HubOrWheel
    word: HalfTurnWord | None


def sets_in_force(case: Case, *, after: bool = False) -> tuple[ReadingSet, ...]:
    """The rounds before the repair (or after it); of those at one place, wheel and position the last one."""
    chosen: dict[tuple[str, str, float], ReadingSet] = {}
    for one in case.readings:
        if (one.taken == "after") == after:
            chosen[one.what, one.wheel, round(one.moved_deg % 360.0, 3) % 360.0] = one
    return tuple(chosen.values())


def readings_of(one: ReadingSet) -> Readings:
    """The round in mm (thou are converted here, once) or N, growing outward."""
    if one.what == "radial-force":
        return force_readings(one.values, angles_deg=one.angles_deg, resolution=one.resolution or 1.0)
    division = 0.01 if one.unit == "mm" else 1.0
    if one.what == "disc-thickness":
        return thickness_readings(
            one.values,
            angles_deg=one.angles_deg,
            unit=one.unit,
            first_again=one.first_again,
            resolution=one.resolution or division / 10.0,
        )
    return dial_readings(
        one.values,
        angles_deg=one.angles_deg,
        unit=one.unit,
        rises=one.rises,
        first_again=one.first_again,
        resolution=one.resolution or division,
    )


def judge_set(one: ReadingSet) -> Judged:
    """The round fitted and held against the maker's limit where it was entered, else the table's."""
    readings = readings_of(one)
    if one.what == "radial-force":
        return force_variation(readings, maker_total_n=one.limit)
    limit_mm = None if one.limit is None else to_mm(one.limit, one.unit)
    if one.what == "disc-thickness":
        return thickness_variation(readings, maker_limit_mm=limit_mm)
    place: Place = "brake-disc" if one.what == "disc-runout" else one.what
    right_side = one.wheel in ("front-right", "rear-right") or one.wheel == "unknown"
    turning: Literal["clockwise", "counter-clockwise"] = "clockwise" if right_side else "counter-clockwise"
    return runout(readings, place, maker_limit_mm=limit_mm, rim=one.rim, turning=turning)


def sign_of(judged: Judged) -> Sign:
    """within, over or cannot-tell for the whole round."""
    if isinstance(judged, Runout):
        return judged.total.sign
    if isinstance(judged, ThicknessVariation):
        return judged.judgement.sign
    return _together([judged.total.sign, judged.first.sign])


def first_harmonic(one: ReadingSet) -> UncertainVector | None:
    """Eccentricity or tilt of the round, mm; None where the readings cannot carry it."""
    fit = judge_set(one).fit
    return fit.first.vector if fit.first is not None and fit.trusted else None


def half_turns(case: Case, *, after: bool = False) -> tuple[HalfTurn, ...]:
    """Hub or wheel, for every place that was read at two or more positions of the wheel on its studs."""
    groups: dict[tuple[Wheel, ReadOn], list[tuple[float, UncertainVector]]] = {}
    for one in sets_in_force(case, after=after):
        if one.what.startswith(_ON_THE_WHEEL) and (vector := first_harmonic(one)) is not None:
            groups.setdefault((one.wheel, one.what), []).append((one.moved_deg, vector))
    found = []
    for (wheel, what), rounds in groups.items():
        if are_apart(moved for moved, _ in rounds):
            parts = hub_or_wheel(rounds, angles_from="wheel", seating_error_mm=_SEATING_MM)
            found.append(HalfTurn(wheel, what, parts, _half_turn_word(parts)))
    return tuple(found)


def are_apart(angles_deg: Iterable[float]) -> bool:
    """Whether some of the angles lie far enough from the first to tell two parts apart."""
    first, *others = angles_deg
    return any(abs((other - first + 180.0) % 360.0 - 180.0) > _SAME_PLACE_DEG for other in others)


def _half_turn_word(parts: HubOrWheel) -> HalfTurnWord | None:
    hub, wheel = parts.hub.amount, parts.wheel.amount
    if 2.0 * (hub.high + wheel.high) < _TOO_SMALL_MM:
        return "neither"
    if wheel.high <= _FOLLOWS_SHARE * hub.low:
        return "with-hub"
    if hub.high <= _FOLLOWS_SHARE * wheel.low:
        return "with-wheel"
    both = hub.low > _FOLLOWS_SHARE * wheel.high and wheel.low > _FOLLOWS_SHARE * hub.high
    return "neither" if both else None


def judged_facts(case: Case) -> dict[str, str]:
    """within or over by fact (over where any round is over, within where all are), and what half a turn did."""
    signs: dict[str, list[Sign]] = {}
    for one in sets_in_force(case):
        signs.setdefault(_MEANS[one.what][0], []).append(sign_of(judge_set(one)))
    facts: dict[str, str] = {fact: word for fact, found in signs.items() if (word := _together(found)) != "cannot-tell"}
    turned = half_turns(case)
    if turned:  # the largest runout is the one that shakes
        largest = max(turned, key=lambda each: each.found.hub.value.amount + each.found.wheel.value.amount)
        if largest.word is not None:
            facts["half-turn-judged"] = largest.word
    return facts


def numbers_that_count(case: Case, judged: Mapping[str, str]) -> list[Measurement]:
    """Single numbers before the repair that no round of readings outranks.

    A round outranks a number for the same quantity at the same wheel, or where either does not name its wheel; once
    a round is over its limit, no number elsewhere can make that good.
    """
    read = {(_MEANS[one.what][1], one.wheel) for one in sets_in_force(case)}

    def outranked(number: Measurement) -> bool:
        if judged.get(_FACT_OF.get(number.quantity, "")) == "over":
            return True
        return any(
            number.quantity == quantity and (wheel == number.wheel or "unknown" in (wheel, number.wheel))
            for quantity, wheel in read
        )

    return [number for number in case.measurements if number.taken != "after" and not outranked(number)]


def _together(signs: Sequence[Sign]) -> Sign:
    if "over" in signs:
        return "over"
    return "within" if all(sign == "within" for sign in signs) else "cannot-tell"


def wheel_states(case: Case, wheels: Sequence[Wheel], *, after: bool = False) -> tuple[WheelState, ...]:
    """Tread depth and pressure of those of `wheels` that have both; the last reading of each counts.

    Raises ValueError for a depth or pressure no tyre has.
    """
    last: dict[tuple[str, str], Measurement] = {
        (one.quantity, one.wheel): one for one in case.measurements if (one.taken == "after") == after
    }
    found = []
    for wheel in wheels:
        depth, pressure = last.get(("tread-depth", wheel)), last.get(("tyre-pressure", wheel))
        if depth is not None and pressure is not None:
            found.append(WheelState(wheel, to_mm(depth.value, depth.unit), to_kpa(pressure.value, pressure.unit)))
    return tuple(found)
