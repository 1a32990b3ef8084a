"""How bad it is for a person: weighted acceleration on the seat or at the steering wheel, of everything and of one
order.

Seat rail and floor: Wd for x and y, Wk for z, vector sum with factors of one (ISO 2631-1 clause 8.2.2, comfort, from
memory). Steering wheel and column: Wh on every axis, vector sum (ISO 5349-1). Root mean square throughout.

What it cannot do: a sensor on the rail is not on the seat cushion, so the number is for before and after, not for a
claim of comfort; below 1 Hz nothing is counted, since sway was taken off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from vibdiag.recording.clean import EvenRecording
from vibdiag.recording.faults import SEVERITY_HZ
from vibdiag.recording.signal import FloatArray, Place, Recording
from vibdiag.recording.weighting import Weighting, weighting_factor

__all__ = ["COMFORT_FROM_MS2", "Severity", "comfort_word", "order_severity_ms2", "severity"]

# ISO 2631-1 Annex C, its overlapping bands cut at one edge each (the cuts as in public source code; 2.5 from memory)
COMFORT_FROM_MS2 = MappingProxyType(
    {
        "not uncomfortable": 0.0,
        "a little uncomfortable": 0.315,
        "fairly uncomfortable": 0.63,
        "uncomfortable": 1.0,
        "very uncomfortable": 1.6,
        "extremely uncomfortable": 2.5,
    }
)
_SEGMENT_S = 8.0


@dataclass(frozen=True, slots=True)
class Severity:
    """weighted_ms2: root mean square of each acceleration channel. vector_sum_ms2: of one sensor's axes. worst_ms2:
    vector sum over the worst 8 s. comfort: word for the vector sum, None at the steering wheel and where none can be
    given; why_no_word then says why not. missing_axes: axes nobody measured, without which the vector sum is too low.
    assumed_upright: channels whose axis nobody knows, weighted as upright. left_out: channels of other sensors.
    """

    weighted_ms2: Mapping[str, float]
    vector_sum_ms2: float
    worst_ms2: float
    comfort: str | None
    missing_axes: tuple[str, ...]
    why_no_word: str = ""
    assumed_upright: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def weighting_for(place: Place, axis: str) -> Weighting:
    """Which weighting belongs to an axis at a place; an unknown axis counts as upright."""
    if place in ("steering-wheel", "steering-column"):
        return "Wh"
    return "Wd" if axis in ("x", "y") else "Wk"


def severity(recording: Recording, even: EvenRecording, *, doubt: str = "") -> Severity | None:
    """Weighted acceleration of a whole recording; None when it has no acceleration or less than 8 s in one piece.

    doubt: in words, why no word for comfort can be given, besides a rate too low to show what is felt.
    """
    size = int(_SEGMENT_S * even.rate_hz)
    chosen = [(row, name) for row, name in enumerate(even.names) if recording.channels[name].kind == "acceleration"]
    starts = [start for start in range(0, even.good.size - size + 1, size) if even.good[start : start + size].all()]
    if not chosen or not starts:
        return None
    frequency = np.arange(size // 2 + 1, dtype=np.float64) * (even.rate_hz / size)
    taper = np.hanning(size)
    scale = 2.0 / (size * float(np.sum(taper**2)))
    squares: dict[str, FloatArray] = {}
    for row, name in chosen:
        axis = recording.channels[name].axis
        factor = scale * weighting_factor(frequency, weighting_for(recording.sensor_place, axis)) ** 2
        pieces = [
            float(factor @ np.abs(np.fft.rfft(taper * even.values[row, start : start + size])) ** 2) for start in starts
        ]
        squares[name] = np.array(pieces)
    sensor = _one_sensor(recording, tuple(squares))
    total = np.sum([squares[name] for name in sensor], axis=0)
    vector_sum = float(np.sqrt(total.mean()))
    measured = {recording.channels[name].axis for name in sensor}
    missing = tuple(axis for axis in ("x", "y", "z") if axis not in measured and "unknown" not in measured)
    seat = recording.sensor_place not in ("steering-wheel", "steering-column")
    if seat and not doubt and even.stamp_rate_hz < 0.99 * SEVERITY_HZ:
        doubt = f"{even.stamp_rate_hz:.0f} samples a second do not show all that is felt; {SEVERITY_HZ:.0f} do"
    return Severity(
        MappingProxyType({name: float(np.sqrt(each.mean())) for name, each in squares.items()}),
        vector_sum,
        float(np.sqrt(total.max())),
        comfort_word(vector_sum) if seat and not doubt else None,
        missing,
        doubt if seat else "",
        tuple(name for name in sensor if seat and recording.channels[name].axis == "unknown"),
        tuple(name for name in squares if name not in sensor),
    )


def _one_sensor(recording: Recording, names: Sequence[str]) -> tuple[str, ...]:
    """The channels of the sensor with most axes, the first where several have as many.

    A sensor's axes stand side by side, so an axis that comes again begins the next sensor. Channels whose axis nobody
    knows are taken as three to a sensor.
    """
    sensors: list[list[str]] = []
    for name in names:
        axis = recording.channels[name].axis
        taken = [recording.channels[other].axis for other in sensors[-1]] if sensors else []
        if not sensors or len(taken) == 3 or (axis != "unknown" and axis in taken):
            sensors.append([])
        sensors[-1].append(name)
    most = max(len(axes) for axes in sensors)
    return tuple(next(axes for axes in sensors if len(axes) == most))


def order_severity_ms2(amplitudes: Sequence[tuple[float, str]], *, frequency_hz: float, place: Place) -> float:
    """Weighted root mean square of one order alone: vector sum over (amplitude in m/s2 zero to peak, axis) pairs."""
    total = 0.0
    for amplitude, axis in amplitudes:
        factor = float(weighting_factor(frequency_hz, weighting_for(place, axis)))
        total += 0.5 * (factor * amplitude) ** 2
    return float(np.sqrt(total))


def comfort_word(vector_sum_ms2: float) -> str:
    """The word for a vector sum on the seat.

    >>> comfort_word(0.4)
    'a little uncomfortable'
    """
    return [word for word, start in COMFORT_FROM_MS2.items() if vector_sum_ms2 >= start][-1]
