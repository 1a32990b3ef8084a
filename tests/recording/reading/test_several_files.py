"""Files with clocks of their own: one real car (comma2k19, MIT), and made-up ones."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import layout_of, open_recording

from .made_up import BROKEN, DATA, TIME_S, X, Z, assert_is_the_shake, axis

START = datetime(2024, 5, 1, 12, tzinfo=UTC)


def shake(path: Path, stamps: list[str], *, name: str = "time", part: slice = slice(None)) -> Path:
    rows = zip(stamps, X[part], Z[part], strict=True)
    path.write_text(f"{name},ax (m/s2),az (m/s2)\n" + "".join(f"{t},{x:.6f},{z:.6f}\n" for t, x, z in rows))
    return path


def iso(moment: datetime, zone: str) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%S.%f") + zone


def test_a_real_car_with_three_clocks() -> None:
    """comma2k19 Example_1: accelerometer 104 Hz, wheel speeds 83 Hz, satellite speed 10 Hz, one time origin."""
    names = ("imu", "gnss", "wheelspeed")
    reading = open_recording([DATA / f"comma2k19_{name}_5s.csv" for name in names])
    recording, speed = reading.recording, reading.recording.speed
    assert 100 < recording.time_s.size / recording.duration_s < 108
    assert speed is not None
    assert speed.source == "wheel-speed"
    assert list(recording.wheels) == ["wheel0_mps", "wheel1_mps", "wheel2_mps", "wheel3_mps"]
    assert abs(speed.time_s[0] - 0.0095) < 1e-9
    assert reading.remarks == (
        "comma2k19_gnss_5s.csv: taken to run on the same clock as comma2k19_imu_5s.csv.",
        "comma2k19_wheelspeed_5s.csv: taken to run on the same clock as comma2k19_imu_5s.csv.",
        "Road speed is the mean of wheel0_mps, wheel1_mps, wheel2_mps, wheel3_mps; not used: gnss_speed_mps.",
    )


def test_wheel_and_satellite_speed_of_a_real_car_agree() -> None:
    """Over that whole minute a lag of 0.15 s and a scale of 1.0085 were measured; five seconds here."""
    imu = DATA / "comma2k19_imu_5s.csv"
    wheel = open_recording([imu, DATA / "comma2k19_wheelspeed_5s.csv"]).recording.speed
    gnss = open_recording([imu, DATA / "comma2k19_gnss_5s.csv"]).recording.speed
    assert wheel is not None
    assert gnss is not None
    assert gnss.source == "gps"
    at_same = np.interp(gnss.time_s - 0.15, wheel.time_s, wheel.speed_ms)
    assert abs(float(np.median(gnss.speed_ms / at_same)) - 1.0) < 0.02


def test_dates_put_speed_in_its_place(tmp_path: Path) -> None:
    late = [f"{1000 * (START + timedelta(seconds=1.5 + float(t))).timestamp():.0f}" for t in TIME_S]
    path = shake(tmp_path / "a.csv", late)
    speed = open_recording([path, DATA / "rmc.nmea"]).recording.speed
    assert speed is not None
    np.testing.assert_allclose(speed.time_s, np.arange(6) * 0.5 - 1.5, atol=1e-6)
    np.testing.assert_allclose(speed.speed_ms, np.arange(50, 56) * 1852 / 3600)


def test_a_time_zone_is_found_out(tmp_path: Path) -> None:
    local = [iso(START + timedelta(hours=5, minutes=30, seconds=float(t)), "") for t in TIME_S]
    reading = open_recording([shake(tmp_path / "a.csv", local), DATA / "rmc.nmea"])
    assert reading.recording.speed is not None
    assert abs(reading.recording.speed.time_s[0]) < 1e-6
    assert any("moved by +5.5 h onto a.csv, as a time zone explains it" in line for line in reading.remarks)


def test_dates_of_another_day_are_told(tmp_path: Path) -> None:
    other_day = [iso(START + timedelta(days=3, seconds=float(t)), "Z") for t in TIME_S]
    reading = open_recording([shake(tmp_path / "a.csv", other_day), DATA / "rmc.nmea"])
    assert reading.recording.speed is not None
    assert reading.recording.speed.time_s[0] == 0.0
    assert any("dates do not overlap" in line for line in reading.remarks)


def test_without_a_common_clock_both_start_together(tmp_path: Path) -> None:
    since_boot = [f"{54321.0 + float(t):.3f}" for t in TIME_S]
    reading = open_recording([shake(tmp_path / "a.csv", since_boot), DATA / "obd_and_engine.csv"])
    assert reading.recording.speed is not None
    assert reading.recording.time_s[0] == reading.recording.speed.time_s[0] == 0.0
    assert any("no common clock with a.csv" in line for line in reading.remarks)


def test_parts_of_one_log_are_put_end_to_end(tmp_path: Path) -> None:
    stamps = [f"{t:.3f}" for t in TIME_S]
    later = shake(tmp_path / "a_2.csv", stamps[120:], part=slice(120, None))
    earlier = shake(tmp_path / "a_1.csv", stamps[:120], part=slice(120))
    reading = open_recording([later, earlier])
    np.testing.assert_allclose(reading.recording.time_s, TIME_S, atol=1e-9)
    np.testing.assert_allclose(axis(reading.recording, "z"), Z, atol=1e-5)
    assert any("taken as parts of one recording" in line for line in reading.remarks)


def test_two_sensors_stay_two(tmp_path: Path) -> None:
    stamps = [f"{t:.3f}" for t in TIME_S]
    reading = open_recording([shake(tmp_path / "seat.csv", stamps), shake(tmp_path / "floor.csv", stamps)])
    assert list(reading.recording.channels) == [
        "ax (m/s2)", "az (m/s2)", "floor.csv: ax (m/s2)", "floor.csv: az (m/s2)",
    ]  # fmt: skip


def test_the_order_of_files_does_not_matter() -> None:
    files = [DATA / "tab_epoch_ms.txt", DATA / "speed.gpx"]
    one, two = open_recording(files), open_recording(files[::-1])
    assert_is_the_shake(one)
    assert_is_the_shake(two)
    assert one.recording.speed is not None
    assert two.recording.speed is not None
    np.testing.assert_array_equal(one.recording.speed.time_s, two.recording.speed.time_s)


def test_a_file_of_no_use_is_left_out_and_the_others_are_read(tmp_path: Path) -> None:
    sound = shake(tmp_path / "a.csv", [f"{t:.3f}" for t in TIME_S])
    for name, why in (
        ("empty.csv", "is empty; was the recording stopped before it was copied?"),
        ("words.csv", "no line with a number"),
        ("spreadsheet.csv", "unpack it, or save the sheet as CSV"),
    ):
        bad = BROKEN / name
        for files in ([sound, bad], [bad, sound]):
            reading = open_recording(files)
            np.testing.assert_allclose(axis(reading.recording, "z"), Z, atol=1e-5)
            assert reading.left_out == (bad,)
            (said,) = [line for line in reading.remarks if name in line]
            assert why in said
            assert said.endswith("Left out; the other files were read.")
            assert [file.label for file in reading.layout.files] == ["a.csv"]


def test_without_a_shake_the_first_file_that_is_of_no_use_is_what_is_said() -> None:
    with pytest.raises(InputError, match=r"^raw_counts\.csv: ax: has no unit"):
        open_recording([BROKEN / "raw_counts.csv", DATA / "obd_and_engine.csv"])


def test_a_file_that_is_not_there_is_a_slip_of_the_pen(tmp_path: Path) -> None:
    sound = shake(tmp_path / "a.csv", [f"{t:.3f}" for t in TIME_S])
    with pytest.raises(InputError, match="does not exist"):
        open_recording([sound, tmp_path / "sped.csv"])


def test_a_correction_of_the_file_that_is_left_out_is_not_lost(tmp_path: Path) -> None:
    sound = shake(tmp_path / "a.csv", [f"{t:.3f}" for t in TIME_S])
    with pytest.raises(InputError, match=r"^empty\.csv: is empty"):
        open_recording([sound, BROKEN / "empty.csv"], columns={"v": "speed:mph"})


def test_a_unit_of_a_file_that_is_left_out_puts_none_in_doubt(tmp_path: Path) -> None:
    sound = shake(tmp_path / "a.csv", [f"{t:.3f}" for t in TIME_S])
    bare = tmp_path / "bare.csv"
    bare.write_text("ax,az\n" + "".join(f"{x:.4f},{x:.4f}\n" for x in X))
    reading = open_recording([sound, bare])
    assert reading.left_out == (bare,)
    assert "if it is g" not in " ".join(reading.remarks)
    layout, problem = layout_of([sound, bare])
    assert [file.label for file in layout.files] == ["a.csv", "bare.csv"]
    assert problem is not None
    assert "no column of times" in str(problem)


def speeds(path: Path, stamps: np.ndarray) -> Path:
    path.write_text("time,speed (km/h)\n" + "".join(f"{t:.3f},{90 + t % 7:.2f}\n" for t in stamps))
    return path


@pytest.mark.parametrize("boot_s", [0.0, 54321.0, 1.7e9])
def test_two_stretches_know_the_speed_of_both(tmp_path: Path, boot_s: float) -> None:
    """Shake and speed each in two files with a pause of a minute between; the speed's own clock begins at 0 or 1970."""
    later = TIME_S + 60.0
    speed_boot_s = boot_s if boot_s > 1e9 else 0.0
    reading = open_recording([
        shake(tmp_path / "shake_1.csv", [f"{boot_s + t:.3f}" for t in TIME_S]),
        shake(tmp_path / "shake_2.csv", [f"{boot_s + t:.3f}" for t in later]),
        speeds(tmp_path / "speed_1.csv", speed_boot_s + TIME_S[::10]),
        speeds(tmp_path / "speed_2.csv", speed_boot_s + later[::10]),
    ])  # fmt: skip
    speed = reading.recording.speed
    assert speed is not None
    np.testing.assert_allclose(speed.time_s, np.concatenate((TIME_S[::10], later[::10])), atol=1e-5)
    assert "speed_1.csv, speed_2.csv: taken as parts of one recording, one after the other." in reading.remarks


