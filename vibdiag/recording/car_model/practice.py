"""A practice recording with known answers, the same for the same seed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.car_model.body import OUTPUTS, WHEELS, Car, ComplexArray, responses, responses_at
from vibdiag.recording.car_model.driving import Drive, true_speed
from vibdiag.recording.car_model.instruments import Instruments, read_sensor, read_speed
from vibdiag.recording.car_model.road import RoadClass, make_road
from vibdiag.recording.car_model.sources import Body, Shaft, Wheel
from vibdiag.recording.signal import Channel, EngineTrack, FloatArray, Place, Recording, SpeedTrack

__all__ = ["Practice", "practice_recording"]

_RATE_HZ = 400.0  # of the simulation: enough for 130 Hz
_MARGIN_S = 6.0  # run in and out, so that the circle of the transform does not show


@dataclass(frozen=True, slots=True, eq=False)
class Practice:
    """A recording and its truth.

    circumference_m: of the car's wheels. amplitude_ms2: (order of the wheel, axis) -> amplitude at the sensor at the
    mean speed, from all sources of that order summed as if they were one (use it with one source an order). speed_ms:
    mean. latency_s: of the speed. time_s, true_speed_ms: every simulated moment of the drive.
    """

    recording: Recording
    circumference_m: float
    amplitude: dict[tuple[float, str], float]
    mean_speed_ms: float
    time_s: FloatArray
    true_speed_ms: FloatArray


def practice_recording(
    seed: int,
    *,
    car: Car | None = None,
    drive: Drive | None = None,
    road_class: RoadClass = "B",
    wheels: tuple[Wheel, ...] = (),
    shaft: Shaft | None = None,
    body: Body | None = None,
    instruments: Instruments | None = None,
    circumference_m: float = 1.95,
    potholes: int = 0,
    patches: float = 0.0,
    place: Place = "seat-rail",
    engine_known: bool = False,
    axes: str = "xyz",
    wheels_known: bool = False,
) -> Practice:
    """Drive a car with these faults and record it.

    axes: which of x, y, z the sensor has. place: "steering-wheel" and "steering-column" add a rotation channel
    "steering". engine_known: also record the engine's speed. wheels_known: the speed is
    that of the four wheels, each recorded by itself. With no fault given the car has none.
    """
    car, drive, instruments = car or Car(), drive or Drive(), instruments or Instruments()
    rng = np.random.default_rng(seed)
    time_s = np.arange(-_MARGIN_S, drive.seconds + _MARGIN_S, 1.0 / _RATE_HZ)
    speed_ms = true_speed(rng, drive, time_s)
    distance_m = np.cumsum(speed_ms) / _RATE_HZ + 20.0
    road = make_road(
        rng,
        road_class=road_class,
        length_m=float(distance_m[-1]) + 20.0,
        track_width_m=car.track_m,
        pothole_at_m=tuple(rng.uniform(20.0, distance_m[-1], potholes)),
        patches=patches,
    )
    heights = np.stack(
        [
            road.height_m(distance_m + forward - car.wheelbase_m / 2.0, "left" if left > 0 else "right")
            for forward, left in car.wheel_places()
        ]
    )
    vertical, along = np.zeros_like(heights), np.zeros_like(heights)
    truth: dict[tuple[float, str], float] = {}
    mean_ms = float(np.mean(speed_ms[(time_s >= 0.0) & (time_s < drive.seconds)]))
    for wheel in wheels:
        _turn_wheel(wheel, distance_m, speed_ms, circumference_m, heights, vertical, along)
        _note_wheel(truth, wheel, car, mean_ms / circumference_m)
    through_body = _through_body(shaft, body, distance_m / circumference_m, speed_ms / circumference_m, time_s)
    if shaft is not None:
        rotation_hz = shaft.ratio * mean_ms / circumference_m
        force = shaft.imbalance_gmm * 1e-6 * (2.0 * np.pi * rotation_hz) ** 2
        _note_body(truth, shaft.ratio, force, car, rotation_hz)
        _note_body(truth, 2.0 * shaft.ratio, shaft.joint_n, car, 2.0 * rotation_hz)
    if body is not None:
        for order, force in body.engine_n:
            hz = order * body.engine_ratio * mean_ms / circumference_m
            _note_body(truth, order * body.engine_ratio, force, car, hz)
    felt = _felt(car, heights, vertical, along, through_body)
    turns_steering = place in ("steering-wheel", "steering-column")
    if turns_steering:
        felt[:3] += 0.18 * np.gradient(felt[3], 1.0 / _RATE_HZ)  # the rim moves with the steering, 0.18 m out
    gravity = np.zeros_like(felt)
    gravity[2] = 9.81
    stamps, taken = read_sensor(rng, instruments, time_s=time_s, truth=felt + gravity, seconds=drive.seconds)
    channels = {
        f"a{axis}": Channel(taken[OUTPUTS[axis]], "m/s2", axis, "acceleration")
        for axis in ("x", "y", "z")
        if axis in axes
    }
    if turns_steering:
        channels["steering"] = Channel(taken[3], "rad/s", "x", "rotation")
    engine = None
    if engine_known and body is not None:
        at = np.arange(0.0, drive.seconds, 0.1)
        engine = EngineTrack(at, np.interp(at, time_s, speed_ms) / circumference_m * body.engine_ratio)
    speed = read_speed(rng, instruments, time_s=time_s, speed_ms=speed_ms, seconds=drive.seconds)
    each = _each_wheel(rng, wheels, instruments, time_s, speed_ms, drive.seconds) if wheels_known else {}
    if each:
        readings = [track.speed_ms for track in each.values()]
        speed = SpeedTrack(next(iter(each.values())).time_s, np.mean(readings, axis=0), "wheel-speed")
    recording = Recording(stamps, channels, speed=speed, engine=engine, sensor_place=place, wheels=each)
    return Practice(recording, circumference_m, truth, mean_ms, time_s, speed_ms)


def _each_wheel(
    rng: np.random.Generator,
    wheels: tuple[Wheel, ...],
    instruments: Instruments,
    time_s: FloatArray,
    speed_ms: FloatArray,
    seconds: float,
) -> dict[str, SpeedTrack]:
    """Turns counted by each wheel's own sensor, told as a speed by one circumference for all."""
    larger = {wheel.place: wheel.larger for wheel in wheels}
    tracks = {}
    for place, name in enumerate(WHEELS):
        own = speed_ms / (1.0 + larger.get(place, 0.0))
        tracks[name] = read_speed(rng, instruments, time_s=time_s, speed_ms=own, seconds=seconds)
    return tracks


