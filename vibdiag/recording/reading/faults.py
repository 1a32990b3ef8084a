"""What is wrong with a recording, one line each: gaps, jitter, repeats, disorder, clipping, a stuck sensor, gravity.

It only says; `clean.py` mends. Each sentence has a kind, so that what `recording/faults.py` says of the same kind, with
what it means for the orders, is not said twice. The bounds are our own and stand beside their names.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from vibdiag.recording.signal import Channel, FloatArray, Recording

__all__ = ["faults", "faults_by_kind"]

_GAP_STEPS: Final = 3.5  # a step this many times the usual one is a gap: three lost samples
_JITTER_SHARE: Final = 0.10  # of the usual step; 10 % costs under 2 % of amplitude at a tenth of the sample rate
_CLIP_RUN: Final = 3  # that many equal extremes in a row ...
_CLIP_SAMPLES: Final = 10  # ... and so many in all
_STUCK_S: Final = 2.0
_LOOKED_AT: Final = 100_000


def faults(recording: Recording) -> tuple[str, ...]:
    """One sentence on each thing that is wrong with stamps or readings, and whether gravity is included."""
    return tuple(sentence for _, sentence in faults_by_kind(recording))


def faults_by_kind(recording: Recording) -> tuple[tuple[str, str], ...]:
    """(kind, sentence) of each; kinds shared with `recording/faults.py`: jitter, gaps, stuck, saturated."""
    told = _of_time(recording.time_s)
    for name, channel in recording.channels.items():
        told += _of_channel(name, channel, recording.time_s)
    return (*told, *_gravity(recording))


def _of_time(time_s: FloatArray) -> list[tuple[str, str]]:
    told: list[tuple[str, str]] = []
    steps = np.diff(time_s)
    if steps.size == 0:
        return [("too-short", "The recording is a single sample; nothing can be said from it.")]
    if backwards := int(np.count_nonzero(steps < 0.0)):
        times = "once" if backwards == 1 else f"{backwards} times"
        told.append(("jitter", f"The stamps run backwards {times}; the rows are not in order of time."))
        steps = np.diff(np.sort(time_s))
    if repeats := int(np.count_nonzero(steps == 0.0)):
        stamps = "1 stamp is" if repeats == 1 else f"{repeats} stamps are"
        told.append(("jitter", f"{stamps} the same as the one before."))
        steps = steps[steps > 0.0]
    if steps.size == 0:
        return [*told, ("jitter", "All stamps are equal; no rate can be told.")]
    few = steps[:: max(1, steps.size // _LOOKED_AT)]
    usual_s = float(np.median(few))
    gaps = np.flatnonzero(steps > _GAP_STEPS * usual_s)
    if gaps.size:
        longest = float(steps[gaps].max())
        count = f"{gaps.size} {'gap' if gaps.size == 1 else 'gaps'} in time"
        lost_s = float(np.sum(steps[gaps] - usual_s))
        told.append(("gaps", f"{count}, {lost_s:.2f} s in all, the longest {longest:.2f} s."))
    jitter_s = 1.4826 * float(np.median(np.abs(few - usual_s)))
    if jitter_s > _JITTER_SHARE * usual_s:
        told.append(("jitter", f"Stamps jitter by {1e3 * jitter_s:.2g} ms around a step of {1e3 * usual_s:.3g} ms."))
    return told


def _of_channel(name: str, channel: Channel, time_s: FloatArray) -> list[tuple[str, str]]:
    told: list[tuple[str, str]] = []
    values = channel.values
    missing = int(values.size - np.count_nonzero(np.isfinite(values)))
    if missing:
        told.append(("missing", f"{name} has no value in {missing} of {values.size} rows."))
    if missing == values.size or values.size < 2:
        return told
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if low == high:
        dead = f"{name} is stuck at {low:.4g} {channel.unit} all the time; the sensor or its column is dead."
        return [*told, ("stuck", dead)]
    same = values[1:] == values[:-1]
    if not same.any():
        return told
    starts, lengths = _runs(same)
    longest = int(np.argmax(lengths))
    begin, end = int(starts[longest]), int(starts[longest] + lengths[longest])
    held_s = float(time_s[end] - time_s[begin])
    at = values[starts]
    limits = [
        f"{limit:.4g}"
        for limit in (low, high)
        if int(np.sum(lengths[(at == limit) & (lengths >= _CLIP_RUN - 1)] + 1)) >= _CLIP_SAMPLES
    ]
    if limits:
        at_limits = " and ".join(limits)
        told.append(
            ("saturated", f"{name} is clipped at {at_limits} {channel.unit}; the sensor's range was too small.")
        )
    if held_s > _STUCK_S:
        still = f"{name} stands still at {values[begin]:.4g} {channel.unit} for {held_s:.1f} s"
        told.append(("stuck", f"{still} from {time_s[begin]:.1f} s."))
    return told


def _runs(
    same: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], np.ndarray[tuple[int], np.dtype[np.intp]]]:
    """First index and number of equal steps of every run."""
    edges = np.flatnonzero(np.diff(same.astype(np.int8), prepend=0, append=0))
    return edges[::2], edges[1::2] - edges[::2]


def _gravity(recording: Recording) -> list[tuple[str, str]]:
    """Whether gravity is in it: with it the mean of three axes is 9.8 m/s2 long, without it nearly nothing."""
    axes = [c for c in recording.channels_of("acceleration").values() if np.isfinite(c.values).any()]
    if len({c.axis for c in axes} - {"unknown"}) < 3 or len(axes) != 3:
        return []
    level = math.hypot(*(float(np.nanmean(c.values)) for c in axes))
    if 8.3 <= level <= 11.3:
        largest = max(axes, key=lambda c: abs(float(np.nanmean(c.values))))
        if largest.axis == "z":
            return []
        says = f"Gravity shows on axis {largest.axis}: the sensor did not sit upright; check the axes."
    elif level < 2.0:
        says = "Gravity was taken out before recording; how the sensor sat cannot be checked."
    else:
        says = f"The mean acceleration is {level:.3g} m/s2, which is neither gravity nor none; check units and offsets."
    return [("gravity", says)]
