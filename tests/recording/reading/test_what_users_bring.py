"""Files as apps and people write them: what was said once, units that nobody wrote down or wrote wrong, odd exports."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.dropouts import dropouts
from vibdiag.recording.reading.names import guess_by_name
from vibdiag.recording.reading.open_recording import Reading, layout_of, open_recording
from vibdiag.recording.reading.roles import RoleKind
from vibdiag.recording.reading.table import need
from vibdiag.recording.signal import Recording

from .made_up import uff58_fields

ROWS = 2000
RATE_HZ = 100.0
TIME_S = np.arange(ROWS) / RATE_HZ
SHAKE = 0.4 * np.sin(2 * np.pi * 12 * TIME_S)
G_MS2 = 9.80665  # standard gravity, exact (3rd CGPM, 1901)


def written(folder: Path, header: str, columns: Sequence[np.ndarray], *, name: str = "drive.csv") -> Path:
    path = folder / name
    rows = "\n".join(",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True))
    path.write_text((header + "\n" if header else "") + rows + "\n", encoding="utf-8")
    return path


def felt(folder: Path, *, header: str = "time_s,ax,ay,az,speed", speed: float = 25.0, scale: float = 1.0) -> Path:
    held = np.full(ROWS, speed) + 0.01 * np.arange(ROWS) % 1
    return written(folder, header, (TIME_S, SHAKE * scale, SHAKE * scale / 2, (G_MS2 + SHAKE) * scale, held))


def kinds(reading: Reading) -> list[RoleKind]:
    return [choice.role.kind for choice in reading.layout.files[0].columns]


def peak(recording: Recording, axis: str = "x") -> float:
    (values,) = [c.values for c in recording.channels_of("acceleration").values() if c.axis == axis]
    return float(np.max(np.abs(values)))


@pytest.mark.parametrize(("key", "unit"), [("speed", "mph"), ("speed", "km/h"), ("accel", "g"), ("time", "ms")])
def test_the_advice_on_a_unit_is_understood_where_a_column_is_called_so(tmp_path: Path, key: str, unit: str) -> None:
    path = written(tmp_path, "time,accel,speed", (TIME_S, SHAKE, np.full(ROWS, 40.0)))
    (said,) = [c.role.unit for c in open_recording(path, columns={key: unit}).layout.files[0].columns if c.name == key]
    assert said == unit


def test_a_role_of_a_column_called_like_a_kind_is_still_a_role(tmp_path: Path) -> None:
    path = written(tmp_path, "time,accel,speed", (TIME_S, SHAKE, np.full(ROWS, 40.0)))
    assert kinds(open_recording(path, columns={"speed": "ignore"})) == ["time", "accel", "ignore"]


def test_an_answer_about_one_column_leaves_the_others_as_they_were(tmp_path: Path) -> None:
    path = felt(tmp_path, header="")
    plain = open_recording(path)
    assert kinds(plain) == ["time", "accel", "accel", "accel", "ignore"]
    assert "drive.csv: column 5: it may be a speed; if so, say 5=speed:km/h." in plain.remarks
    told = open_recording(path, columns={"5": "speed:km/h"})
    assert kinds(told) == ["time", "accel", "accel", "accel", "speed"]
    assert told.recording.speed is not None
    np.testing.assert_allclose(told.recording.speed.speed_ms.min(), 25 / 3.6, rtol=1e-6)
    turned = open_recording(path, columns={"2": "accel-z:m/s2"})
    assert [c.role.axis for c in turned.layout.files[0].columns] == ["", "z", "y", "z", ""]


def test_readings_in_g_under_a_header_of_ms2_are_taken_as_g_and_it_is_said(tmp_path: Path) -> None:
    reading = open_recording(felt(tmp_path, header="time_s,ax_m/s2,ay_m/s2,az_m/s2,speed_km/h", scale=1 / G_MS2))
    assert peak(reading.recording) == pytest.approx(0.4, rel=0.01)
    assert any("says m/s2, but gravity shows as 1, so it is taken as g" in remark for remark in reading.remarks)
    assert reading.recording.unit_doubt == ""


def test_a_pull_away_without_gravity_is_not_taken_for_g(tmp_path: Path) -> None:
    """20 s from a standstill to 72 km/h have a mean of 1 m/s2; on the road such a drive also shakes."""
    rough = np.random.default_rng(3).normal(0.0, 0.5, (3, ROWS))
    path = written(tmp_path, "time_s,ax_m/s2,ay_m/s2,az_m/s2", (TIME_S, rough[0] + 1.0, rough[1], rough[2]))
    reading = open_recording(path)
    assert peak(reading.recording) < 4.0
    assert "would fit g" in reading.recording.unit_doubt


def test_a_unit_that_nothing_shows_is_in_doubt_until_it_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, "time_s,ax,ay,az", (TIME_S, SHAKE, SHAKE / 2, SHAKE / 3))
    assert "if it is g, say accel=g" in open_recording(path).recording.unit_doubt
    assert open_recording(path, columns={"accel": "g"}).recording.unit_doubt == ""


@pytest.mark.parametrize(
    ("top", "unit"), [(30.0, "m/s"), (44.0, "m/s"), (50.0, "km/h"), (68.0, "km/h"), (110.0, "km/h")]
)
def test_a_speed_without_a_unit(tmp_path: Path, top: float, unit: str) -> None:
    """A road test at 50 m/s would be one at 180 km/h."""
    reading = open_recording(felt(tmp_path, speed=top - 1.0))
    assert reading.layout.files[0].columns[4].role.unit == unit
    (doubt,) = [remark for remark in reading.remarks if "no unit is given" in remark]
    assert all(f"speed={other}" in doubt for other in {"m/s", "km/h", "mph", "kn"} - {unit})


@pytest.mark.parametrize(("header", "per_turn"), [("wheel speed (rpm)", 60.0), ("wheel_speed_rad/s", 2 * np.pi)])
def test_turns_of_a_wheel_are_a_speed(tmp_path: Path, header: str, per_turn: float) -> None:
    path = felt(tmp_path, header=f"time_s,ax,ay,az,{header}", speed=13.0 * per_turn)
    track = open_recording(path).recording.speed
    assert track is not None
    assert track.turn_m is not None
    assert track.speed_ms.min() / track.turn_m == pytest.approx(13.0)
    assert track.source == "wheel-speed"


def test_turns_without_a_wheel_are_the_engines() -> None:
    assert str(guess_by_name("Speed (rpm)").role) == "engine:rpm"
    assert str(guess_by_name("CH4 (rpm)").role) == "engine:rpm"
    assert str(guess_by_name("CH4 (rad/s)").role) == "gyro:rad/s"


def test_dropouts_to_zero_are_left_out_and_told(tmp_path: Path) -> None:
    speed = np.where((np.arange(ROWS) // 100) % 7 == 3, 0.0, 100.0 + np.arange(ROWS) / 1000)
    path = written(tmp_path, "time_s,ax,ay,az,gps_speed_km/h", (TIME_S, SHAKE, SHAKE, G_MS2 + SHAKE, speed))
    reading = open_recording(path)
    assert reading.recording.speed is not None
    assert reading.recording.speed.speed_ms.min() > 27.0
    assert any("fall away to 0 between fast ones" in remark for remark in reading.remarks)


def test_a_stop_is_no_dropout() -> None:
    time_s = np.arange(0.0, 60.0)
    braked = np.clip(np.abs(time_s - 30.0) * 3.0 - 15.0, 0.0, 30.0)  # 3 m/s2 to a standstill of ten seconds, and off
    assert not dropouts(time_s, braked).any()
    assert dropouts(time_s, np.where(np.arange(60) % 20 == 7, 83.0, 28.0)).sum() == 3
    assert not dropouts(time_s, np.where(np.arange(60) % 2 == 0, 0.0, 28.0)).all()


def test_a_finer_clock_without_a_telling_name_is_found(tmp_path: Path) -> None:
    uptime = 5e12 + TIME_S * 1e9
    path = tmp_path / "drive.csv"
    rows = [f"{1_700_000_000 + i // 100},{uptime[i]:.0f},{SHAKE[i]:.4f},{9.8 + SHAKE[i]:.4f}" for i in range(ROWS)]
    for name in ("uptimeNanos", "Q7"):
        path.write_text(f"timestamp,{name},ax_m/s2,az_m/s2\n" + "\n".join(rows) + "\n")
        reading = open_recording(path)
        np.testing.assert_allclose(np.diff(reading.recording.time_s), 0.01, atol=1e-6)
        assert not any("spread" in remark for remark in reading.remarks)


def test_a_counter_is_no_finer_clock(tmp_path: Path) -> None:
    path = tmp_path / "drive.csv"
    rows = [f"{1_700_000_000 + i // 100},{7 * i},{SHAKE[i]:.4f},{9.8 + SHAKE[i]:.4f}" for i in range(ROWS)]
    path.write_text("timestamp,Q7,ax_m/s2,az_m/s2\n" + "\n".join(rows) + "\n")
    assert any("spread evenly" in remark for remark in open_recording(path).remarks)


def test_a_row_number_asks_for_the_rate(tmp_path: Path) -> None:
    path = written(tmp_path, ",ax,ay,az", (np.arange(ROWS), SHAKE, SHAKE, G_MS2 + SHAKE))
    with pytest.raises(InputError, match=r"column 1 only numbers the rows; say the rate \(rate=100\)"):
        open_recording(path)
    reading = open_recording(path, columns={"rate": "100"})
    assert kinds(reading) == ["ignore", "accel", "accel", "accel"]
    assert open_recording(path, columns={"1": "time:ms"}).recording.duration_s == pytest.approx(1.999)


def test_seconds_that_are_milliseconds(tmp_path: Path) -> None:
    path = written(tmp_path, "time_s,ax,ay,az", (TIME_S * 1000, SHAKE, SHAKE, G_MS2 + SHAKE))
    reading = open_recording(path)
    assert reading.recording.duration_s == pytest.approx(19.99)
    assert any("its name says s" in remark and "taken as ms" in remark for remark in reading.remarks)
    assert open_recording(path, columns={"time": "s"}).recording.duration_s == pytest.approx(19990)


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("accelerometerTimestamp_sinceReboot(s)", "time:s"),
        ("gyroTimestamp_sinceReboot(s)", "time:s"),
        ("accel(s)", "time:s"),
        ("G(x)", "accel-x:g"),
        ("G(calibrated)", "ignore"),
        ("G (m/s2)", "accel:m/s2"),
        ("GPS Speed (Meters/second)", "speed:m/s"),
        ("Speed (OBD)(km/h)", "speed:km/h"),
        ("speed_timestamp", "time"),
        ("加速度x(m/s^2)", "accel-x:m/s2"),
    ],
)
def test_names_of_apps(name: str, role: str) -> None:
    assert str(guess_by_name(name).role) == role


@pytest.mark.parametrize("name", ["Gyroscope.csv", "giroscopio.csv"])
def test_bare_axes_are_what_the_file_is_called(tmp_path: Path, name: str) -> None:
    path = written(tmp_path, "time,x,y,z", (TIME_S, SHAKE / 10, SHAKE / 20, SHAKE / 30), name=name)
    recording = open_recording(path).recording
    assert {channel.kind for channel in recording.channels.values()} == {"rotation"}
    assert [channel.axis for channel in recording.channels.values()] == ["x", "y", "z"]


def test_the_export_of_a_socket_app(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    head = "GPS Time,Device Time, Longitude,GPS Speed (Meters/second), G(x), G(y), G(z), G(calibrated)"
    rows = [
        f"Sun Feb 11 09:00:{i // 100:02d} GMT+01:00 2024,11-Feb-2024 09:00:{i // 100:02d}.{i % 100:02d}0,-80.1,25,"
        f"{SHAKE[i] / G_MS2:.4f},{SHAKE[i] / G_MS2:.4f},{1 + SHAKE[i] / G_MS2:.4f},0.01"
        for i in range(ROWS)
    ]
    path.write_text(head + "\n" + "\n".join(rows) + "\n")
    reading = open_recording(path)
    np.testing.assert_allclose(reading.recording.time_s, TIME_S, atol=1e-6)
    assert list(reading.recording.channels) == ["G(x)", "G(y)", "G(z)"]
    assert peak(reading.recording) == pytest.approx(0.4, abs=0.01)


def test_a_log_of_one_reading_a_row_is_refused_with_what_to_export(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    rows = "\n".join(f'"{i / 100}";"Acc X";"{SHAKE[i]:.3f}";"m/s2";' for i in range(ROWS))
    path.write_text('"SECONDS";"PID";"VALUE";"UNITS";\n' + rows + "\n")
    with pytest.raises(InputError, match="one reading a row, named by PID with its number in VALUE; export it as"):
        open_recording(path)


def test_the_layout_is_known_where_the_recording_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "ax,ay,az", (SHAKE, SHAKE, G_MS2 + SHAKE))
    layout, problem = layout_of([path])
    assert [choice.role.axis for choice in layout.files[0].columns] == ["x", "y", "z"]
    assert problem is not None
    assert "no column of times" in str(problem)
    speed = written(tmp_path, "time_s,speed_km/h", (TIME_S, 90 + SHAKE), name="speed.csv")
    layout, problem = layout_of([speed])
    assert [choice.role.kind for choice in layout.files[0].columns] == ["time", "speed"]
    assert "no acceleration or rotation" in str(problem)


def test_a_decimal_comma_between_commas_where_the_speed_is_sparse(tmp_path: Path) -> None:
    path = tmp_path / "comma.csv"
    rows = [f"0,{i:03d},0,1{i % 7},9,8{i % 3}," + (f"25,{i % 9}" if i % 10 == 0 else "") for i in range(300)]
    path.write_text("time_s,ax,az,speed\n" + "\n".join(rows) + "\n")
    with pytest.raises(InputError, match="the comma is both separator and decimal mark"):
        open_recording(path)


def test_a_line_of_a_million_cells(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(",".join(f"c{i}" for i in range(100_000)) + "\n" + ",".join(["1.5"] * 100_000) + "\n")
    with pytest.raises(InputError, match="no table of at most 2000 columns"):
        open_recording(path)


def test_a_file_named_twice_is_read_once(tmp_path: Path) -> None:
    path = felt(tmp_path)
    reading = open_recording([path, path])
    assert len(reading.recording.channels) == 3
    assert "drive.csv: named more than once; read once." in reading.remarks


def test_a_missing_reader_is_asked_for_by_our_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.import_module", _missing)
    with pytest.raises(InputError, match=r"install it \(pip install 'vibdiag\[uff\]'\) or export it"):
        need("pyuff", package="pyuff", form="UFF58", instead="export it", file="a.uff", extra="uff")


def _missing(name: str) -> None:
    raise ImportError(name)


def test_a_microphone_in_data_set_58_is_no_acceleration(tmp_path: Path) -> None:
    pyuff = pytest.importorskip("pyuff")
    path = tmp_path / "both.uff"
    seat = uff58_fields(np.sin(np.arange(200.0)), 3)
    sound = {
        **uff58_fields(np.cos(np.arange(200.0)), 0),
        "ordinate_spec_data_type": 15,
        "ordinate_axis_units_lab": "Pa",
    }
    pyuff.UFF(str(path)).write_sets([{"type": 58, **seat}, {"type": 58, **sound}], mode="overwrite")
    reading = open_recording(path)
    assert len(reading.recording.channels) == 1
    assert any("data set 2 is a pressure, no acceleration" in remark for remark in reading.remarks)
