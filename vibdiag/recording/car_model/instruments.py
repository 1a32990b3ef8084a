"""What the sensor and the satellite receiver make of the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.interpolate import cubic
from vibdiag.recording.signal import FloatArray, SpeedSource, SpeedTrack

__all__ = ["Instruments", "read_sensor", "read_speed"]


@dataclass(frozen=True, slots=True)
class Instruments:
    """The sensor and the speed source, with their faults.

    rate_hz, jitter_s (standard deviation of when a sample is truly taken; stamps tell it), missing (share of samples
    lost), noise_ms2, step_ms2 (resolution), range_ms2, tilt_deg (about the car's length and width), stuck_from_s.
    Speed: source, speed_rate_hz, speed_noise_ms, latency_s (stamped that late), scale (reads this times the truth),
    lost_s (from, to) without reception.
    """

    rate_hz: float = 100.0
    jitter_s: float = 0.0
    missing: float = 0.0
    noise_ms2: float = 0.02
    step_ms2: float = 0.0
    range_ms2: float = 1e9
    tilt_deg: float = 0.0
    stuck_from_s: float | None = None
    source: SpeedSource = "gps"
    speed_rate_hz: float = 1.0
    speed_noise_ms: float = 0.2
    latency_s: float = 0.4
    scale: float = 1.0
    lost_s: tuple[float, float] | None = None


def read_sensor(
    rng: np.random.Generator, instruments: Instruments, *, time_s: FloatArray, truth: FloatArray, seconds: float
) -> tuple[FloatArray, FloatArray]:
    """Stamps (N,) and readings (axes, N) from the truth (axes, M) at time_s (M,), which is even and faster."""
    count = int(seconds * instruments.rate_hz)
    stamps = np.arange(count) / instruments.rate_hz
    if instruments.jitter_s > 0.0:
        stamps = np.sort(stamps + rng.normal(0.0, instruments.jitter_s, count))
    if instruments.missing > 0.0:
        stamps = stamps[rng.random(count) >= instruments.missing]
    taken = cubic(truth, (stamps - time_s[0]) / (time_s[1] - time_s[0]))
    if instruments.tilt_deg:
        turn = np.deg2rad(instruments.tilt_deg)
        x, z = taken[0].copy(), taken[2].copy()
        taken[0], taken[2] = np.cos(turn) * x + np.sin(turn) * z, np.cos(turn) * z - np.sin(turn) * x
    taken[:3] += rng.normal(0.0, instruments.noise_ms2, (3, stamps.size))
    taken[3:] += rng.normal(0.0, instruments.noise_ms2 * 0.05, (taken.shape[0] - 3, stamps.size))
    taken[:3] = np.clip(taken[:3], -instruments.range_ms2, instruments.range_ms2)
    if instruments.step_ms2 > 0.0:
        taken[:3] = np.round(taken[:3] / instruments.step_ms2) * instruments.step_ms2
    if instruments.stuck_from_s is not None:
        late = stamps >= instruments.stuck_from_s
        taken[:, late] = taken[:, late][:, :1]
    return stamps, taken


def read_speed(
    rng: np.random.Generator, instruments: Instruments, *, time_s: FloatArray, speed_ms: FloatArray, seconds: float
) -> SpeedTrack:
    """What the speed source stamps and says."""
    stamps = np.arange(0.0, seconds, 1.0 / instruments.speed_rate_hz)
    true = np.interp(stamps - instruments.latency_s, time_s, speed_ms)
    said = instruments.scale * true + rng.normal(0.0, instruments.speed_noise_ms, stamps.size)
    if instruments.lost_s is not None:
        heard = (stamps < instruments.lost_s[0]) | (stamps > instruments.lost_s[1])
        stamps, said = stamps[heard], said[heard]
    return SpeedTrack(stamps, np.maximum(said, 0.0), instruments.source)
