"""No word for comfort and no verdict on a repair where the size of the acceleration cannot be known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from vibdiag.recording.analyse import analyse
from vibdiag.recording.car_model import Drive, Instruments, Wheel, practice_recording
from vibdiag.recording.compare import Change, compare_orders, same_channels
from vibdiag.recording.severity import Severity
from vibdiag.recording.signal import Channel, Recording


def driven(rate_hz: float, *, seed: int = 4) -> Recording:
    drive = Drive(seconds=40)
    return practice_recording(
        seed, drive=drive, wheels=(Wheel(0, 120),), instruments=Instruments(rate_hz=rate_hz)
    ).recording


DRIVE = replace(driven(200.0), sensor_place="seat-rail")


def felt(recording: Recording) -> Severity:
    found = analyse(recording, circumference_m=(1.89, 2.01)).severity
    assert found is not None
    return found


def test_a_good_recording_has_a_word() -> None:
    severity = felt(DRIVE)
    assert severity.comfort is not None
    assert severity.why_no_word == ""
    assert severity.assumed_upright == severity.left_out == ()


@pytest.mark.parametrize(("rate_hz", "worded"), [(50.0, False), (80.0, False), (100.0, True)])
def test_below_100_hz_there_is_none(rate_hz: float, worded: bool) -> None:
    severity = felt(driven(rate_hz))
    assert (severity.comfort is not None) is worded
    assert ("samples a second do not show all that is felt" in severity.why_no_word) is not worded


def test_nor_with_a_unit_in_doubt_or_with_leaps() -> None:
    doubted = felt(replace(DRIVE, unit_doubt="az: neither a unit nor gravity shows what it is in"))
    assert doubted.comfort is None
    assert "neither a unit nor gravity" in doubted.why_no_word
    loose = DRIVE.channels["az"].values.copy()
    loose[::997] = 400.0
    leaping = felt(replace(DRIVE, channels={**DRIVE.channels, "az": Channel(loose, "m/s2", "z", "acceleration")}))
    assert leaping.comfort is None
    assert "leaps by" in leaping.why_no_word


def test_two_sensors_are_not_summed_into_one() -> None:
    second = {f"watch {name}": channel for name, channel in DRIVE.channels.items()}
    severity = felt(replace(DRIVE, channels={**DRIVE.channels, **second}))
    assert severity.vector_sum_ms2 == pytest.approx(felt(DRIVE).vector_sum_ms2)
    assert severity.left_out == tuple(second)


def test_an_axis_that_nobody_knows_is_said_to_be_taken_as_upright() -> None:
    nameless = Channel(DRIVE.channels["az"].values, "m/s2", "unknown", "acceleration")
    assert felt(replace(DRIVE, channels={"CH1": nameless})).assumed_upright == ("CH1",)


def test_a_low_rate_is_said_without_a_speed_too() -> None:
    kinds = {fault.kind for fault in analyse(replace(driven(20.0), speed=None)).faults}
    assert {"speed-missing", "rate-too-low"} <= kinds


def test_a_speed_too_short_for_any_order_is_the_reason() -> None:
    assert DRIVE.speed is not None
    standing = np.where((DRIVE.speed.time_s > 10.0) & (DRIVE.speed.time_s < 13.0), DRIVE.speed.speed_ms, 0.0)
    found = analyse(replace(DRIVE, speed=replace(DRIVE.speed, speed_ms=standing)))
    assert found.orders is None
    assert found.severity is not None
    assert "there together for only" in found.faults[-1].sentence


def changed(before: Recording, after: Recording, *, doubt: str = "", renamed: bool = False) -> tuple[Change, ...]:
    found = [analyse(each, circumference_m=(1.89, 2.01)) for each in (before, after)]
    orders = [each.orders for each in found]
    speeds = [each.mean_speed_ms or 0.0 for each in found]
    assert orders[0] is not None
    assert orders[1] is not None
    return compare_orders(
        orders[0],
        orders[1],
        places=("seat-rail", "seat-rail"),
        speeds_ms=(speeds[0], speeds[1]),
        same_channel=same_channels(before.channels, after.channels) if renamed else None,
        doubt=doubt,
    )


def test_a_doubtful_unit_proves_no_repair() -> None:
    tenth = {
        name: Channel(c.values / 9.80665, c.unit, c.axis, c.kind) for name, c in DRIVE.channels.items()
    }  # readings in g that nobody marked so: a tenth of the shake
    quieter = replace(DRIVE, channels=tenth)
    assert {change.verdict for change in changed(DRIVE, quieter)} & {"better", "gone"}
    why = "The unit of the recording after is in doubt."
    doubted = changed(DRIVE, quieter, doubt=why)
    assert {(change.verdict, change.why) for change in doubted} == {("cannot tell", why)}


def test_lines_are_matched_by_axis_where_the_columns_are_called_otherwise() -> None:
    other = {f"Acceleration {c.axis}": c for c in DRIVE.channels.values()}
    renamed = replace(DRIVE, channels=other)
    assert {change.verdict for change in changed(DRIVE, renamed)} == {"cannot tell"}
    assert {change.verdict for change in changed(DRIVE, renamed, renamed=True)} == {"same"}


def test_two_channels_on_one_axis_are_not_guessed_between() -> None:
    flat = Channel(np.zeros(3), "m/s2", "z", "acceleration")
    assert same_channels({"a": flat}, {"b": flat, "c": flat}) == {}
    assert same_channels({"a": flat}, {"a": flat, "c": flat}) == {"a": "a"}


def test_the_missing_place_names_its_option() -> None:
    orders = analyse(DRIVE, circumference_m=(1.89, 2.01)).orders
    assert orders is not None
    changes = compare_orders(orders, orders, places=("unknown", "unknown"), speeds_ms=(27.0, 27.0))
    assert changes
    assert all("--place" in change.why for change in changes)