def test_a_log_in_parts_keeps_the_speed_of_each(tmp_path: Path) -> None:
    paths = []
    for number, begin_s in enumerate((0.0, 60.0)):
        paths.append(tmp_path / f"log_{number}.csv")
        rows = "".join(f"{begin_s + t:.3f},{z:.5f},{90 + number}\n" for t, z in zip(TIME_S, Z, strict=True))
        paths[-1].write_text("time,az (m/s2),speed (km/h)\n" + rows)
    speed = open_recording(paths).recording.speed
    assert speed is not None
    assert {round(3.6 * each) for each in speed.speed_ms} == {90, 91}


LONG_S = np.arange(0.0, 80.0, 0.01)


def long_shake(path: Path, stamps: np.ndarray) -> Path:
    path.write_text("time,az (m/s2)\n" + "".join(f"{t:.3f},{9.8 + np.sin(t):.5f}\n" for t in stamps))
    return path


def half_way_from_0(stamps: np.ndarray) -> np.ndarray:
    """The clock of a logger that was started again half-way and counts from 0 again."""
    return np.where(stamps > 40.0, stamps - 40.0, stamps)


def test_where_both_clocks_were_set_back_the_speed_is_known_on_both_stretches(tmp_path: Path) -> None:
    ticks = LONG_S[50::100]  # half a second into each second: of the second stretch, too, the shake begins before it
    recording = open_recording([
        long_shake(tmp_path / "shake.csv", half_way_from_0(LONG_S)),
        speeds(tmp_path / "speed.csv", half_way_from_0(ticks)),
    ]).recording  # fmt: skip
    assert recording.speed is not None
    gap = int(np.argmax(np.diff(recording.time_s)))
    begins_s = recording.time_s[gap + 1]
    assert begins_s > 45.0
    late = recording.speed.time_s[recording.speed.time_s > 45.0]
    # as on the drive: the shake's second stretch begins 0.01 s after its middle, the speed's 0.5 s after it
    np.testing.assert_allclose(late, begins_s - 0.01 + ticks[ticks > 40.0] - 40.0, atol=1e-6)
    assert (np.diff(recording.speed.time_s) > 0.0).all()


@pytest.mark.parametrize("shake_restarts", [True, False])
def test_where_one_clock_was_set_back_only_the_first_stretch_is_used(tmp_path: Path, shake_restarts: bool) -> None:
    later = np.where(LONG_S > 40.0, LONG_S + 60.0, LONG_S)
    stamps = (half_way_from_0(LONG_S), later)
    shaken, driven = stamps if shake_restarts else stamps[::-1]
    reading = open_recording([
        long_shake(tmp_path / "shake.csv", shaken), speeds(tmp_path / "speed.csv", driven[::100]),
    ])  # fmt: skip
    assert reading.recording.speed is not None
    np.testing.assert_allclose(reading.recording.speed.time_s, np.arange(41.0), atol=1e-6)
    assert any("speed.csv: its clock and that of shake.csv were not set back alike" in line for line in reading.remarks)