def _turn_wheel(
    wheel: Wheel,
    distance_m: FloatArray,
    speed_ms: FloatArray,
    circumference_m: float,
    heights: FloatArray,
    vertical: FloatArray,
    along: FloatArray,
) -> None:
    own_m = circumference_m * (1.0 + wheel.larger)
    angle = 2.0 * np.pi * (distance_m / own_m + wheel.start_turns)
    force = wheel.imbalance_g * 1e-3 * wheel.radius_m * (2.0 * np.pi * speed_ms / own_m) ** 2
    vertical[wheel.place] += force * np.sin(angle)
    along[wheel.place] += force * np.cos(angle) + wheel.joint_n * np.cos(3.0 * angle)
    for harmonic, amount in enumerate(wheel.runout_mm, start=1):
        heights[wheel.place] += 1e-3 * amount * np.sin(harmonic * angle)


def _note_wheel(truth: dict[tuple[float, str], float], wheel: Wheel, car: Car, rotation_hz: float) -> None:
    for order in (1, 2, 3, 4):
        hz = np.array([order * rotation_hz])
        response = responses_at(car, hz)
        force = wheel.imbalance_g * 1e-3 * wheel.radius_m * (2.0 * np.pi * rotation_hz) ** 2 if order == 1 else 0.0
        runout = 1e-3 * wheel.runout_mm[order - 1] if order <= len(wheel.runout_mm) else 0.0
        joint = wheel.joint_n if order == 3 else 0.0
        for axis in ("x", "y", "z"):
            out = OUTPUTS[axis]
            there = (
                response.vertical[out, wheel.place, 0] * force * -1j
                + response.fore_aft[out, wheel.place, 0] * (force + joint)
                + response.road[out, wheel.place, 0] * runout * -1j
            )
            truth[float(order), axis] = truth.get((float(order), axis), 0.0) + float(abs(there))


def _note_body(truth: dict[tuple[float, str], float], order: float, force: float, car: Car, hz: float) -> None:
    if force > 0.0:
        truth[order, "z"] = float(force * abs(responses_at(car, np.array([hz])).body[OUTPUTS["z"], 0, 0]))


def _through_body(
    shaft: Shaft | None, body: Body | None, turns: FloatArray, turns_per_s: FloatArray, time_s: FloatArray
) -> FloatArray:
    force = np.zeros_like(turns)
    if shaft is not None:
        angle = 2.0 * np.pi * shaft.ratio * turns
        force += shaft.imbalance_gmm * 1e-6 * (2.0 * np.pi * shaft.ratio * turns_per_s) ** 2 * np.sin(angle)
        force += shaft.joint_n * np.sin(2.0 * angle)
    if body is not None:
        for order, amount in body.engine_n:
            force += amount * np.sin(2.0 * np.pi * body.engine_ratio * order * turns)
        force += body.tone_n * np.sin(2.0 * np.pi * body.tone_hz * time_s)
    return force


def _felt(car: Car, heights: FloatArray, vertical: FloatArray, along: FloatArray, body: FloatArray) -> FloatArray:
    size = heights.shape[1]
    answer = responses(car, size, _RATE_HZ)
    spectrum: ComplexArray = answer.body[:, 0, :] * np.fft.rfft(body)
    for load, response in ((heights, answer.road), (vertical, answer.vertical), (along, answer.fore_aft)):
        spectrum = spectrum + np.einsum("oif,if->of", response, np.fft.rfft(load, axis=1))
    return np.asarray(np.fft.irfft(spectrum, size, axis=1), dtype=np.float64)
