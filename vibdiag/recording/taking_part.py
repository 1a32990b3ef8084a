"""Which channels take part in the analysis: those that change, and that are there for most of the recording.

All channels share the rows on which every one of them has a value, so one that was there for a short while would cut
the others down to that while.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from vibdiag.recording.faults import Fault
from vibdiag.recording.signal import FloatArray, Recording

__all__ = ["taking_part"]

_LEAST_VALUES: Final = 16
_LEAST_SHARE: Final = 0.7  # of the values that the fullest channel has
_MOST_AWAY: Final = 0.1  # of the time that the fullest channel covers
_HOLE_S: Final = 0.25


def taking_part(recording: Recording) -> tuple[tuple[str, ...], tuple[Fault, ...]]:
    """Names of the channels to analyse, and one fault on each that is left out for being there too seldom.

    A channel without values, or with one value all along, is left out too; `faults.py` says so.
    """
    alive: dict[str, int] = {}
    for name, channel in recording.channels.items():
        count = int(np.count_nonzero(np.isfinite(channel.values)))
        if count >= _LEAST_VALUES and np.any(np.diff(channel.values) != 0.0):
            alive[name] = count
    most = max(alive.values(), default=0)
    if all(count == most for count in alive.values()) and most == recording.time_s.size:
        return tuple(alive), ()
    covered_s = {name: _covered_s(recording, name) for name in alive}
    longest_s = max(covered_s.values(), default=0.0)
    names, faults = [], []
    for name, count in alive.items():
        there = min(count / most, covered_s[name] / longest_s if longest_s else 1.0)
        if count < _LEAST_SHARE * most or covered_s[name] < (1.0 - _MOST_AWAY) * longest_s:
            says = f"Channel {name} is there for only {100.0 * there:.0f} % of the recording and is left out."
            faults.append(Fault("seldom", says))
        else:
            names.append(name)
    return tuple(names), tuple(faults)


def _covered_s(recording: Recording, name: str) -> float:
    """Time over which a channel has values without a hole."""
    stamps: FloatArray = recording.time_s[np.isfinite(recording.channels[name].values) & np.isfinite(recording.time_s)]
    steps = np.diff(np.sort(stamps))
    if steps.size == 0:
        return 0.0
    usual = float(np.median(steps))
    return float(steps[steps <= max(_HOLE_S, 5.0 * usual)].sum())
