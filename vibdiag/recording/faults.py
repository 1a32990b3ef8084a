"""What is wrong with a recording, one line each, with what can still be concluded.

The technician reads these before any result, so each says what, how much, and what is left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from vibdiag.recording.candidates import Candidate
from vibdiag.recording.signal import FloatArray, Recording

__all__ = ["SEVERITY_HZ", "Fault", "FaultKind", "find_faults"]

FaultKind = Literal[
    "rate-too-low",
    "speed-missing",
    "speed-negative",
    "speed-with-holes",
    "speed-steady",
    "standing",
    "too-short",
    "saturated",
    "stuck",
    "seldom",
    "gaps",
    "jitter",
    "units-doubtful",
    "spikes",
]

_SHORT_S = 20.0
_LEAST_S = 8.0
SEVERITY_HZ = 100.0  # a slower recording lacks some of what a person feels
_USUAL_MS = 100.0 / 3.6  # where no speed is known
_SPIKE_MS2, _SPIKE_SPREADS = 80.0, 40.0  # a pothole stays below both; a plug that comes loose does not
_FEWEST_STAMPS = 0.1  # of those that the usual step would give


@dataclass(frozen=True, slots=True)
class Fault:
    """kind: for programs. sentence: for people. blocks_orders: no order can be looked for."""

    kind: FaultKind
    sentence: str
    blocks_orders: bool = False


def find_faults(
    recording: Recording, *, candidates: Sequence[Candidate] = (), circumference_m: float = 2.0
) -> tuple[Fault, ...]:
    """All faults of a recording as it came, the worst first.

    candidates, circumference_m: what will be looked for, to say which orders the rate cannot show.
    """
    found: list[Fault] = []
    stamps = recording.time_s[np.isfinite(recording.time_s)]
    seconds = recording.recorded_s
    if seconds < _LEAST_S or stamps.size < 16:
        found.append(
            Fault(
                "too-short",
                f"The recording lasts {seconds:.0f} s; orders need {_LEAST_S:.0f} s at least. Record a minute.",
                blocks_orders=True,
            )
        )
    elif seconds < _SHORT_S:
        found.append(
            Fault(
                "too-short",
                f"The recording lasts {seconds:.0f} s: only a strong shake can be found. Record a minute.",
            )
        )
    found += _speed_faults(recording, stamps)
    found += _rate_faults(recording, stamps, candidates, circumference_m)
    found += _time_faults(stamps)
    for name, channel in recording.channels.items():
        found += _value_faults(name, channel.values, stamps.size)
        found += _unit_faults(recording, name)
    return tuple(sorted(found, key=lambda fault: not fault.blocks_orders))


def _speed_faults(recording: Recording, stamps: FloatArray) -> list[Fault]:
    track = recording.speed
    known = None if track is None else np.isfinite(track.speed_ms) & np.isfinite(track.time_s)
    if track is None or known is None or np.count_nonzero(known) < 2:
        return [
            Fault(
                "speed-missing",
                "There is no speed: frequencies and severity can be told, but not which part they follow. "
                "Give the held speed, or record it.",
                blocks_orders=True,
            )
        ]
    time, speed = track.time_s[known], track.speed_ms[known]
    order = np.argsort(time, kind="stable")
    time, speed = time[order], speed[order]
    if stamps.size and (time[-1] < stamps.min() or time[0] > stamps.max()):
        return [
            Fault(
                "speed-missing",
                "The speed was recorded at another time than the shake: which part it follows cannot be told.",
                blocks_orders=True,
            )
        ]
    if speed.max() < 0.0:
        return [
            Fault(
                "speed-negative",
                f"Every speed is below zero, down to {3.6 * speed.min():.0f} km/h: is it the right column, or is the "
                "sign turned round? Nothing of the wheels can be told.",
                blocks_orders=True,
            )
        ]
    if speed.max() < 3.0:
        return [
            Fault(
                "standing",
                f"The car never went faster than {3.6 * speed.max():.0f} km/h: nothing of the wheels can be told.",
                blocks_orders=True,
            )
        ]
    found = []
    if below := int(np.count_nonzero(speed < 0.0)):
        found.append(
            Fault("speed-negative", f"{below} of {speed.size} speeds are below zero (no reception?) and are left out.")
        )
        time, speed = time[speed >= 0.0], speed[speed >= 0.0]
    lost = 0.0 if track.source == "cruise" else _unheard_s(time, np.asarray(_sorted(stamps), dtype=np.float64))
    if lost > 0.0:
        found.append(
            Fault("speed-with-holes", f"The speed is missing for {lost:.0f} s; those are left out of the orders.")
        )
    fast = speed[speed > 3.0]
    if fast.size > 10 and fast.std() < 0.25:
        found.append(
            Fault(
                "speed-steady",
                f"The speed hardly changed ({fast.std():.2f} m/s): an order cannot be told from a fixed frequency. "
                "Add a slow sweep through the bad speed.",
            )
        )
    return found


def _unheard_s(time: FloatArray, stamps: FloatArray) -> float:
    """How long the speed is missing while the shake was recorded, s. Both sorted."""
    if time.size < 2 or stamps.size < 2:
        return 0.0
    steps = np.diff(time)
    step = _usual(np.diff(stamps))
    lost = 0.0
    for index in np.flatnonzero(steps > max(3.0, 3.0 * float(np.median(steps)))):
        begin, end = np.searchsorted(stamps, time[index : index + 2])
        lost += min(float(steps[index]), float(end - begin) * step)
    return lost if lost > 3.0 else 0.0


def _rate_faults(
    recording: Recording, stamps: FloatArray, candidates: Sequence[Candidate], circumference_m: float
) -> list[Fault]:
    steps = np.diff(_sorted(stamps))
    steps = steps if steps.size == 0 or steps.min() > 0.0 else steps[steps > 0.0]
    if steps.size < 2:
        return []
    rate = 1.0 / max(_usual(steps), 1e-9)
    heard = recording.speed is not None and bool(np.isfinite(recording.speed.speed_ms).any())
    speed_ms = float(np.nanquantile(recording.speed.speed_ms, 0.95)) if heard and recording.speed else _USUAL_MS
    usual = speed_ms / circumference_m
    if not heard and rate >= SEVERITY_HZ:
        return []
    hidden = [each.name for each in candidates if each.part != "engine" and each.order * usual > 0.45 * rate]
    if not hidden:
        return []
    first = hidden[0].startswith("1x wheel")
    need = max(each.order for each in candidates if each.name in hidden) * usual / 0.4
    return [
        Fault(
            "rate-too-low",
            f"{rate:.0f} samples a second cannot show {', '.join(hidden)} at {3.6 * usual * circumference_m:.0f} km/h; "
            f"{need:.0f} are needed. {'Drive slower or record faster.' if first else 'Slower orders can be told.'}",
            blocks_orders=first,
        )
    ]


def _time_faults(stamps: FloatArray) -> list[Fault]:
    if stamps.size < 16:
        return []
    found = []
    steps = np.diff(_sorted(stamps))
    forward = steps if steps.min() > 0.0 else steps[steps > 0.0]
    step = _usual(forward) if forward.size else 0.0
    lost = float(steps[steps > max(0.25, 5.0 * step)].sum())
    if lost > 0.0:
        found.append(Fault("gaps", f"{_long(lost)} missing in gaps; they are left out."))
    if step > 0.0 and stamps.size * step < _FEWEST_STAMPS * float(np.minimum(steps, 10.0 + 20.0 * step).sum()):
        found.append(
            Fault(
                "gaps",
                "Nearly all of the recording is missing: single samples with long holes between them tell nothing.",
                blocks_orders=True,
            )
        )
    repeated = steps.size - forward.size
    backwards = int(np.count_nonzero(stamps[1:] < stamps[:-1]))
    if repeated > 0.01 * stamps.size or backwards:
        found.append(
            Fault("jitter", f"{repeated} stamps repeat and {backwards} run backwards; sorted, and repeats dropped.")
        )
    few = forward[:: max(forward.size // 200_000, 1)]
    jitter = float(np.std(few[few < 3.0 * step])) / np.sqrt(2.0)
    if jitter > 0.3 * step:
        found.append(Fault("jitter", f"Stamps jitter by {1e3 * jitter:.1f} ms: amplitudes of high orders read low."))
    return found


def _value_faults(name: str, values: FloatArray, count: int) -> list[Fault]:
    finite = values[np.isfinite(values)]
    if finite.size < 16:
        return [Fault("stuck", f"Channel {name} has no usable values and is left out of the result.")]
    found = []
    low, high = float(finite.min()), float(finite.max())
    same = finite[1:] == finite[:-1]
    if low == high:
        return [Fault("stuck", f"Channel {name} never changes ({low:g}); it tells nothing.")]
    longest = _longest_run(same) if same.any() else 0
    if longest > max(50, 0.05 * count):
        found.append(
            Fault("stuck", f"Channel {name} stands still for {100.0 * longest / count:.0f} % of the recording.")
        )
    # a sensor at its stop repeats its extreme; a merely coarse one repeats every value
    distinct = np.unique(finite[:: max(finite.size // 20000, 1)]).size
    for extreme in (low, high):
        share = float(np.mean(finite == extreme))
        run = _longest_run((finite[1:] == extreme) & same) if share > 2e-4 else 0
        if distinct > 20 and run >= 2 and longest <= max(50, 0.05 * count):
            found.append(
                Fault(
                    "saturated",
                    f"Channel {name} is cut off at {extreme:.1f} for {100.0 * share:.1f} % of the time: "
                    "amplitudes and severity read low, orders can still be told.",
                )
            )
    return found


def _unit_faults(recording: Recording, name: str) -> list[Fault]:
    channel = recording.channels[name]
    some = channel.values[:: max(channel.values.size // 50_000, 1)]
    some = some[np.isfinite(some)]
    spread = float(some.std()) if some.size else 0.0
    if channel.kind == "acceleration" and spread > 60.0:
        return [
            Fault("units-doubtful", f"Channel {name} swings by {spread:.0f} m/s2, more than any seat does: wrong unit?")
        ]
    if channel.kind == "acceleration" and some.size:
        middle = float(np.median(some))
        usual = 1.4826 * float(np.median(np.abs(some - middle)))
        most = max(float(np.nanmax(channel.values)) - middle, middle - float(np.nanmin(channel.values)))
        if most > max(_SPIKE_MS2, _SPIKE_SPREADS * usual):
            return [
                Fault("spikes", f"Channel {name} leaps by {most:.0f} m/s2 in places, as a loose plug makes it leap.")
            ]
    return []


def _long(seconds: float) -> str:
    """A time that may be seconds or weeks, with its verb."""
    for unit, size in (("days", 86_400.0), ("h", 3_600.0), ("min", 60.0)):
        if seconds >= 2.0 * size:
            return f"{seconds / size:.0f} {unit} are" if seconds >= 20.0 * size else f"{seconds / size:.1f} {unit} are"
    return f"{seconds:.1f} s are"


def _sorted(stamps: FloatArray) -> FloatArray:
    return stamps if np.all(stamps[1:] >= stamps[:-1]) else np.sort(stamps)


def _usual(steps: FloatArray) -> float:
    """Median of steps; of a long recording every so many will do."""
    return float(np.median(steps[:: max(steps.size // 50_000, 1)]))


def _longest_run(flags: npt.NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return int((edges[1::2] - edges[::2]).max()) if edges.size else 0
