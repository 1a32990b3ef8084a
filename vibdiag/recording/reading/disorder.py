"""Stamps that cannot be: a few far away from all others, a clock that was set back, many rows under one stamp.

Each is put right where there is one way to do it, and told in one line. What is merely out of order is left to the
sorting in `clean.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vibdiag.files.errors import InputError
from vibdiag.recording.signal import FloatArray

__all__ = ["put_right", "spread_rows"]

Flags = npt.NDArray[np.bool_]

_FAR_S: Final = 10.0  # a longer step, or one back, begins a new run of rows
_BACK_S: Final = 1.5
_LONE_S: Final = 4.0  # a run shorter than this, far from the others ...
_LONE_SHARE: Final = 0.05  # ... with fewer of the rows than this, all such runs together, is no part of the drive
_APART_S: Final = 10.0  # at which a stretch is put behind the one whose time it would repeat
_MOST_RUNS: Final = 1000
_FEW: Final = 16
_SEVERAL: Final = 2.0  # rows a stamp, from which they are spread
_STEADY: Final = 0.1
_LOOKED_AT: Final = 5000


def put_right(time_s: FloatArray, readings: Sequence[FloatArray], label: str) -> tuple[FloatArray, tuple[str, ...]]:
    """The stamps in file order, not-a-number for lone absurd ones; a stretch whose clock was set back stands behind the
    one before it. readings: (N,) each, of the shake: only rows with one can repeat a time. One line on each.
    """
    known = np.flatnonzero(np.isfinite(time_s))
    if known.size < _FEW:
        return time_s, ()
    steps = np.diff(time_s[known])
    usual_s = float(np.median(np.abs(steps[:: max(1, steps.size // 50_000)])))
    far_s, back_s = max(_FAR_S, 20.0 * usual_s), max(_BACK_S, 3.0 * usual_s)
    if float(steps.min()) >= -back_s and float(steps.max()) <= far_s:
        return time_s, ()
    out = time_s.copy()
    told: list[str] = []
    runs = _runs(out, known, far_s, back_s)
    if 1 < len(runs) <= _MOST_RUNS:
        lone = [run for run in runs if run.size < _LONE_SHARE * known.size and np.ptp(out[run]) < _LONE_S]
        count = sum(run.size for run in lone)
        if 0 < count < _LONE_SHARE * known.size:
            out[np.concatenate(lone)] = np.nan
            rows = "1 row lies" if count == 1 else f"{count} rows lie"
            told.append(f"{label}: {rows} far from all others in time (a wrong stamp?) and {_were(count)} left out.")
            known = np.flatnonzero(np.isfinite(out))
            runs = _runs(out, known, far_s, back_s)
    if 1 < len(runs) <= _MOST_RUNS:
        felt = np.isfinite(readings[0])
        for other in readings[1:]:
            felt |= np.isfinite(other)
        times = _set_back(out, runs, felt)
        if times:
            often = "once" if times == 1 else f"{times} times"
            told.append(
                f"{label}: the clock was set back {often}; the stretches are taken one after the other, not as one."
            )
    return out, tuple(told)


def _were(count: int) -> str:
    return "was" if count == 1 else "were"


def _runs(time_s: FloatArray, known: npt.NDArray[np.intp], far_s: float, back_s: float) -> list[npt.NDArray[np.intp]]:
    """Indices of the rows of each run."""
    steps = np.diff(time_s[known])
    return np.split(known, np.flatnonzero((steps > far_s) | (steps < -back_s)) + 1)


def _set_back(time_s: FloatArray, runs: list[npt.NDArray[np.intp]], felt: Flags) -> int:
    """Move every run that repeats the time of an earlier one behind all before it; how many there were."""
    taken: list[tuple[float, float]] = []
    moved, shift_s = 0, 0.0
    for run in runs:
        rows = run[felt[run]]
        low, high = float(time_s[run].min()), float(time_s[run].max())
        if rows.size >= _FEW:
            # a run that is on the moved clock of the one before goes with it
            repeats = any(min(high, end) - max(low, begin) > 1.0 for begin, end in taken)
            if repeats:
                shift_s = max(end for _, end in taken) + _APART_S - low
                moved += 1
            else:
                shift_s = 0.0
        time_s[run] += shift_s
        if rows.size >= _FEW:
            taken.append((low + shift_s, high + shift_s))
    return moved


def spread_rows(time_s: FloatArray, readings: FloatArray, name: str, label: str) -> tuple[FloatArray, tuple[str, ...]]:
    """Stamps that each stand over several rows, as whole seconds do: the rows spread evenly between them.

    readings: (N,) of one sensor, so that rows of different sensors under one stamp are not taken for several of one;
    nor is a reading that is only repeated. Raises InputError where all stamps are equal, or the counts under them
    differ so much that no rate can be told.
    """
    rows = np.flatnonzero(np.isfinite(readings) & np.isfinite(time_s))
    few = time_s[rows[:_LOOKED_AT]]
    if few.size < _FEW or np.count_nonzero(np.diff(few)) * _SEVERAL > few.size:
        return time_s, ()
    stamps = time_s[rows]
    same = np.diff(stamps) == 0.0
    held = np.diff(readings[rows]) == 0.0
    if stamps[0] == stamps[-1] and same.all():
        raise InputError(
            f"all stamps are equal ({stamps[0]:g} s); say which column is the time (NAME=time:s), "
            "or the rate of the rows (rate=100).",
            file=label,
            field=name,
        )
    fresh = np.append(0, np.flatnonzero(~same) + 1)
    steps = np.diff(stamps[fresh])
    if np.count_nonzero(same & held) * 2 > np.count_nonzero(same) or steps.min() <= 0.0:
        return time_s, ()
    counts = np.diff(np.append(fresh, stamps.size))
    whole = counts[1:-1] if counts.size > 3 else counts
    usual = float(np.median(whole))
    if usual < _SEVERAL:
        return time_s, ()
    if float(np.mean(np.abs(whole - usual) <= max(_STEADY * usual, 1.0))) < 0.9:
        raise InputError(
            f"{int(whole.min())} to {int(whole.max())} rows stand under one stamp, so their rate cannot be told; "
            "say which column is the finer time (NAME=time:s), or the rate of the rows (rate=100).",
            file=label,
            field=name,
        )
    step_s = float(np.median(steps))
    among = np.where(
        counts < (1.0 - _STEADY) * usual, usual, counts
    )  # where some were lost, the others keep their pace
    place = (np.arange(stamps.size) - np.repeat(fresh, counts)).astype(np.float64)
    place[: counts[0]] += max(usual - float(counts[0]), 0.0)  # a recording begins somewhere within its first stamp
    length = np.repeat(np.append(np.minimum(steps, 1.5 * step_s), step_s), counts)
    out = time_s.copy()
    out[rows] = stamps + length * place / np.repeat(among, counts)
    note = (
        f"{label}: {name} stamps about {usual:.0f} rows alike, every {step_s:.3g} s; they were spread evenly, "
        f"{usual / step_s:.3g} a second."
    )
    return out, (note,)
