"""What is wrong with a recording is said in a sentence, and what can still be concluded is."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.recording.analyse import analyse
from vibdiag.recording.candidates import wheel_orders
from vibdiag.recording.car_model import Drive, Instruments, Wheel, practice_recording
from vibdiag.recording.clean import even_out
from vibdiag.recording.faults import find_faults
from vibdiag.recording.signal import Channel, Recording, SpeedTrack

SHAKY = (Wheel(0, 120),)


def kinds(recording: Recording) -> set[str]:
    return {fault.kind for fault in find_faults(recording, candidates=wheel_orders(), circumference_m=1.95)}


def drive(**instruments: object) -> Recording:
    return practice_recording(3, wheels=SHAKY, instruments=Instruments(**instruments)).recording  # type: ignore[arg-type]


def test_a_good_recording_has_no_fault_but_its_rate() -> None:
    assert kinds(drive(rate_hz=200.0)) == set()
    assert kinds(drive(rate_hz=100.0)) == {"rate-too-low"}  # 4x wheel at 100 km/h is 57 Hz


def test_each_fault_is_named() -> None:
    assert "saturated" in kinds(drive(range_ms2=10.4))
    assert "stuck" in kinds(drive(stuck_from_s=30.0))
    assert "speed-with-holes" in kinds(drive(lost_s=(20.0, 32.0)))
    assert "jitter" in kinds(drive(jitter_s=0.004))
    assert "too-short" in kinds(practice_recording(3, drive=Drive(seconds=6)).recording)
    assert "too-short" in kinds(practice_recording(3, drive=Drive(seconds=15)).recording)
    assert "standing" in kinds(practice_recording(3, drive=Drive(start_kmh=0.0, wander_ms=0.1)).recording)


def test_without_speed_severity_is_still_told() -> None:
    whole = drive()
    found = analyse(Recording(whole.time_s, whole.channels, sensor_place="seat-rail"))
    assert found.orders is None
    assert found.severity is not None
    assert found.severity.vector_sum_ms2 > 0.1
    assert any(fault.kind == "speed-missing" and fault.blocks_orders for fault in found.faults)


def test_a_held_speed_written_down_will_do() -> None:
    whole = drive()
    cruise = SpeedTrack(np.array([0.0, 60.0]), np.array([27.8, 27.8]), "cruise")
    found = analyse(Recording(whole.time_s, whole.channels, speed=cruise), circumference_m=(1.89, 2.01))
    assert found.orders is not None
    assert "1x wheel" in {line.name for line in found.lines}


@pytest.mark.parametrize(
    "instruments",
    [
        {"jitter_s": 0.002},
        {"missing": 0.03},
        {"range_ms2": 10.6},
        {"tilt_deg": 10.0},
        {"lost_s": (20.0, 32.0)},
        {"step_ms2": 0.15},
        {"rate_hz": 50.0},
    ],
    ids=str,
)
def test_the_order_is_found_in_spite_of_it(instruments: dict[str, object]) -> None:
    found = analyse(drive(**instruments), circumference_m=(1.89, 2.01))
    assert found.orders is not None
    assert found.orders.circumference is not None
    assert found.orders.circumference.metres == pytest.approx(1.95, rel=0.005)


def test_a_rate_too_low_for_the_first_order_is_refused_with_the_rate_needed() -> None:
    found = analyse(drive(rate_hz=20.0), circumference_m=(1.89, 2.01))
    assert found.orders is None
    assert any("Drive slower or record faster" in fault.sentence for fault in found.faults)


def test_potholes_and_a_patched_road_raise_no_alarm() -> None:
    alarms = []
    for seed in range(12):
        rough = practice_recording(40 + seed, axes="z", potholes=6, patches=0.6).recording
        found = analyse(rough, circumference_m=(1.89, 2.01))
        assert found.orders is not None
        alarms.append(bool(found.orders.found))
    assert sum(alarms) <= 1


def test_a_gap_and_stamps_out_of_order_are_put_right() -> None:
    whole = drive()
    keep = (whole.time_s < 25.0) | (whole.time_s > 31.0)
    order = np.arange(int(keep.sum()))
    order[[100, 101]] = order[[101, 100]]
    cut = Recording(
        whole.time_s[keep][order],
        {
            name: Channel(channel.values[keep][order], channel.unit, channel.axis, channel.kind)
            for name, channel in whole.channels.items()
        },
        speed=whole.speed,
    )
    assert {"gaps", "jitter"} <= kinds(cut)
    even = even_out(cut)
    assert 5.0 < np.count_nonzero(~even.good) / even.rate_hz < 7.0
    found = analyse(cut, circumference_m=(1.89, 2.01))
    assert found.orders is not None
    assert found.orders.circumference is not None
    assert found.orders.circumference.metres == pytest.approx(1.95, rel=0.005)


def test_a_dead_channel_is_left_out_and_named() -> None:
    whole = drive()
    channels = {**whole.channels, "dead": Channel(np.full(whole.time_s.size, 1.0), "m/s2", "y", "acceleration")}
    found = analyse(Recording(whole.time_s, channels, speed=whole.speed), circumference_m=(1.89, 2.01))
    assert any("dead" in fault.sentence for fault in found.faults)
    assert found.orders is not None
    assert {line.channel for line in found.orders.lines} == {"ax", "ay", "az"}


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.one_of(st.floats(-5, 60), st.just(float("nan"))),
            st.one_of(st.floats(-50, 50), st.just(float("nan"))),
        ),
        max_size=60,
    ),
    st.lists(st.tuples(st.floats(-1, 60), st.one_of(st.floats(-1, 60), st.just(float("nan")))), max_size=12),
)
def test_no_rubbish_makes_it_fail(rows: list[tuple[float, float]], speeds: list[tuple[float, float]]) -> None:
    time, values = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    track = SpeedTrack(np.array([each[0] for each in speeds]), np.array([each[1] for each in speeds]), "gps")
    recording = Recording(time, {"az": Channel(values, "m/s2", "z", "acceleration")}, speed=track)
    found = analyse(recording)
    assert not found.lines
    assert found.faults


def test_a_recording_refuses_what_does_not_belong_together() -> None:
    with pytest.raises(ValueError, match="'az' has 2 values"):
        Recording(np.zeros(3), {"az": Channel(np.zeros(2), "m/s2", "z", "acceleration")})
    with pytest.raises(ValueError, match="acceleration in m/s2"):
        Channel(np.zeros(3), "rad/s", "z", "acceleration")
    with pytest.raises(ValueError, match="at least one channel"):
        Recording(np.zeros(3), {})
