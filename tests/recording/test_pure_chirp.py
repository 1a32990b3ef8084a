"""Signals whose answer is known without any model."""

import numpy as np
import pytest

from vibdiag.recording.amplitude import amplitude_over_speed
from vibdiag.recording.analyse import analyse
from vibdiag.recording.angle import course_of
from vibdiag.recording.candidates import engine_orders, wheel_orders
from vibdiag.recording.clean import even_out, thin
from vibdiag.recording.demodulate import demodulate
from vibdiag.recording.interpolate import cubic
from vibdiag.recording.signal import Channel, EngineTrack, FloatArray, Recording, SpeedTrack
from vibdiag.recording.speed import smooth_speed


def chirp(rate_hz: float, seconds: float, start_ms: float, end_ms: float, order: float) -> tuple[Recording, FloatArray]:
    """A pure order of amplitude 0.3 m/s2 while the speed rises evenly; circumference 2 m, speed known exactly."""
    time = np.arange(int(rate_hz * seconds)) / rate_hz
    speed = start_ms + (end_ms - start_ms) * time / seconds
    turns = (start_ms * time + 0.5 * (end_ms - start_ms) * time**2 / seconds) / 2.0
    shake = 9.81 + 0.3 * np.cos(2.0 * np.pi * order * turns + 0.7)
    track = SpeedTrack(time[:: int(rate_hz // 10)], speed[:: int(rate_hz // 10)], "wheel-speed")
    return Recording(time, {"az": Channel(shake, "m/s2", "z", "acceleration")}, speed=track), turns


@pytest.mark.parametrize("rate_hz", [100.0, 1000.0])
@pytest.mark.parametrize("order", [1.0, 2.0])
def test_amplitude_of_a_pure_chirp_within_half_a_per_cent(rate_hz: float, order: float) -> None:
    recording, _ = chirp(rate_hz, 60.0, 14.0, 32.0, order)
    even = even_out(recording)
    course = course_of(even, smooth_speed(recording.speed), circumference_m=2.0)  # type: ignore[arg-type]
    envelope = demodulate(even, course, order=order)
    assert envelope is not None
    inner = envelope.pointer[0][40:-40]
    assert float(np.abs(inner).mean()) == pytest.approx(0.3, rel=0.005)
    assert float(np.abs(inner).max()) == pytest.approx(0.3, rel=0.02)
    assert float(np.ptp(np.unwrap(np.angle(inner)))) < 0.02  # a steady pointer, radians


def test_what_lies_beside_an_order_is_kept_out() -> None:
    # 3.07 against 3: 0.9 Hz apart at this speed; the angle's pointer must turn at the difference and not be zero's
    recording, _ = chirp(400.0, 40.0, 25.0, 25.0001, 3.07)
    even = even_out(recording)
    course = course_of(even, smooth_speed(recording.speed), circumference_m=2.0)  # type: ignore[arg-type]
    envelope = demodulate(even, course, order=3.0)
    assert envelope is not None
    turned = np.unwrap(np.angle(envelope.pointer[0][20:-20])) / (2.0 * np.pi)
    per_turn = np.polyfit(envelope.turns[20:-20], turned, 1)[0]
    assert per_turn == pytest.approx(0.07, abs=1e-3)


def test_an_order_above_the_rate_is_refused() -> None:
    recording, _ = chirp(50.0, 30.0, 25.0, 25.0, 1.0)
    even = even_out(recording)
    course = course_of(even, smooth_speed(recording.speed), circumference_m=2.0)  # type: ignore[arg-type]
    assert demodulate(even, course, order=3.0) is None


def test_engine_orders_from_the_engines_own_speed() -> None:
    rng = np.random.default_rng(4)
    time = np.arange(0.0, 60.0, 0.004)
    turns = 2.0 * np.pi * (35.0 * time + 20.0 * np.sin(time / 10.0))
    shake = 0.1 * np.sin(2.0 * turns) + rng.normal(0.0, 0.3, time.size)
    engine = EngineTrack(time[::25], 35.0 + 2.0 * np.cos(time[::25] / 10.0))
    recording = Recording(time, {"az": Channel(shake, "m/s2", "z", "acceleration")}, engine=engine)
    found = analyse(recording, cylinders=4).engine
    assert found is not None
    assert [line.name for line in found.found] == ["2x engine"]
    assert found.found[0].amplitude == pytest.approx(0.1, rel=0.15)
    assert [each.order for each in engine_orders(cylinders=4)] == [0.5, 1.0, 2.0]  # cylinders / 2 (FRQ-009)


def test_amplitude_over_speed_follows_the_square_of_speed() -> None:
    rng = np.random.default_rng(8)
    recording, turns = chirp(200.0, 120.0, 18.0, 36.0, 1.0)
    speed = 18.0 + 18.0 * recording.time_s / 120.0
    shake = 0.2 * (speed / 27.0) ** 2 * np.cos(2.0 * np.pi * turns) + rng.normal(0.0, 0.2, turns.size)
    noisy = Recording(recording.time_s, {"az": Channel(shake, "m/s2", "z", "acceleration")}, speed=recording.speed)
    analysis = analyse(noisy, circumference_m=(1.94, 2.06))
    points = analysis.over_speed["1x wheel", "az"]
    assert len(points) >= 10
    held = [p.interval[0] - 0.01 <= 0.2 * (p.speed_kmh / 97.2) ** 2 <= p.interval[1] + 0.01 for p in points]
    assert np.mean(held) > 0.8
    assert amplitude_over_speed.__doc__


def test_thinning_keeps_a_slow_wave_and_removes_what_would_fold() -> None:
    time = np.arange(4000) / 1000.0
    slow = np.sin(2.0 * np.pi * 10.0 * time)
    for factor, folded in ((5, 0.01), (10, 0.01)):  # both ways of computing it
        fast = np.sin(2.0 * np.pi * (1000.0 / factor - 10.0) * time)  # would fold onto the slow one
        assert thin(slow, factor).std() * np.sqrt(2.0) == pytest.approx(1.0, rel=0.005)
        assert np.abs(thin(fast, factor)).max() < folded


def test_cubic_is_exact_for_a_parabola_and_says_when_it_cannot() -> None:
    place = np.linspace(1.0, 7.0, 31)
    assert np.allclose(cubic(np.arange(9.0) ** 2, place), place**2)
    with pytest.raises(ValueError, match="at least 4"):
        cubic(np.zeros(3), place)


def test_third_wheel_order_names_the_halfshaft_only_where_there_is_one() -> None:
    assert [each.name for each in wheel_orders(highest=3, halfshafts=False)][2] == "3x wheel"
    assert sum(each.share for each in wheel_orders(propshaft_ratio=3.5)) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="highest"):
        wheel_orders(highest=0)
