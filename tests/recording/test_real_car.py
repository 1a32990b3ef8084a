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


def test_circumference_by_satellite_once_a_second() -> None:
    # The satellite speed of this recording reads 1.0085 times the wheels' (measured), and so must its circumference.
    found = analyse(load("comma2k19_example_1_gnss.csv", "gps"), highest_order=3)
    assert found.orders is not None
    assert found.orders.circumference is not None
    assert found.orders.circumference.metres / 1.0085 == pytest.approx(2.160, rel=0.005)
    assert found.orders.circumference.confidence > 0.95


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
