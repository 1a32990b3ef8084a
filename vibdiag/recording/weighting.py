"""How strongly people feel each frequency: the weightings Wk and Wd of ISO 2631-1 and Wh of ISO 5349-1.

The curves are the analogue filters of ISO 8041: a band limit (two poles each side, Q = 1/sqrt 2), a transition from
acceleration to velocity, and for Wk a step upwards. Parameters as reprinted in a public measuring-instrument reference.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from vibdiag.recording.signal import FloatArray

__all__ = ["WEIGHTINGS", "Weighting", "weighting_factor"]

Weighting = Literal["Wk", "Wd", "Wh"]


@dataclass(frozen=True, slots=True)
class _Filter:
    low_hz: float
    high_hz: float
    zero_hz: float
    pole_hz: float
    pole_q: float
    step: tuple[float, float, float, float] | None = None  # f5, Q5, f6, Q6


WEIGHTINGS = MappingProxyType(
    {
        "Wk": _Filter(0.4, 100.0, 12.5, 12.5, 0.63, (2.37, 0.91, 3.35, 0.91)),
        "Wd": _Filter(0.4, 100.0, 2.0, 2.0, 0.63),
        "Wh": _Filter(10.0**0.8, 10.0**3.1, 100.0 / (2.0 * np.pi), 100.0 / (2.0 * np.pi), 0.64),
    }
)


def weighting_factor(frequency_hz: FloatArray | float, weighting: Weighting) -> FloatArray:
    """Factor on an acceleration of this frequency; 0 at 0 Hz. Same shape as frequency_hz.

    >>> f"{float(weighting_factor(8.0, 'Wk')):.3f}"
    '1.036'
    """
    shape = WEIGHTINGS[weighting]
    s = 2j * np.pi * np.maximum(np.asarray(frequency_hz, dtype=np.float64), 1e-9)
    q = np.sqrt(0.5)

    def w(hz: float) -> float:
        return float(2.0 * np.pi * hz)

    response = 1.0 / (1.0 + w(shape.low_hz) / (q * s) + (w(shape.low_hz) / s) ** 2)
    response /= 1.0 + s / (q * w(shape.high_hz)) + (s / w(shape.high_hz)) ** 2
    response *= 1.0 + s / w(shape.zero_hz)
    response /= 1.0 + s / (shape.pole_q * w(shape.pole_hz)) + (s / w(shape.pole_hz)) ** 2
    if shape.step is not None:
        f5, q5, f6, q6 = shape.step
        response *= 1.0 + s / (q5 * w(f5)) + (s / w(f5)) ** 2
        response /= 1.0 + s / (q6 * w(f6)) + (s / w(f6)) ** 2
        response *= (f5 / f6) ** 2
    return np.asarray(np.abs(response), dtype=np.float64)
