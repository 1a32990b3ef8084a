"""Before and after a repair: is the shake gone, better, the same or worse, and how surely?

Compared like with like: the same order on the same channel, from the same place, at speeds that agree within 5 %. The
ratio's interval comes from both amplitudes' standard errors on the log scale. A change that a person could not feel is
"same": 11 % is the largest of the medians of just noticeable differences of vertical seat vibration (Vibration 3, 2020,
116-131).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vibdiag.recording.orders import Line, Orders
from vibdiag.recording.signal import Channel, Place

__all__ = ["Change", "Verdict", "compare_lines", "compare_orders", "same_channels"]

Verdict = Literal["gone", "better", "same", "worse", "cannot tell"]

_NOTICED = 0.11
_SURE = 1.645
_SPEED_APART = 0.05


@dataclass(frozen=True, slots=True)
class Change:
    """ratio: after over before, None where neither was found; interval: 90 %, (0, upper) where after was not found.
    why: one sentence.
    """

    name: str
    channel: str
    verdict: Verdict
    ratio: float | None
    interval: tuple[float, float] | None
    why: str


def compare_orders(
    before: Orders,
    after: Orders,
    *,
    places: tuple[Place, Place],
    speeds_ms: tuple[float, float],
    same_channel: Mapping[str, str] | None = None,
    doubt: str = "",
) -> tuple[Change, ...]:
    """Compare every line found in either recording, channel by channel.

    places, speeds_ms: (before, after): where the sensor sat, and the mean speed. same_channel: what a channel of before
    is called after, where it is called otherwise. doubt: in words, why sizes cannot be compared.
    """
    changes = []
    for first in before.lines:
        channel = (same_channel or {}).get(first.channel, first.channel)
        second = next((line for line in after.lines if (line.name, line.channel) == (first.name, channel)), None)
        if first.found or (second is not None and second.found):
            changes.append(compare_lines(first, second, places=places, speeds_ms=speeds_ms, doubt=doubt))
    return tuple(changes)


def same_channels(before: Mapping[str, Channel], after: Mapping[str, Channel]) -> dict[str, str]:
    """What each channel of before is called after: by its name, else the only one of its kind on its axis."""

    def alike(one: Channel, channels: Mapping[str, Channel]) -> list[str]:
        return [name for name, each in channels.items() if (each.kind, each.axis) == (one.kind, one.axis)]

    found = {}
    for name, channel in before.items():
        others = alike(channel, after)
        if name in after:
            found[name] = name
        elif len(others) == 1 and len(alike(channel, before)) == 1 and others[0] not in before:
            found[name] = others[0]
    return found


def compare_lines(
    before: Line, after: Line | None, *, places: tuple[Place, Place], speeds_ms: tuple[float, float], doubt: str = ""
) -> Change:
    """Compare one order on one channel. after: None when the second recording could not show it. doubt: as above."""

    def change(
        verdict: Verdict, why: str, ratio: float | None = None, interval: tuple[float, float] | None = None
    ) -> Change:
        return Change(before.name, before.channel, verdict, ratio, interval, why)

    if after is None:
        return change("cannot tell", "The second recording cannot show this order.")
    if doubt:
        return change("cannot tell", doubt)
    if places[0] != places[1]:
        return change("cannot tell", f"The sensor sat elsewhere: {places[0]} before, {places[1]} after.")
    if "unknown" in places:
        return change("cannot tell", "Nobody noted where the sensor sat; say it with --place.")
    if abs(np.log(speeds_ms[1] / speeds_ms[0])) > _SPEED_APART:
        kmh = tuple(f"{3.6 * each:.0f}" for each in speeds_ms)
        return change("cannot tell", f"The speeds differ: {kmh[0]} km/h before, {kmh[1]} after. Repeat at {kmh[0]}.")
    if not before.found and not after.found:
        return change("cannot tell", "It was found in neither recording.")
    if not after.found:
        # the weakest that before may have been, against the strongest that after may hide
        upper = after.interval[1] / before.amplitude
        worst = after.interval[1] / max(before.interval[0], 1e-12)
        if worst < 1.0 - _NOTICED:
            verdict: Verdict = "gone" if upper < 0.5 else "better"
            return change(verdict, f"Not found any more; at most {100 * upper:.0f} % could be left.", 0.0, (0.0, upper))
        return change("cannot tell", "Not found any more, but the road hides as much as there was.", 0.0, (0.0, worst))
    if not before.found:
        lower = after.interval[0] / max(before.interval[1], 1e-12)
        if lower > 1.0 + _NOTICED:
            return change("worse", "It was not there before.", None, (lower, float("inf")))
        return change("cannot tell", "Found only after, but the road before could have hidden it.", None, None)
    ratio = after.amplitude / before.amplitude
    relative = np.hypot(_relative_error(before), _relative_error(after))
    low, high = ratio * float(np.exp(-_SURE * relative)), ratio * float(np.exp(_SURE * relative))
    said = f"{100 * ratio:.0f} % of before ({100 * low:.0f} to {100 * high:.0f} %)."
    if high < 1.0 - _NOTICED / 2.0 and ratio < 1.0 - _NOTICED:
        return change("better", said, ratio, (low, high))
    if low > 1.0 + _NOTICED / 2.0 and ratio > 1.0 + _NOTICED:
        return change("worse", said, ratio, (low, high))
    if low > 1.0 - 2.0 * _NOTICED and high < 1.0 + 2.0 * _NOTICED:
        return change("same", said, ratio, (low, high))
    return change("cannot tell", f"{said} Record longer or on a smoother road.", ratio, (low, high))


def _relative_error(line: Line) -> float:
    return (line.interval[1] - line.amplitude) / _SURE / line.amplitude
