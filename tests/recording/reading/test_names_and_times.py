"""Names as loggers write them, units as people say them, dates against the standard library."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.faults import faults
from vibdiag.recording.reading.names import guess_by_name
from vibdiag.recording.reading.open_recording import open_recording
from vibdiag.recording.reading.time_stamps import guess_unit, seconds_from_text
from vibdiag.recording.reading.units import factor_to_si, known_unit
from vibdiag.recording.signal import Channel, Recording

NAMES = {
    "t_s": "time:s",
    "Time (s)": "time:s",
    "Time since start in ms ": "time:ms",
    "seconds_elapsed": "time:s",
    "Zeit": "time",
    "Date Time": "time",
    "date": "date",
    "ax_mps2": "accel-x:m/s2",
    "Acceleration z (m/s^2)": "accel-z:m/s2",
    "ACCELEROMETER X (m/s²)": "accel-x:m/s2",
    "acc_z[g]": "accel-z:g",
    "gFx": "accel-x:g",
    "Vertical (g)": "accel-z:g",
    "x [g]": "accel-x:g",
    "AccelY": "accel-y",
    "lat_acc": "accel-y",
    "Beschleunigung Z": "accel-z",
    "accelerationIncludingGravity X": "accel-x",
    "gz_radps": "gyro-z:rad/s",
    "GYROSCOPE X (rad/s)": "gyro-x:rad/s",
    "yaw rate (deg/s)": "gyro-z:deg/s",
    "rotation_rate_y": "gyro-y",
    "gnss_speed_mps": "speed:m/s",
    "LOCATION Speed ( Kmh)": "speed:km/h",
    "Wheel speed FL (km/h)": "speed:km/h",
    "v_kmh": "speed:km/h",
    "speed_ms": "speed:m/s",
    "Speed (mph)": "speed:mph",
    "Engine RPM (rpm)": "engine:rpm",
    "Motordrehzahl": "engine",
    "speed_accuracy": "ignore",
    "GRAVITY X (m/s²)": "ignore",
    "Absolute acceleration (m/s^2)": "ignore",
    "latitude": "ignore",
    "sample": "ignore",
    "CH1": "None",
    "": "None",
}


@pytest.mark.parametrize("name", NAMES)
def test_names(name: str) -> None:
    assert str(guess_by_name(name).role) == NAMES[name]


@given(st.text(max_size=30), st.text(max_size=10))
def test_any_name_is_taken(name: str, unit: str) -> None:
    guess_by_name(name, unit)


def test_factors_against_their_definitions() -> None:
    """Standard gravity (3rd CGPM, 1901), international mile (1959), nautical mile (1929): exact by definition."""
    assert factor_to_si("mg", "acceleration") == pytest.approx(9.80665e-3, rel=1e-15)
    assert factor_to_si("mph", "speed") == pytest.approx(1609.344 / 3600, rel=1e-15)
    assert factor_to_si("knots", "speed") == pytest.approx(1852 / 3600, rel=1e-15)
    assert factor_to_si("dps", "rotation") == pytest.approx(np.pi / 180, rel=1e-15)
    assert factor_to_si("1/min", "engine") == pytest.approx(1 / 60, rel=1e-15)
    with pytest.raises(ValueError, match="'furlong' is not a unit of speed known here; write one of m/s, km/h"):
        factor_to_si("furlong", "speed")


@given(st.text(max_size=12))
def test_any_unit_is_taken(text: str) -> None:
    unit = known_unit(text, "acceleration")
    assert unit is None or factor_to_si(text, "acceleration") > 0.0


@given(
    st.datetimes(datetime(1980, 1, 1), datetime(2100, 1, 1)),
    st.integers(-14 * 4, 14 * 4),
    st.sampled_from(
        ["%Y-%m-%dT%H:%M:%S.%f", "%Y/%m/%d %H:%M:%S.%f", "%d.%m.%Y %H:%M:%S.%f", "%m/%d/%Y %I:%M:%S.%f %p"]
    ),
)
def test_dates_against_the_standard_library(moment: datetime, quarters: int, form: str) -> None:
    offset = timedelta(minutes=15 * quarters)
    sign, size = ("-" if quarters < 0 else "+"), abs(int(offset.total_seconds())) // 60
    cells = [(moment + timedelta(seconds=i)).strftime(form) + f"{sign}{size // 60:02d}:{size % 60:02d}" for i in (0, 1)]
    clock = seconds_from_text(np.array([cell.encode() for cell in cells]))
    truth = (moment.replace(tzinfo=UTC) - offset).timestamp()
    np.testing.assert_allclose(clock.time_s, [truth, truth + 1.0], atol=2e-6, rtol=0.0)
    assert clock.absolute
    assert clock.zone_known


def test_a_date_that_does_not_exist_is_no_time() -> None:
    clock = seconds_from_text(np.array([b"01.05.2024 12:00:00", b"31.02.2024 12:00:00", b"", b"noon"]))
    assert np.isfinite(clock.time_s).tolist() == [True, False, False, False]


@pytest.mark.parametrize(("factor", "unit"), [(1.0, "s"), (1e3, "ms"), (1e6, "us"), (1e9, "ns")])
@pytest.mark.parametrize("rate_hz", [50.0, 104.0, 1600.0])
@pytest.mark.parametrize("since_boot_s", [0.0, 1500.0, 90_000.0])
def test_the_unit_of_elapsed_time(factor: float, unit: str, rate_hz: float, since_boot_s: float) -> None:
    stamps = (since_boot_s + np.arange(500) / rate_hz) * factor
    assert guess_unit(stamps, with_shake=True)[0] == unit


@pytest.mark.parametrize(("rate_hz", "with_shake"), [(1.0, False), (10.0, True), (100.0, True), (1600.0, True)])
def test_days_as_spreadsheets_count_them(rate_hz: float, with_shake: bool) -> None:
    # 1 January 2023 is day 44,927 of the 1900 date system of spreadsheets (ECMA-376 part 1, 18.17.4.1, from memory)
    stamps = 44_927.5 + np.arange(500) / rate_hz / 86_400.0
    assert guess_unit(stamps, with_shake=with_shake)[0] == "d"


@pytest.mark.parametrize(
    ("step", "unit", "rate_hz"), [(0.15625, "s", "6.4 Hz; if it is ms"), (1, "ms", "1000 Hz; if it is s")]
)
def test_steps_that_fit_two_units_are_told(tmp_path: Path, step: float, unit: str, rate_hz: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text("time,az_mps2\n" + "".join(f"{i * step:g},{9 + i % 7 / 3}\n" for i in range(100)))
    (told,) = open_recording(path).remarks
    assert f"taken as {unit} its rate is" in told
    assert rate_hz in told


def test_numbers_beyond_all_sense_are_no_readings(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "t_s,ax_g,ay_g,az_g\n" + "".join(f"{i / 100},0,{i % 3},{'1e200' if i == 5 else 1}\n" for i in range(50))
    )
    reading = open_recording(path)
    assert np.isnan(reading.recording.channels["az_g"].values[5])
    assert "az_g has no value in 1 of 50 rows." in reading.remarks


def test_a_dead_column_is_left_out_and_told(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("t_s,ax_g,az_mps2,speed_mps\n" + "".join(f"{i / 100},,{9 + i % 7 / 3},\n" for i in range(50)))
    reading = open_recording(path)
    assert list(reading.recording.channels) == ["az_mps2"]
    assert reading.recording.speed is None
    assert "a.csv: ax_g holds no number and was left out." in reading.remarks


def test_a_table_without_a_single_time_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("time,az_g\n" + "nan,1\n" * 20)
    with pytest.raises(InputError, match="holds no row with a time and a reading"):
        open_recording(path)


def test_a_sensor_that_stands_still_for_a_while_is_told() -> None:
    rng = np.random.default_rng(3)
    values = rng.normal(size=2000)
    values[500:1000] = values[500]
    recording = Recording(np.arange(2000) / 100, {"az": Channel(values, "m/s2", "z", "acceleration")})
    assert faults(recording) == (f"az stands still at {values[500]:.4g} m/s2 for 5.0 s from 5.0 s.",)


def test_both_ends_clipped_are_told_and_a_clean_sine_is_not() -> None:
    time_s = np.arange(2000) / 1000
    sine = 10.0 * np.sin(2 * np.pi * 7.3 * time_s)
    clean, cut = (Channel(v, "m/s2", "unknown", "acceleration") for v in (sine, np.clip(sine, -8.0, 8.0)))
    assert faults(Recording(time_s, {"a": clean})) == ()
    assert faults(Recording(time_s, {"a": cut})) == (
        "a is clipped at -8 and 8 m/s2; the sensor's range was too small.",
    )
