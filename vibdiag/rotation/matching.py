"""Which order a measured frequency fits, how well, and which orders that frequency cannot tell apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.rotation.interval import Interval, as_interval
from vibdiag.rotation.rates import Rate

__all__ = [
    "Match",
    "RateGroup",
    "frequency_from_count",
    "indistinguishable",
    "match_frequency",
    "order_of",
    "possibility_of_equality",
]


@dataclass(frozen=True, slots=True)
class Match:
    """One order that fits. goodness: 0 to 1, see `possibility_of_equality`. offset_fraction: how far the
    measured best value lies above (+) or below (-) the order's best, as a fraction of it. confused_with:
    labels of the other orders that fit the same measurement.
    """

    rate: Rate
    goodness: float
    offset_fraction: float
    confused_with: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RateGroup:
    """Orders that one measured frequency could all belong to.

    separable_by_speed: True when their ratios to the wheel differ, so that a better known speed or
    circumference (or a measured wheel frequency) would tell at least some of them apart; False when, as
    far as the ratios are known, they may turn alike at every speed and only another kind of test can.
    """

    rates: tuple[Rate, ...]
    separable_by_speed: bool


def frequency_from_count(count: float, seconds: float) -> Interval:
    """Frequency in Hz from counted pulses: count / seconds, +/- one count at the ends.

    >>> f"{frequency_from_count(60, 10):.1f}"
    '6.0 (5.9 to 6.1)'

    Raises ValueError for a count below one or a time that is not above zero.
    """
    if not math.isfinite(count) or count < 1:
        raise ValueError(f"Count at least one shake, not {count}.")
    if not math.isfinite(seconds) or seconds <= 0:
        raise ValueError(f"The time counted over must be above zero seconds, not {seconds}.")
    return Interval((count - 1.0) / seconds, count / seconds, (count + 1.0) / seconds)


def order_of(frequency_hz: float | Interval, rotation_hz: float | Interval) -> Interval:
    """Order = frequency over rotation frequency (ISO 13373); it need not be a whole number.

    >>> order_of(14, 7).best
    2.0
    """
    return as_interval(frequency_hz).divide(as_interval(rotation_hz))


def possibility_of_equality(a: Interval, b: Interval) -> float:
    """How possible it is that both describe the same value, 0 to 1.

    Each interval is read as a triangle, 0 at its limits and 1 at its best value; the result is the height at
    which the two cross (the possibility that two fuzzy numbers are equal, Dubois and Prade 1980, from
    memory). 1 when the best values agree, 0 when the intervals do not overlap. It is a measure of fit, not a
    probability.

    >>> possibility_of_equality(Interval(9, 10, 11), Interval(10, 11, 12))
    0.5
    """
    lower, upper = (a, b) if a.best <= b.best else (b, a)
    if lower.best == upper.best:
        return 1.0
    gap = upper.best - lower.best
    reach = (lower.high - lower.best) + (upper.best - upper.low)
    return 0.0 if reach <= 0.0 else min(1.0, max(0.0, 1.0 - gap / reach))


def match_frequency(
    frequency_hz: float | Interval, rates: Sequence[Rate], *, resolution_hz: float = 0.0
) -> tuple[Match, ...]:
    """The orders that fit a measured frequency, best first; certain and computed ones before doubtful ones.

    resolution_hz: half the width within which the measurement cannot tell two frequencies apart; it widens
    the measured value on both sides. Nothing fits when the result is empty: then the shake is a resonance,
    comes from the road, or the speed, tyre or ratios are not what was said.

    Raises ValueError for a negative resolution or a frequency that reaches below zero.
    """
    measured = as_interval(frequency_hz)
    if measured.low < 0.0:
        raise ValueError(f"A frequency must be zero or more, not {measured.low}.")
    if not math.isfinite(resolution_hz) or resolution_hz < 0.0:
        raise ValueError(f"A resolution must be zero or more, not {resolution_hz}.")
    measured = Interval(max(0.0, measured.low - resolution_hz), measured.best, measured.high + resolution_hz)
    fits = [(possibility_of_equality(measured, rate.frequency_hz), rate) for rate in rates]
    fits = [(goodness, rate) for goodness, rate in fits if goodness > 0.0]
    fits.sort(key=lambda fit: (-fit[0], not fit[1].certain, fit[1].assumed, fit[1].order))
    return tuple(
        Match(
            rate=rate,
            goodness=goodness,
            offset_fraction=measured.best / rate.frequency_hz.best - 1.0 if rate.frequency_hz.best > 0.0 else 0.0,
            confused_with=tuple(other.label for _, other in fits if other is not rate),
        )
        for goodness, rate in fits
    )


def indistinguishable(rates: Sequence[Rate], *, resolution_hz: float = 0.0) -> tuple[RateGroup, ...]:
    """Every largest set of two or more orders that some single frequency could belong to, lowest first.

    Two orders are in one set when their intervals overlap or lie within resolution_hz of each other. The sets
    may share members: 3x wheel may be taken for 1x propshaft, and that for 4x wheel, while 3x and 4x stay
    apart.
    """
    if not math.isfinite(resolution_hz) or resolution_hz < 0.0:
        raise ValueError(f"A resolution must be zero or more, not {resolution_hz}.")
    sets: list[tuple[Rate, ...]] = []
    for pivot in sorted(rates, key=lambda rate: rate.frequency_hz.low):
        reach = pivot.frequency_hz.low - resolution_hz  # the largest sets all begin where some interval begins
        here = tuple(
            rate
            for rate in rates
            if rate.frequency_hz.low <= pivot.frequency_hz.low and rate.frequency_hz.high >= reach
        )
        if len(here) > 1:
            sets.append(here)
    largest = [
        each
        for position, each in enumerate(sets)
        if not any(
            _subset(each, other) and (not _subset(other, each) or earlier < position)
            for earlier, other in enumerate(sets)
            if earlier != position
        )
    ]
    return tuple(RateGroup(group, _separable(group)) for group in largest)


def _subset(these: tuple[Rate, ...], those: tuple[Rate, ...]) -> bool:
    return all(any(rate is other for other in those) for rate in these)


def _separable(group: tuple[Rate, ...]) -> bool:
    ratios = [rate.per_wheel_turn for rate in group]
    known = [ratio for ratio in ratios if ratio is not None]
    if len(known) < len(ratios):
        return True  # an engine speed can always be moved against the road speed by another gear
    return any(not a.overlaps(b) for position, a in enumerate(known) for b in known[:position])
