"""Long pauses, leaping clocks and channels that are seldom there: the answer stays what it is without them."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from vibdiag.recording.analyse import Analysis, analyse
from vibdiag.recording.car_model import Drive, Instruments, Wheel, practice_recording
from vibdiag.recording.faults import find_faults
from vibdiag.recording.pieces import closed_up
from vibdiag.recording.signal import Channel, Recording, SpeedTrack
from vibdiag.recording.speed import smooth_speed

DAY_S = 86_400.0
DRIVE = practice_recording(
    4, drive=Drive(seconds=80), wheels=(Wheel(0, 120),), instruments=Instruments(rate_hz=200.0)
).recording


def with_a_pause(seconds: float) -> Recording:
    """The drive, its logger stopped half-way; the car drove on at the same speed."""
    assert DRIVE.speed is not None
    stamps = np.where(DRIVE.time_s > 40.0, DRIVE.time_s + seconds, DRIVE.time_s)
    heard = np.where(DRIVE.speed.time_s > 40.0, DRIVE.speed.time_s + seconds, DRIVE.speed.time_s)
    return replace(DRIVE, time_s=stamps, speed=replace(DRIVE.speed, time_s=heard))


def analysed(recording: Recording) -> Analysis:
    return analyse(recording, circumference_m=(1.89, 2.01))


def circumference_m(found: Analysis) -> float:
    assert found.orders is not None
    assert found.orders.circumference is not None
    return found.orders.circumference.metres


@pytest.mark.parametrize("seconds", [30.0, 120.0, 300.0, 5 * 3600.0, 20 * DAY_S, 1.7e9])
def test_a_pause_of_any_length_costs_nothing(seconds: float) -> None:
    whole, paused = analysed(DRIVE), analysed(with_a_pause(seconds))
    assert circumference_m(paused) == pytest.approx(circumference_m(whole), rel=0.002)
    strongest, same = (
        max(whole.lines, key=lambda line: line.amplitude),
        max(paused.lines, key=lambda line: line.amplitude),
    )
    assert same.amplitude == pytest.approx(strongest.amplitude, rel=0.05)
    assert whole.severity is not None
    assert paused.severity is not None
    assert paused.severity.vector_sum_ms2 == pytest.approx(whole.severity.vector_sum_ms2, rel=0.1)
    assert "speed-with-holes" not in {fault.kind for fault in paused.faults}


def test_a_pause_of_weeks_fits_the_memory() -> None:
    recording = with_a_pause(20 * DAY_S)
    tracemalloc.start()
    analysed(recording)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 100e6


def test_the_pause_is_told_in_a_unit_that_is_read_at_a_glance() -> None:
    def told(seconds: float) -> str:
        return next(fault.sentence for fault in find_faults(with_a_pause(seconds)) if fault.kind == "gaps")

    assert told(25.0) == "25.0 s are missing in gaps; they are left out."
    assert told(300.0).startswith("5.0 min are missing")
    assert told(20 * DAY_S).startswith("20 days are missing")
    assert with_a_pause(20 * DAY_S).recorded_s == pytest.approx(80.0, abs=0.1)


def test_a_recording_without_a_pause_is_handed_back_as_it_is() -> None:
    assert closed_up(DRIVE).time_s is DRIVE.time_s


def test_a_held_speed_holds_over_a_pause() -> None:
    paused = with_a_pause(600.0)
    held = replace(paused, speed=SpeedTrack(paused.time_s[[0, -1]], np.array([27.8, 27.8]), "cruise"))
    closed = closed_up(held)
    assert closed.speed is not None
    np.testing.assert_allclose(closed.speed.time_s, closed.time_s[[0, -1]])


def test_a_speed_that_begins_hours_before_the_shake_is_cut_to_it() -> None:
    assert DRIVE.speed is not None
    early = np.concatenate((np.arange(-20 * DAY_S, -10.0, 600.0), DRIVE.speed.time_s))
    longer = SpeedTrack(early, np.interp(early, DRIVE.speed.time_s, DRIVE.speed.speed_ms), "gps")
    closed = closed_up(replace(DRIVE, speed=longer))
    assert closed.speed is not None
    assert closed.speed.time_s.min() > -31.0


def test_a_speed_of_another_time_is_said() -> None:
    assert DRIVE.speed is not None
    other = replace(DRIVE, speed=replace(DRIVE.speed, time_s=DRIVE.speed.time_s + 5000.0))
    found = analysed(other)
    assert found.orders is None
    assert "another time than the shake" in found.faults[0].sentence


def test_single_samples_with_long_holes_are_refused_in_a_sentence() -> None:
    stamps = np.concatenate([[k * 9.0, k * 9.0 + 0.005] for k in range(400)])
    values = np.random.default_rng(1).normal(size=stamps.size)
    found = analyse(Recording(stamps, {"az": Channel(values, "m/s2", "z", "acceleration")}))
    assert any("Nearly all of the recording is missing" in fault.sentence for fault in found.faults)


def test_across_a_hole_the_speed_goes_straight_on() -> None:
    assert DRIVE.speed is not None
    time = np.concatenate((np.arange(0.0, 30.0), np.arange(400.0, 430.0)))
    speed = np.concatenate((20.0 + 0.3 * np.arange(30.0), 29.0 - 0.3 * np.arange(30.0)))
    smooth = smooth_speed(SpeedTrack(time, speed, "gps"), delay_s=0.0)
    assert smooth.speed_ms[(smooth.time_s > 40.0) & (smooth.time_s < 390.0)].min() > 28.0
    assert smooth.speed_ms.max() < 30.0


def test_a_channel_that_is_seldom_there_does_not_cut_the_others() -> None:
    early = np.where(DRIVE.time_s < 20.0, np.random.default_rng(2).normal(size=DRIVE.time_s.size), np.nan)
    with_gyro = replace(DRIVE, channels={**DRIVE.channels, "gz": Channel(early, "rad/s", "z", "rotation")})
    whole, found = analysed(DRIVE), analysed(with_gyro)
    assert [line.amplitude for line in found.lines] == [line.amplitude for line in whole.lines]
    assert [fault.sentence for fault in found.faults if fault.kind == "seldom"] == [
        "Channel gz is there for only 25 % of the recording and is left out."
    ]


def test_a_channel_with_lost_values_here_and_there_stays() -> None:
    some = DRIVE.channels["az"].values.copy()
    some[::5] = np.nan
    holed = replace(DRIVE, channels={**DRIVE.channels, "az": Channel(some, "m/s2", "z", "acceleration")})
    found = analysed(holed)
    assert "seldom" not in {fault.kind for fault in found.faults}
    assert found.orders is not None
    assert "az" in {line.channel for line in found.orders.lines}
