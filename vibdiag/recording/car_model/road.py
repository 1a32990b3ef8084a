"""A road by its ISO 8608 class: two tracks of height over distance.

ISO 8608 describes a road by the power spectral density of its height, G(n) = G0 (n / 0.1)^-2 in m3, with n in cycles
per metre; the geometric means of the classes are four times apart (from memory): A 16e-6, B 64e-6, C 256e-6, D
1024e-6. The two tracks agree in long waves and not in short ones; the coherence used here, exp(-pi * width * n), is a
plain stand-in for the Bessel form of an isotropic road.

What it cannot do: real roads are patched, so their level changes along the way; `patches` is a crude imitation.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from vibdiag.recording.signal import FloatArray

__all__ = ["ROUGHNESS_M3", "Road", "RoadClass", "make_road"]

RoadClass = Literal["A", "B", "C", "D"]
ROUGHNESS_M3 = MappingProxyType({"A": 16e-6, "B": 64e-6, "C": 256e-6, "D": 1024e-6})
_STEP_M = 0.05
_LONGEST_WAVE_M = 90.0  # longer waves reach the sensor below 0.4 Hz at 130 km/h and are only drift
_CONTACT_M = 0.12  # length of the contact patch: the tyre swallows shorter waves (common practice)


@dataclass(frozen=True, slots=True, eq=False)
class Road:
    """Height of the left and right track. step_m: between points. left_m, right_m: (M,), m."""

    step_m: float
    left_m: FloatArray
    right_m: FloatArray

    def height_m(self, distance_m: FloatArray, side: Literal["left", "right"]) -> FloatArray:
        """Height under a wheel that has come distance_m along its track; (N,) -> (N,), m."""
        track = self.left_m if side == "left" else self.right_m
        at = np.arange(track.size) * self.step_m
        return np.interp(distance_m, at, track)


def make_road(
    rng: np.random.Generator,
    *,
    road_class: RoadClass,
    length_m: float,
    track_width_m: float = 1.5,
    pothole_at_m: tuple[float, ...] = (),
    pothole_depth_m: float = 0.03,
    patches: float = 0.0,
) -> Road:
    """A road of this class and length.

    pothole_at_m: places of potholes in the left track, 0.6 m long. patches: standard deviation of the log of the
    roughness from one 150 m patch to the next; 0 is the same road all the way.
    """
    count = int(length_m / _STEP_M) + 2
    size = 1 << (count - 1).bit_length()
    waves = np.fft.rfftfreq(size, _STEP_M)
    density = np.zeros_like(waves)
    use = waves > 1.0 / _LONGEST_WAVE_M
    density[use] = ROUGHNESS_M3[road_class] * (waves[use] / 0.1) ** -2.0
    amount = np.sqrt(density * size / (2.0 * _STEP_M)) * np.sinc(waves * _CONTACT_M)
    common, own_left, own_right = (rng.normal(0.0, np.sqrt(0.5), (2, waves.size)) for _ in range(3))
    coherence = np.exp(-np.pi * track_width_m * waves)
    tracks = []
    for own in (own_left, own_right):
        mixed = np.sqrt(coherence) * common + np.sqrt(1.0 - coherence) * own
        tracks.append(np.fft.irfft(amount * (mixed[0] + 1j * mixed[1]), size)[:count])
    level = _patches(rng, count, patches)
    left, right = (level * track for track in tracks)
    at = np.arange(count) * _STEP_M
    for place in pothole_at_m:
        inside = np.abs(at - place) < 0.3
        left = left - np.where(inside, pothole_depth_m * np.cos(np.pi * (at - place) / 0.6), 0.0)
    return Road(_STEP_M, left, right)


def _patches(rng: np.random.Generator, count: int, spread: float) -> FloatArray:
    knots = np.arange(0.0, count * _STEP_M + 300.0, 150.0)
    level = np.exp(0.5 * rng.normal(0.0, spread, knots.size)) if spread > 0.0 else np.ones(knots.size)
    return np.asarray(np.interp(np.arange(count) * _STEP_M, knots, level), dtype=np.float64)
