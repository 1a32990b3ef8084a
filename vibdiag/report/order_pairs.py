"""The orders a case keeps of its recordings, before the repair beside after; only what may be compared is compared."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vibdiag.case.model import Attachment, Case, RecordedOrder

__all__ = ["OrderPair", "order_pairs"]

# An amplitude grows with speed: drives whose mean speeds are farther apart say little about a repair (common practice).
_ALIKE_KMH = 5.0


@dataclass(frozen=True)
class OrderPair:
    """One order on the axis that showed it most. `verdict`: what may be said of before and after, in words; `remark`:
    why they may not be comparable, or nothing. `unit_doubt`: a side is in a unit that nobody is sure of."""

    order: str
    part: str
    axis: str
    unit: str
    before: RecordedOrder | None
    after: RecordedOrder | None
    verdict: str
    remark: str = ""
    unit_doubt: bool = False


def order_pairs(case: Case) -> tuple[OrderPair, ...]:
    """Every order of the last recording on each side of the repair that shows any, the strongest before first."""
    before = _last(case.attachments, "before")
    after = _last(case.attachments, "after")
    if before is None and after is None:
        return ()
    strongest: dict[str, RecordedOrder] = {}
    for one in (*_orders(before), *_orders(after)):
        known = strongest.get(one.order)
        if known is None or (one.unit == known.unit and one.amplitude > known.amplitude):
            strongest[one.order] = one
    pairs = [_pair(one, before, after) for one in strongest.values()]
    return tuple(sorted(pairs, key=lambda pair: -max(_size(pair.before), _size(pair.after))))


def _size(one: RecordedOrder | None) -> float:
    return 0.0 if one is None else one.amplitude


def _last(attachments: Iterable[Attachment], side: str) -> Attachment | None:
    """The last recording of that side whose orders were read; one without any order counts when it was read."""
    read = [one for one in attachments if one.taken == side and (one.orders or one.signs)]
    return read[-1] if read else None


def _orders(one: Attachment | None) -> list[RecordedOrder]:
    return [] if one is None else one.orders


def _pair(shown: RecordedOrder, before: Attachment | None, after: Attachment | None) -> OrderPair:
    first, second = (_same(shown, _orders(side)) for side in (before, after))
    sides = [("before", before), ("after", after)]
    doubted = [side for side, one in sides if _in_doubt(one, shown.unit)]
    verdict, remark = _verdict(shown, (before, first), (after, second)), ""
    if doubted:
        verdict = "cannot be compared" if before is not None and after is not None else verdict
        remark = f"the unit of the recording {' and '.join(doubted)} is in doubt"
    elif before is not None and after is not None:
        remark = _remark(before, after, first, second)
        verdict = "cannot be compared" if remark and first and second else verdict
    return OrderPair(
        shown.order, shown.part, shown.axis, shown.unit, first, second, verdict, remark, unit_doubt=bool(doubted)
    )


def _same(shown: RecordedOrder, orders: Iterable[RecordedOrder]) -> RecordedOrder | None:
    return next(
        (one for one in orders if (one.order, one.axis, one.unit) == (shown.order, shown.axis, shown.unit)), None
    )


def _in_doubt(recorded: Attachment | None, unit: str) -> bool:
    if recorded is None:
        return False
    return bool(recorded.rotation_doubt if unit == "rad/s" else recorded.unit_doubt)


def _elsewhere(shown: RecordedOrder, recorded: Attachment | None) -> str:
    return ", ".join(one.axis for one in _orders(recorded) if one.order == shown.order)


def _verdict(
    shown: RecordedOrder,
    side_before: tuple[Attachment | None, RecordedOrder | None],
    side_after: tuple[Attachment | None, RecordedOrder | None],
) -> str:
    """Only intervals that part show a change; an order that stands on another channel only has not gone."""
    (_, before), (recorded, after) = side_before, side_after
    if before is None:
        elsewhere = _elsewhere(shown, side_before[0])
        return f"before found on {elsewhere} only" if elsewhere else "not found before"
    if after is None:
        elsewhere = _elsewhere(shown, recorded)
        gone = "not found any more" if recorded is not None else "not recorded again"
        return f"still found, on {elsewhere}: not compared" if elsewhere else gone
    if after.high < before.low:
        return f"less: {after.amplitude / before.amplitude:.0%} of what it was"
    return "more" if after.low > before.high else "no clear change"


def _remark(before: Attachment, after: Attachment, first: RecordedOrder | None, second: RecordedOrder | None) -> str:
    if before.sensor_place != after.sensor_place:
        return "the sensor sat in another place: not comparable"
    if first and second and first.kmh and second.kmh and abs(first.kmh - second.kmh) > _ALIKE_KMH:
        return f"driven at {first.kmh:.0f} and {second.kmh:.0f} km/h on average: compare at equal speeds"
    return ""
