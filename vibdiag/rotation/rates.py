"""How fast each turning part turns at a given road speed, with the limits that follow from tyre and speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from vibdiag.rotation.driveline import Driveline, Part, firing_order, turning_parts
from vibdiag.rotation.interval import Interval

__all__ = ["Follows", "Rate", "rotation_rates", "wheel_hz"]

Follows = Literal["road-speed", "engine-speed"]

_WHEEL_ORDERS: Final = (1.0, 2.0, 3.0, 4.0)
# Three rollers of a tripod joint; Sugiura et al. 2009 find the third order dominant.
_HALFSHAFT_ORDER: Final = 3.0
_PROPSHAFT_ORDERS: Final = (1.0, 2.0)  # unbalance or bend, and the universal joint
_PLAUSIBLE_AXLE_RATIO: Final = Interval(2.5, 3.5, 4.5)  # common practice, longitudinal engines
_PLAUSIBLE_BEVEL_RATIO: Final = Interval(2.0, 2.7, 4.5)  # from memory, rear gear behind a transverse engine
_TACHOMETER_FRACTION: Final = 0.02  # common practice: needle width and damping


@dataclass(frozen=True, slots=True)
class Rate:
    """One order of one part.

    label: `2x propshaft`, as ISO 13373 writes orders. order: per turn of the part itself. frequency_hz:
    limits and best. per_wheel_turn: how often per turn of the wheel; None where it does not hang on the wheel
    (an engine speed read from the tachometer). follows: what the frequency is tied to when the gear changes.
    how: the computation in one sentence. certain: False where the car may not have the part. assumed: True
    where a ratio was not known and a plausible range stands in for it.
    """

    part: str
    label: str
    order: float
    frequency_hz: Interval
    how: str
    per_wheel_turn: Interval | None = None
    follows: Follows = "road-speed"
    certain: bool = True
    assumed: bool = False

    @property
    def key(self) -> str:
        """Short name for use in data: `propshaft-2x`."""
        return f"{self.part}-{self.order:g}x"


def wheel_hz(circumference_m: Interval, speed_kmh: Interval) -> Interval:
    """Turns of the wheel per second: v / C.

    >>> f"{wheel_hz(Interval.exact(1.93), Interval.exact(100)):.1f}"
    '14.4'
    """
    return speed_kmh.scale(1.0 / 3.6).divide(circumference_m)


def rotation_rates(
    circumference_m: Interval,
    speed_kmh: Interval,
    driveline: Driveline,
    *,
    rear_circumference_m: Interval | None = None,
) -> tuple[Rate, ...]:
    """The orders of every part the car has or may have whose rate can be told.

    circumference_m: metres rolled per turn (of the front wheels, when the rear ones are given too).
    speed_kmh: true road speed. Parts whose ratio is not known are left out, except the propshaft, which is
    named with a plausible range and `assumed=True`: it must not be overlooked.

    >>> rates = rotation_rates(Interval.exact(2.0), Interval.exact(72), Driveline(driven="rear",
    ...     engine_placement="longitudinal", axle_ratio=3.0, solid_axles="rear"))
    >>> [(rate.label, rate.frequency_hz.best) for rate in rates if rate.part == "propshaft"]
    [('1x propshaft', 30.0), ('2x propshaft', 60.0)]
    """
    front = wheel_hz(circumference_m, speed_kmh)
    rear = front if rear_circumference_m is None else wheel_hz(rear_circumference_m, speed_kmh)
    parts = {part.id: part for part in turning_parts(driveline)}
    if rear_circumference_m is None:
        rates = _wheels("wheel", front, circumference_m, speed_kmh)
    else:
        rates = _wheels("front wheel", front, circumference_m, speed_kmh)
        rates += _wheels("rear wheel", rear, rear_circumference_m, speed_kmh)
    driven = rear if driveline.driven == "rear" else front
    if "halfshaft-joint" in parts:
        how = f"the driven wheels turn {driven:.2f} times a second, times 3 for a tripod joint's three rollers"
        rates.append(_from_wheel(parts["halfshaft-joint"], _HALFSHAFT_ORDER, driven, Interval.exact(1.0), how))
    if "propshaft" in parts:
        rates += _propshaft(parts["propshaft"], driveline, rear)
    if "motor" in parts and driveline.reduction_ratio is not None:
        ratio = Interval.exact(driveline.reduction_ratio)
        how = f"the driven wheels turn {driven:.2f} times a second, times the reduction of {ratio:g}"
        rates.append(_from_wheel(parts["motor"], 1.0, driven, ratio, how))
    if "engine" in parts:
        rates += _engine(parts, driveline, driven)
    return tuple(rates)


def _wheels(name: str, hz: Interval, circumference_m: Interval, speed_kmh: Interval) -> list[Rate]:
    part = Part(name.replace(" ", "-"), name, True, "")
    how = f"{speed_kmh:.0f} km/h over {circumference_m:.2f} m a turn is {hz:.2f} turns a second"
    return [_from_wheel(part, order, hz, Interval.exact(1.0), f"{how}, times {order:g}") for order in _WHEEL_ORDERS]


def _from_wheel(part: Part, order: float, hz: Interval, ratio: Interval, how: str, *, assumed: bool = False) -> Rate:
    return Rate(
        part=part.id,
        label=f"{order:g}x {part.name}",
        order=order,
        frequency_hz=hz.multiply(ratio).scale(order),
        how=how + ("" if part.certain or not part.note else f"; {part.note}") + ".",
        per_wheel_turn=ratio.scale(order),
        certain=part.certain,
        assumed=assumed,
    )


def _propshaft(part: Part, driveline: Driveline, rear_hz: Interval) -> list[Rate]:
    behind_transverse = driveline.driven == "all" and driveline.engine_placement == "transverse"
    known = driveline.rear_axle_ratio
    if known is None and not behind_transverse:  # there the axle ratio is that of the front wheels' own gear
        known = driveline.axle_ratio
    if known is not None:
        ratio, said = Interval.exact(known), f"the axle ratio of {known:g}"
    elif behind_transverse:
        ratio = _PLAUSIBLE_BEVEL_RATIO
        said = f"a rear gear ratio that was not given, {ratio.low:g} to {ratio.high:g} assumed"
    else:
        ratio = _PLAUSIBLE_AXLE_RATIO
        said = f"an axle ratio that was not given, {ratio.low:g} to {ratio.high:g} assumed"
    caveat = "; " + part.note if "unless" in part.note else ""
    return [
        _from_wheel(
            part,
            order,
            rear_hz,
            ratio,
            f"the wheels turn {rear_hz:.2f} times a second, times {said}"
            + (", times 2 for a universal joint" if order == 2.0 else "")
            + caveat,
            assumed=known is None,
        )
        for order in _PROPSHAFT_ORDERS
    ]


def _engine(parts: dict[str, Part], car: Driveline, driven_hz: Interval) -> list[Rate]:
    orders = {1.0: "its own turning"}
    if car.strokes == 4:
        orders[0.5] = "one cylinder that fires differently (every second turn)"
    if car.cylinders is not None:
        firing = firing_order(car.cylinders, strokes=car.strokes)
        orders[firing] = f"{orders[firing]} and firing" if firing in orders else f"firing of {car.cylinders} cylinders"
    ratio: Interval | None = None
    if car.engine_rpm is not None:
        hz = Interval.around_fraction(car.engine_rpm / 60.0, _TACHOMETER_FRACTION)
        said = f"the tachometer's {car.engine_rpm:g} 1/min is {hz:.2f} turns a second"
    elif car.axle_ratio is not None and car.gear_ratio is not None:
        ratio = Interval.exact(car.axle_ratio * car.gear_ratio)
        hz = driven_hz.multiply(ratio)
        said = (
            f"the driven wheels turn {driven_hz:.2f} times a second, times axle {car.axle_ratio:g} and gear "
            f"{car.gear_ratio:g}, with clutch or lock-up closed"
        )
    else:
        return []
    rates = [
        _rate_of_engine(parts["engine"], order, hz, ratio, f"{said}, times {order:g} for {what}")
        for order, what in sorted(orders.items())
    ]
    for name, pulley in car.accessory_ratios.items():
        part = parts[f"accessory:{name}"]
        turns = None if ratio is None else ratio.scale(pulley)
        rates.append(
            _rate_of_engine(part, 1.0, hz.scale(pulley), turns, f"{said}, times its pulley ratio of {pulley:g}")
        )
    return rates


def _rate_of_engine(part: Part, order: float, hz: Interval, per_wheel: Interval | None, how: str) -> Rate:
    return Rate(
        part=part.id,
        label=f"{order:g}x {part.name}",
        order=order,
        frequency_hz=hz.scale(order),
        how=how + ("" if part.certain else f"; {part.note}") + ".",
        per_wheel_turn=None if per_wheel is None else per_wheel.scale(order),
        follows="engine-speed",
        certain=part.certain,
    )
