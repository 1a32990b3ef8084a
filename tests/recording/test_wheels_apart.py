"""Four wheels told apart by their own speeds, on drives whose truth is known."""

import numpy as np
import pytest

from vibdiag.recording.analyse import Analysis, analyse
from vibdiag.recording.car_model import Drive, Instruments, Practice, Wheel, practice_recording
from vibdiag.recording.signal import Recording
from vibdiag.recording.wheels_apart import WheelsApart

SOCKET = Instruments(source="wheel-speed", speed_rate_hz=20.0, speed_noise_ms=0.03, latency_s=0.0)
APART = (0.0, 0.004, 0.008, -0.004)


def drive(seed: int, grams: tuple[float, ...], *, apart: tuple[float, ...] = APART, seconds: float = 120) -> Practice:
    wheels = tuple(Wheel(place, each, larger=apart[place]) for place, each in enumerate(grams))
    return practice_recording(
        seed, axes="z", wheels=wheels, drive=Drive(seconds=seconds), instruments=SOCKET, wheels_known=True
    )


def looked(practice: Practice, known_m: float | None = 1.95) -> tuple[Analysis, WheelsApart]:
    found = analyse(practice.recording, circumference_m=(1.9, 2.0), highest_order=1, wheel_circumference_m=known_m)
    assert found.wheels is not None
    return found, found.wheels


def test_each_wheel_gets_its_own() -> None:
    ratios = []
    for seed in range(6):
        practice = drive(seed, (60, 0, 40, 0))
        found, apart = looked(practice)
        assert [share.name for share in apart.shares[:2]] == ["front-left", "rear-left"]
        assert all(share.alarm < 0.01 for share in apart.shares[:2])
        assert all(share.alarm > 0.01 for share in apart.shares[2:])
        alone = drive(seed, (60, 0, 0, 0)).amplitude[1.0, "z"]
        ratios.append(apart.shares[0].amplitude / alone)
        assert found.origin is not None
        assert found.origin.end == "front"
    assert np.median(ratios) == pytest.approx(1.0, abs=0.1)


def test_one_line_fits_every_wheel_until_the_circumference_is_known() -> None:
    practice = drive(20, (0, 80, 0, 0))
    unknown = looked(practice, None)[1]
    assert unknown.shares == ()
    assert "--wheel-circumference" in str(unknown.refused)
    assert "front-right" in str(unknown.refused)
    known = looked(practice)[1]
    assert known.shares[0].name == "front-right"
    assert known.condition < 1.5


def test_wheels_that_turn_alike_are_not_told_apart() -> None:
    apart = looked(drive(30, (80, 0, 0, 0), apart=(0.0, 0.0005, 0.004, -0.004), seconds=60))[1]
    assert apart.beats < 1.0
    assert "Record" in str(apart.refused)


def test_without_each_wheels_speed_nothing_is_parted() -> None:
    whole = drive(40, (80, 0, 0, 0)).recording
    mean_only = Recording(whole.time_s, whole.channels, speed=whole.speed)
    assert analyse(mean_only, circumference_m=(1.9, 2.0), highest_order=1).wheels is None
