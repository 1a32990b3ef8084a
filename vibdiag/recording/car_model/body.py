"""The car as masses and springs: what a road or a rotating force at a wheel becomes at the sensor.

A rigid body (heave, pitch, roll) on four sprung wheels, plus two plain resonances: the wheel on its bushings fore and
aft, and the steering. Everything is linear, so a response is a product of spectra. The quarter-car figures (350 kg of
body, 40 kg of wheel, 25 and 200 kN/m, 1800 N s/m: hop at 11.9 Hz) are those the detection limits of this package are
quoted for; they are usual for a mid-size car (from memory).

What it cannot do: a flexible body, seat and person, friction and stops. Trust limits in grams to a factor of two.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from vibdiag.recording.signal import FloatArray

__all__ = ["WHEELS", "Car", "ComplexArray", "responses"]

ComplexArray = npt.NDArray[np.complex128]
WHEELS = ("front-left", "front-right", "rear-left", "rear-right")
OUTPUTS = MappingProxyType({"x": 0, "y": 1, "z": 2, "steering": 3})


@dataclass(frozen=True, slots=True)
class Car:
    """Masses in kg, stiffness in N/m, damping in N s/m, lengths in m, frequencies in Hz.

    sensor_x_m, sensor_y_m: where the sensor sits, forward and to the left of the middle of the car.
    """

    body_kg: float = 1400.0
    wheel_kg: float = 40.0
    spring: float = 25_000.0
    damper: float = 1_800.0
    tyre: float = 200_000.0
    wheelbase_m: float = 2.70
    track_m: float = 1.50
    pitch_inertia_kgm2: float = 2_550.0
    roll_inertia_kgm2: float = 520.0
    fore_aft_hz: float = 18.0
    fore_aft_damping: float = 0.12
    steering_hz: float = 13.0
    steering_damping: float = 0.12
    sensor_x_m: float = 0.1
    sensor_y_m: float = 0.35

    def wheel_places(self) -> tuple[tuple[float, float], ...]:
        """(forward, left) of each wheel in the order of WHEELS, m."""
        a, b = self.wheelbase_m / 2.0, self.track_m / 2.0
        return ((a, b), (a, -b), (-a, b), (-a, -b))


@dataclass(frozen=True, slots=True, eq=False)
class Responses:
    """Frequency responses at the sensor; arrays (output x, y, z, steering; input; frequency).

    road: from the height under each wheel, m. vertical, fore_aft: from a force on each wheel's hub, N. body: from a
    vertical force on the body at its middle, N. Outputs x, y, z in m/s2; steering in rad/s of the steering wheel.
    """

    road: ComplexArray
    vertical: ComplexArray
    fore_aft: ComplexArray
    body: ComplexArray


@lru_cache(maxsize=8)
def responses(car: Car, size: int, rate_hz: float) -> Responses:
    """All responses at the frequencies of a real transform of `size` points at rate_hz."""
    return responses_at(car, np.arange(size // 2 + 1, dtype=np.float64) * (rate_hz / size))


def responses_at(car: Car, frequency_hz: FloatArray) -> Responses:
    """All responses at these frequencies."""
    s = 2j * np.pi * frequency_hz
    corner = _corner_matrices(car)
    mass = np.diag([car.body_kg, car.pitch_inertia_kgm2, car.roll_inertia_kgm2] + [car.wheel_kg] * 4)
    spring, damper = corner
    dynamic = mass * s[:, None, None] ** 2 + damper * s[:, None, None] + spring
    loads = np.zeros((7, 5))
    loads[3:, :4] = np.eye(4)  # a vertical force on each wheel
    loads[0, 4] = 1.0  # a vertical force on the body
    motion = np.linalg.solve(dynamic, np.broadcast_to(loads, (frequency_hz.size, 7, 5)))
    # heave, pitch and roll (roll up on the left, pitch up at the nose) seen at the sensor
    heave, pitch, roll = motion[:, 0, :], motion[:, 1, :], motion[:, 2, :]
    square = (s**2)[:, None]
    up = square * (heave + car.sensor_x_m * pitch + car.sensor_y_m * roll)
    across = square * (0.5 * roll)  # the sensor sits half a metre above the roll axis
    out = np.zeros((4, 5, frequency_hz.size), dtype=np.complex128)
    out[OUTPUTS["z"]], out[OUTPUTS["y"]] = up.T, across.T
    vertical, body = out[:, :4, :].copy(), out[:, 4:, :]
    along = np.zeros((4, 4, frequency_hz.size), dtype=np.complex128)
    along[OUTPUTS["x"]] = _resonance(frequency_hz, car.fore_aft_hz, car.fore_aft_damping) / (
        car.body_kg + 4.0 * car.wheel_kg
    )
    turning = _resonance(frequency_hz, car.steering_hz, car.steering_damping) / np.maximum(np.abs(s), 1.0) * 0.02
    along[OUTPUTS["steering"], 0], along[OUTPUTS["steering"], 1] = turning, -turning
    # the road pushes up through the tyre and, on its slopes, back against the wheel
    slope = 4_000.0 * 0.3 * s / 25.0
    road = car.tyre * vertical + slope * along
    return Responses(road=road, vertical=vertical, fore_aft=along, body=body)


def _corner_matrices(car: Car) -> tuple[FloatArray, FloatArray]:
    spring, damper = np.zeros((7, 7)), np.zeros((7, 7))
    for index, (forward, left) in enumerate(car.wheel_places()):
        stretch = np.zeros(7)
        stretch[:3] = 1.0, forward, left
        stretch[3 + index] = -1.0
        spring += car.spring * np.outer(stretch, stretch)
        damper += car.damper * np.outer(stretch, stretch)
        spring[3 + index, 3 + index] += car.tyre
    return spring, damper


def _resonance(frequency_hz: FloatArray, natural_hz: float, damping: float) -> ComplexArray:
    ratio = frequency_hz / natural_hz
    return np.asarray(1.0 / (1.0 - ratio**2 + 2j * damping * ratio), dtype=np.complex128)
