"""A real recording (commaai/comma2k19, MIT; see data/README.md): the rolling circumference it holds."""

from pathlib import Path

import numpy as np
import pytest

from vibdiag.recording.analyse import analyse
from vibdiag.recording.signal import Channel, Recording, SpeedSource, SpeedTrack

DATA = Path(__file__).parent / "data"


def load(speed_file: str, source: SpeedSource) -> Recording:
    sensor = np.loadtxt(DATA / "comma2k19_example_1_sensor.csv", delimiter=",", skiprows=1)
    speed = np.loadtxt(DATA / speed_file, delimiter=",", skiprows=1)
    channels = {
        "ax": Channel(sensor[:, 1], "m/s2", "x", "acceleration"),
        "ay": Channel(sensor[:, 2], "m/s2", "y", "acceleration"),
        "az": Channel(sensor[:, 3], "m/s2", "z", "acceleration"),
    }
    return Recording(sensor[:, 0], channels, speed=SpeedTrack(speed[:, 0], speed[:, 1], source))


@pytest.mark.parametrize("searched", [(1.70, 2.50), (2.05, 2.27)])
def test_circumference_by_the_wheels_own_speed(searched: tuple[float, float]) -> None:
    # 2.160 m was found by an earlier, independent search over the same recording
    found = analyse(
        load("comma2k19_example_1_wheel_speed.csv", "wheel-speed"), circumference_m=searched, highest_order=3
    )
    assert found.orders is not None
    assert found.orders.circumference is not None
    assert found.orders.circumference.metres == pytest.approx(2.160, rel=0.005)
    assert found.orders.circumference.confidence > 0.95


def scale_of_satellite_speed() -> tuple[float, float]:
    """Satellite speed over wheel speed, and its standard error, by least squares at the lag that fits best.

    No shake and nothing of vibdiag goes into it: the two speeds of this recording disagree by themselves.
    """
    satellite, wheels = (
        np.loadtxt(DATA / f"comma2k19_example_1_{name}.csv", delimiter=",", skiprows=1)
        for name in ("gnss", "wheel_speed")
    )
    fits = []
    for lag_s in np.arange(0.0, 0.5, 0.05):
        by_wheels = np.interp(satellite[:, 0] - lag_s, wheels[:, 0], wheels[:, 1])
        scale = float(by_wheels @ satellite[:, 1] / (by_wheels @ by_wheels))
        left = float(np.std(satellite[:, 1] - scale * by_wheels))
        fits.append((left, scale, left / float(np.sqrt(by_wheels @ by_wheels))))
    _, scale, error = min(fits)
    return scale, error


def test_circumference_by_satellite_once_a_second() -> None:
    # The satellite speed of this recording reads 0.9 % more than the wheels' (1.0089 +- 0.0007), and a circumference
    # is one by the speed it was found with: 2.160 m by the wheels is 2.179 m by satellite, and that is what must come.
    scale, error = scale_of_satellite_speed()
    assert scale == pytest.approx(1.0089, abs=0.0005)
    found = [
        analyse(load("comma2k19_example_1_gnss.csv", "gps"), highest_order=3).orders,
        analyse(load("comma2k19_example_1_wheel_speed.csv", "wheel-speed"), highest_order=3).orders,
    ]
    by_satellite, by_wheels = (None if orders is None else orders.circumference for orders in found)
    assert by_satellite is not None
    assert by_wheels is not None
    assert by_satellite.metres / scale == pytest.approx(2.160, rel=0.005)
    assert by_satellite.confidence > 0.95
    # the 90 % interval holds what the wheels say, brought to the satellite's scale
    spread = 1.645 * float(np.hypot(np.hypot(by_satellite.sd_m, by_wheels.sd_m), error * by_wheels.metres))
    assert abs(by_satellite.metres - scale * by_wheels.metres) < spread
    assert spread < 0.005


def test_a_wrong_range_is_not_believed() -> None:
    found = analyse(
        load("comma2k19_example_1_wheel_speed.csv", "wheel-speed"), circumference_m=(1.75, 2.00), highest_order=3
    )
    assert found.orders is not None
    strong = [line for line in found.orders.found if line.log_likelihood_ratio > 15.0]
    assert not strong


@pytest.mark.parametrize(
    ("file", "source"),
    [("comma2k19_example_1_wheel_speed.csv", "wheel-speed"), ("comma2k19_example_1_gnss.csv", "gps")],
)
def test_what_sweeps_from_8_to_20_m_s_is_judged_an_order(file: str, source: SpeedSource) -> None:
    found = analyse(load(file, source), highest_order=3)
    strong = [judged.verdict for judged in found.judged.values() if abs(judged.log_odds) > 5.0]
    assert strong
    assert set(strong) == {"order"}
