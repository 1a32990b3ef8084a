"""A number with what is known of its limits: the lowest, the best and the highest value.

The limits are bounds, not standard deviations: a tyre's circumference, a speed read from a dashboard and a
gear ratio out of a range are known to lie between two numbers, and little is known about the odds in between.
So the arithmetic is interval arithmetic: the result of an operation encloses every result the operands allow.
(It does not know that two intervals share a cause; where that matters the functions of this package say so.)
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Interval", "as_interval"]


@dataclass(frozen=True, slots=True)
class Interval:
    """low <= best <= high, all finite; the unit is in the name of the variable that holds it.

    >>> Interval(90, 95, 100).scale(1 / 3.6)
    Interval(low=25.0, best=26.38888888888889, high=27.77777777777778)

    Raises ValueError when the three are not finite or not in this order.
    """

    low: float
    best: float
    high: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.best) and math.isfinite(self.high)):
            raise ValueError(f"An interval needs three finite numbers, not {self.low}, {self.best}, {self.high}.")
        if not self.low <= self.best <= self.high:
            raise ValueError(f"An interval needs low <= best <= high, but {self.low}, {self.best}, {self.high} is not.")

    @classmethod
    def exact(cls, value: float) -> Interval:
        """The interval that holds one value only."""
        return cls(value, value, value)

    @classmethod
    def around(cls, best: float, plus_minus: float) -> Interval:
        """best +/- plus_minus (>= 0, same unit).

        >>> Interval.around(12.0, 0.5)
        Interval(low=11.5, best=12.0, high=12.5)
        """
        return cls(best - plus_minus, best, best + plus_minus)

    @classmethod
    def around_fraction(cls, best: float, fraction: float) -> Interval:
        """best >= 0, +/- a fraction of itself (0.02 is 2 %)."""
        return cls(best * (1.0 - fraction), best, best * (1.0 + fraction))

    @classmethod
    def between(cls, low: float, high: float) -> Interval:
        """From low to high, best in the middle: 'between 90 and 110'."""
        return cls(low, min(max(low + (high - low) / 2.0, low), high), high)

    @property
    def width(self) -> float:
        """high - low."""
        return self.high - self.low

    @property
    def relative_width(self) -> float:
        """(high - low) / best; zero for an exact value, infinite when only best is zero."""
        if self.width == 0.0:
            return 0.0
        return self.width / abs(self.best) if self.best else math.inf

    def contains(self, value: float) -> bool:
        """Whether low <= value <= high."""
        return self.low <= value <= self.high

    def encloses(self, other: Interval) -> bool:
        """Whether the whole of the other interval lies inside this one."""
        return self.low <= other.low and other.high <= self.high

    def overlaps(self, other: Interval, *, within: float = 0.0) -> bool:
        """Whether some value is common to both, or the gap between them is at most `within`."""
        return self.low <= other.high + within and other.low <= self.high + within

    def overlap_width(self, other: Interval) -> float:
        """Length of the common part; zero when they only touch or do not meet."""
        return max(0.0, min(self.high, other.high) - max(self.low, other.low))

    def hull(self, other: Interval) -> Interval:
        """The smallest interval that holds both; best is halfway between the two best values."""
        best = self.best + (other.best - self.best) / 2.0
        low, high = min(self.low, other.low), max(self.high, other.high)
        return Interval(low, min(max(best, low), high), high)

    def scale(self, factor: float) -> Interval:
        """Every value times one exact factor >= 0."""
        _refuse_negative(factor, "factor")
        return Interval(self.low * factor, self.best * factor, self.high * factor)

    def multiply(self, other: Interval) -> Interval:
        """Product of two quantities that cannot be negative.

        >>> Interval(1, 2, 3).multiply(Interval(10, 10, 20))
        Interval(low=10, best=20, high=60)
        """
        _refuse_negative(self.low, "quantity")
        _refuse_negative(other.low, "quantity")
        return Interval(self.low * other.low, self.best * other.best, self.high * other.high)

    def divide(self, other: Interval) -> Interval:
        """Quotient of a quantity that cannot be negative by one that is greater than zero.

        >>> Interval(10, 20, 30).divide(Interval(1, 2, 4))
        Interval(low=2.5, best=10.0, high=30.0)
        """
        _refuse_negative(self.low, "quantity")
        if other.low <= 0.0:
            raise ValueError(f"Cannot divide by an interval that reaches down to {other.low}; it must be above zero.")
        return Interval(self.low / other.high, self.best / other.best, self.high / other.low)

    def increasing(self, function: Callable[[float], float]) -> Interval:
        """The image under a function that never falls over this interval."""
        return Interval(function(self.low), function(self.best), function(self.high))

    def decreasing(self, function: Callable[[float], float]) -> Interval:
        """The image under a function that never rises over this interval."""
        return Interval(function(self.high), function(self.best), function(self.low))

    def __format__(self, spec: str) -> str:
        """`f"{interval:.1f}"` is the best value with the limits behind it, or the value alone when exact.

        >>> f"{Interval(9.04, 10, 11):.1f}"
        '10.0 (9.0 to 11.0)'
        """
        best = format(self.best, spec)
        if self.width == 0.0:
            return best
        return f"{best} ({format(self.low, spec)} to {format(self.high, spec)})"


def as_interval(value: float | Interval) -> Interval:
    """A plain number as an exact interval; an interval as it is."""
    return value if isinstance(value, Interval) else Interval.exact(value)


def _refuse_negative(value: float, what: str) -> None:
    if value < 0.0:
        raise ValueError(f"This arithmetic is for a {what} of zero or more, but {value} is negative.")
