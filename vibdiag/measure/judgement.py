"""Within, over, or cannot tell: a sign that follows from the interval, never from the point.

A limit is itself two numbers where makers differ: at or below the strict one everybody would pass the part,
above the loose one nobody would. The maker's own figure makes them one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from vibdiag.rotation import Interval

__all__ = ["Judgement", "Limit", "Sign", "judge", "judge_at_least"]

Sign = Literal["within", "over", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class Limit:
    """strict <= loose, both above zero, in `unit`. source: who says so, shown beside every verdict.

    published: single figures of makers, in words, for whoever has none of this car's.
    Raises ValueError when the two are not in order.
    """

    strict: float
    loose: float
    unit: str
    source: str
    published: str = ""

    def __post_init__(self) -> None:
        if not (0.0 < self.strict <= self.loose and math.isfinite(self.loose)):
            raise ValueError(f"A limit needs 0 < strict <= loose, but {self.strict} and {self.loose} is not.")

    @classmethod
    def of_maker(cls, value: float, unit: str) -> Limit:
        """The vehicle maker's figure for this car, which overrides every other."""
        return cls(value, value, unit, "the vehicle maker's figure for this car, as entered")

    def __str__(self) -> str:
        if self.strict == self.loose:
            return f"{self.strict:g} {self.unit} ({self.source})"
        return f"{self.strict:g} to {self.loose:g} {self.unit} ({self.source})"


@dataclass(frozen=True, slots=True)
class Judgement:
    """sign: within, over or cannot-tell; because: one sentence for the person, with limit and source."""

    sign: Sign
    because: str


def judge(value: Interval, limit: Limit, *, what: str = "The value") -> Judgement:
    """Compare a 95 % interval with a limit in the same unit.

    >>> judge(Interval(0.28, 0.30, 0.32), Limit(1.0, 1.5, "mm", "common practice")).sign
    'within'
    >>> judge(Interval(0.9, 1.2, 1.4), Limit.of_maker(1.0, "mm")).sign
    'cannot-tell'
    """
    said = f"{what} is {_figure(value.best)} {limit.unit} ({_figure(value.low)} to {_figure(value.high)})"
    if value.high <= limit.strict:
        return Judgement("within", f"{said}; within the limit of {limit}.")
    if value.low > limit.loose:
        return Judgement("over", f"{said}; over the limit of {limit}.")
    if limit.strict < limit.loose and value.low > limit.strict and value.high <= limit.loose:
        return Judgement("cannot-tell", f"{said}; makers' limits differ, {limit}: look up this car's.")
    return Judgement("cannot-tell", f"{said}; too close to the limit of {limit}: read more places or finer.")


def judge_at_least(value: float, limit: Limit, *, what: str = "The value") -> Judgement:
    """Compare a lower bound (95 %) with a limit: it can show over, but never within."""
    said = f"{what} is at least {_figure(value)} {limit.unit}"
    if value > limit.loose:
        return Judgement("over", f"{said}; over the limit of {limit}.")
    return Judgement("cannot-tell", f"{said}; what lies between the readings is not known, so it may be more.")


def _figure(value: float) -> str:
    """Three decimals below a tenth, two below ten, whole numbers from a hundred."""
    size = abs(value)
    return (
        f"{value:.0f}"
        if size >= 100
        else f"{value:.1f}"
        if size >= 10
        else f"{value:.2f}"
        if size >= 0.1
        else f"{value:.3f}"
    )
