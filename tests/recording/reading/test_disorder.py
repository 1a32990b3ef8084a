"""Stamps that cannot be: lone absurd ones, a clock set back, whole seconds; day and month for a whole column."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import Reading, open_recording
from vibdiag.recording.reading.time_stamps import is_time_text, seconds_from_text

RATE_HZ = 50
ROWS = 3000
SHAKE = np.sin(np.arange(ROWS) * 0.37)


def read(folder: Path, stamp: Callable[[int], object], *, name: str = "time_s", rows: int = ROWS) -> Reading:
    path = folder / "drive.csv"
    lines = [f"{stamp(i)},{SHAKE[i]:.4f},{9.8 + SHAKE[i]:.4f},{25 if i % 50 == 0 else ''}" for i in range(rows)]
    path.write_text(f"{name},ax_m/s2,az_m/s2,gps_speed_m/s\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return open_recording(path)


@pytest.mark.parametrize("wrong", [9_005_000_000, 90_050, -50_000])
def test_a_single_wrong_stamp_is_left_out_and_told(tmp_path: Path, wrong: float) -> None:
    reading = read(tmp_path, lambda i: wrong if i == 1500 else i / RATE_HZ)
    assert reading.recording.duration_s == pytest.approx((ROWS - 1) / RATE_HZ)
    assert reading.recording.time_s.size == ROWS - 1
    assert reading.recording.speed is not None
    assert reading.recording.speed.time_s.max() < 60.0
    assert "drive.csv: 1 row lies far from all others in time (a wrong stamp?) and was left out." in reading.remarks


def test_first_rows_dated_1970_are_left_out(tmp_path: Path) -> None:
    reading = read(tmp_path, lambda i: f"{i / RATE_HZ + (0.0 if i < 100 else 1.7e9):.3f}")
    assert reading.recording.duration_s == pytest.approx((ROWS - 101) / RATE_HZ, abs=1e-3)


def test_a_clock_set_back_makes_two_stretches(tmp_path: Path) -> None:
    """Half-way the clock falls back by 20 s: the stretches overlap, and must not be mixed row by row."""
    reading = read(tmp_path, lambda i: f"{i / RATE_HZ - (20.007 if i >= 1500 else 0.0):.3f}")
    recording = reading.recording
    assert np.all(np.diff(recording.time_s) > 0.0)
    assert recording.recorded_s == pytest.approx(60.0, abs=0.1)
    assert recording.speed is not None
    assert np.all(np.diff(recording.speed.time_s) > 0.5)
    assert any("the clock was set back once" in remark for remark in reading.remarks)


def test_blocks_in_the_wrong_order_are_only_sorted(tmp_path: Path) -> None:
    """They repeat no time, so nothing was set back."""
    reading = read(tmp_path, lambda i: (i + 1500) % ROWS / RATE_HZ)
    assert reading.recording.duration_s == pytest.approx((ROWS - 1) / RATE_HZ)
    assert not any("set back" in remark for remark in reading.remarks)


def test_whole_seconds_are_spread(tmp_path: Path) -> None:
    reading = read(tmp_path, lambda i: 1_700_000_000 + (i + 20) // RATE_HZ, name="timestamp")
    steps = np.diff(reading.recording.time_s)
    np.testing.assert_allclose(steps, 1.0 / RATE_HZ, atol=1e-6)
    assert any("about 50 rows alike, every 1 s; they were spread evenly, 50 a second" in r for r in reading.remarks)


def test_whole_seconds_that_cannot_be_spread_ask_for_the_rate(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    stamps = np.repeat(np.arange(400), rng.integers(1, 60, size=400))
    with pytest.raises(InputError, match=r"rows stand under one stamp.*rate=100"):
        read(tmp_path, lambda i: stamps[i], name="time_s")


def test_two_sensors_under_one_stamp_are_not_spread(tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    rows = [f"{i / RATE_HZ},{SHAKE[i]:.3f},\n{i / RATE_HZ},,{SHAKE[i] / 100:.5f}" for i in range(1000)]
    path.write_text("time_s,az_m/s2,gz_rad/s\n" + "\n".join(rows) + "\n")
    reading = open_recording(path)
    np.testing.assert_allclose(np.diff(reading.recording.time_s), 1.0 / RATE_HZ, atol=1e-9)


def test_equal_stamps_are_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, lambda _: 5.0)
    assert str(caught.value) == (
        "drive.csv: time_s: all stamps are equal (5 s); say which column is the time (NAME=time:s), "
        "or the rate of the rows (rate=100)."
    )


@pytest.mark.parametrize("form", ["%d/%m/%Y %H:%M:%S.%f", "%m/%d/%Y %H:%M:%S.%f", "%d/%m/%y %H:%M:%S"])
@pytest.mark.parametrize("day", [5, 12, 13, 30])
def test_a_drive_over_midnight_lasts_no_month(form: str, day: int) -> None:
    """5 to 6 and 12 to 13 May, either way of writing: in the second only one of the days can be a month."""
    begin = datetime(2024, 5, day, 23, 59, 30)
    cells = [(begin + timedelta(seconds=i)).strftime(form).encode() for i in range(60)]
    np.testing.assert_allclose(np.diff(seconds_from_text(np.array(cells)).time_s), 1.0, atol=1e-6)


@pytest.mark.parametrize(
    ("cell", "epoch_s"),
    [
        (b"Sun Feb 11 09:00:00 GMT+01:00 2024", 1_707_638_400.0),
        (b"11-Feb-2024 09:00:00.250", 1_707_642_000.25),
        (b"11-feb-2024 09:00:00", 1_707_642_000.0),
    ],
)
def test_dates_with_the_month_in_letters(cell: bytes, epoch_s: float) -> None:
    """Against `date -u -d '2024-02-11 09:00' +%s`, 1707642000; an hour less where the zone is an hour ahead."""
    assert is_time_text(cell)
    clock = seconds_from_text(np.array([cell, cell]))
    np.testing.assert_allclose(clock.time_s, epoch_s, atol=1e-6, rtol=0.0)
    assert clock.absolute
