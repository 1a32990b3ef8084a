"""At which frequencies a car answers, and which orders come to lie there at which speed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from vibdiag.rotation.interval import Interval, as_interval
from vibdiag.rotation.rates import Rate, wheel_hz

__all__ = [
    "WHEEL_ORDERS",
    "WINDOWS",
    "OrderAtSpeed",
    "Window",
    "WindowHit",
    "orders_from_speeds",
    "speed_at_frequency",
    "windows_hit",
]


@dataclass(frozen=True, slots=True)
class Window:
    """A range of frequencies in which something in the car swings easily. felt: what a person notices."""

    id: str
    low_hz: float
    high_hz: float
    what: str
    felt: str
    source: str

    def share(self, frequency_hz: Interval) -> float:
        """The part of an interval of frequencies that lies inside, 0 to 1."""
        if frequency_hz.width == 0.0:
            return 1.0 if self.low_hz <= frequency_hz.best <= self.high_hz else 0.0
        mine = Interval.between(self.low_hz, self.high_hz)
        return min(1.0, mine.overlap_width(frequency_hz) / frequency_hz.width)


WINDOWS: Final = (
    Window("body", 1.0, 2.0, "body on its springs", "whole body, floating", "common practice"),
    Window("seat", 4.0, 8.0, "seat with a person in it", "seat", "common practice"),
    Window("power-train", 6.0, 12.0, "engine and gearbox on their mounts", "floor, gear lever", "common practice"),
    Window(
        "unsprung",
        10.0,
        15.0,
        "wheel and axle on the tyre (wheel hop)",
        "floor, seat",
        "common practice; Gillespie, Fundamentals of Vehicle Dynamics, ch. 5, agrees (from memory)",
    ),
    Window("steering", 10.0, 20.0, "steering wheel in rotation (nibble)", "steering wheel", "common practice"),
)

WHEEL_ORDERS: Final[Mapping[str, float]] = MappingProxyType({"1x wheel": 1, "2x wheel": 2, "3x wheel": 3})


@dataclass(frozen=True, slots=True)
class WindowHit:
    """An order inside a window. share: the part of its frequency interval inside, above 0 up to 1."""

    window: Window
    rate: Rate
    share: float


@dataclass(frozen=True, slots=True)
class OrderAtSpeed:
    """An order that lies in a window at the speed where the shake is worst.

    worst_hz: its frequency there. share: the part of that interval inside the window. felt_hz: its range
    between the speeds where the shake starts and fades; None when neither is known.
    """

    label: str
    per_wheel_turn: Interval
    window: Window
    worst_hz: Interval
    share: float
    felt_hz: Interval | None


def windows_hit(rates: Sequence[Rate]) -> tuple[WindowHit, ...]:
    """Every order that may lie in a sensitive window now, the surest first."""
    hits = [
        WindowHit(window, rate, share)
        for rate in rates
        for window in WINDOWS
        if (share := window.share(rate.frequency_hz)) > 0.0
    ]
    return tuple(sorted(hits, key=lambda hit: -hit.share))


def speed_at_frequency(
    frequency_hz: float | Interval, circumference_m: Interval, order: float | Interval = 1.0
) -> Interval:
    """Road speed in km/h at which an order of the wheel has this frequency: v = f * C / order.

    order: per turn of the wheel, above zero (for a propshaft its order times the axle ratio).

    >>> f"{speed_at_frequency(12, Interval.exact(1.927)):.1f}"
    '83.2'
    """
    return as_interval(frequency_hz).multiply(circumference_m).divide(as_interval(order)).scale(3.6)


def orders_from_speeds(
    worst_kmh: Interval,
    circumference_m: Interval,
    *,
    starts_kmh: Interval | None = None,
    fades_kmh: Interval | None = None,
    per_wheel_turn: Mapping[str, float | Interval] = WHEEL_ORDERS,
) -> tuple[OrderAtSpeed, ...]:
    """From the speeds of the complaint alone: which orders would be in which window where the shake is worst.

    All speeds are true speeds in km/h. per_wheel_turn: label and events per turn of the wheel; 1x to 3x wheel
    unless given (add `{"1x propshaft": 3.5}`). The surest first.

    A window is not proof: it says that this order would find the car ready to answer at that speed. A shake
    that is worst at 45 km/h has 2x wheel where 1x wheel would be at 90.

    >>> found = orders_from_speeds(Interval.exact(50), Interval.exact(1.93))
    >>> [(each.label, each.window.id) for each in found if each.window.id == "unsprung"]
    [('2x wheel', 'unsprung')]
    """
    turning = wheel_hz(circumference_m, worst_kmh)
    found = []
    for label, events in per_wheel_turn.items():
        order = as_interval(events)
        worst = turning.multiply(order)
        felt = _felt(circumference_m, starts_kmh, worst_kmh, fades_kmh, order)
        for window in WINDOWS:
            share = window.share(worst)
            if share > 0.0:
                found.append(OrderAtSpeed(label, order, window, worst, share, felt))
    return tuple(sorted(found, key=lambda each: -each.share))


def _felt(
    circumference_m: Interval,
    starts: Interval | None,
    worst: Interval,
    fades: Interval | None,
    order: Interval,
) -> Interval | None:
    if starts is None and fades is None:
        return None
    span = worst
    for end in (starts, fades):
        if end is not None:
            span = Interval(min(span.low, end.low), worst.best, max(span.high, end.high))
    return wheel_hz(circumference_m, span).multiply(order)
