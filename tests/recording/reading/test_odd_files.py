"""Files of the data folder, each odd in the way its name says: read right, and told what is wrong in one line."""

from __future__ import annotations

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import open_recording

from .made_up import BROKEN, DATA, TIME_S, X, Z, assert_is_the_shake, axis

WHOLE = [
    "comma_seconds_ms2.csv",
    "semicolon_decimal_comma_g.csv",
    "tab_epoch_ms.txt",
    "iso_zone.csv",
    "no_header.csv",
    "preamble_units_row.csv",
    "blanks.txt",
    "utf16.csv",
    "date_and_clock_midnight.csv",
    "clock_midnight.csv",
    "no_units_in_g.csv",
    "unknown_names.csv",
    "two_accelerations.csv",
]
TOLD = {
    "gap.csv": ["1 gap in time, 0.40 s in all, the longest 0.41 s."],
    "duplicates.csv": ["2 stamps are the same as the one before."],
    "out_of_order.csv": ["The stamps run backwards once; the rows are not in order of time."],
    "clipped.csv": ["az_mps2 is clipped at 10 m/s2; the sensor's range was too small."],
    "stuck_axis.csv": ["ax_mps2 is stuck at 0.0123 m/s2 all the time; the sensor or its column is dead."],
    "damaged_lines.csv": [
        "damaged_lines.csv:22: 4 lines left out, being no row of 4 cells with numbers.",
        "damaged_lines.csv:24: ay_mps2 holds no number in 1 line.",
        "ay_mps2 has no value in 1 of 198 rows.",
    ],
    "gravity_removed_no_units.csv": [
        "gravity_removed_no_units.csv: ax, ay, az: neither a unit nor gravity shows what it is in; "
        "if it is g, say accel=g.",
        "Gravity was taken out before recording; how the sensor sat cannot be checked.",
    ],
    "no_header.csv": ["no_header.csv: column 2, column 3, column 4: only its place says so."],
    "unknown_names.csv": [
        "unknown_names.csv: CH1, CH2, CH3: only its place says so.",
        "unknown_names.csv: V: no unit is given; if it is km/h, mph or kn, say speed=km/h, speed=mph or speed=kn.",
    ],
}
REFUSED = {
    "empty.csv": "is empty",
    "only_zeros.bin": "is empty",
    "words.csv": "no line with a number",
    "header_only.csv": "no line with a number",
    "comma_is_both.csv": "comma_is_both.csv:2:1: has 4 names but 8 cells in a row",
    "raw_counts.csv": "ax: has no unit, and its average of 16382 looks like counts",
    "speed_only.csv": "no acceleration or rotation, only speed",
    "spreadsheet.csv": "is a zip archive or a spreadsheet; unpack it, or save the sheet as CSV",
    "noise.bin": "is no recording of a form known here",
    "cut.parquet": "Parquet",
    "cut.wav": "cannot be read as WAV",
    "cut.mf4": "MF4",
    "cut.uff": "universal file",
    "cut.gpx": "cut.gpx:2:89: is cut off or broken here",
    "planned.gpx": "holds no times",
    "entities.gpx": "document type",
    "no_fix.nmea": "no sound RMC sentence",
}


@pytest.mark.parametrize("name", WHOLE)
def test_the_shake_reads_back(name: str) -> None:
    assert_is_the_shake(open_recording(DATA / name))


@pytest.mark.parametrize("name", TOLD)
def test_what_is_wrong_is_said_in_one_line_each(name: str) -> None:
    reading = open_recording(DATA / name)
    assert list(reading.remarks) == TOLD[name]
    assert reading.remarks[: len(reading.recording.notes)] == reading.recording.notes


@pytest.mark.parametrize("name", set(WHOLE) - set(TOLD))
def test_a_sound_file_gives_no_remark(name: str) -> None:
    assert open_recording(DATA / name).remarks == ()


@pytest.mark.parametrize("name", REFUSED)
def test_a_broken_file_is_refused_in_one_sentence(name: str) -> None:
    with pytest.raises(InputError) as caught:
        open_recording(BROKEN / name)
    said = str(caught.value)
    assert said.startswith(name)
    assert REFUSED[name] in said
    assert "\n" not in said


def test_no_broken_file_is_forgotten() -> None:
    assert {path.name for path in BROKEN.iterdir()} == set(REFUSED)


def test_jitter_is_measured() -> None:
    (backwards, jitter) = open_recording(DATA / "jitter.csv").remarks
    assert "backwards" in backwards
    assert jitter.startswith("Stamps jitter by ")  # made with a standard deviation of 3 ms a stamp, so 4.2 ms a step
    assert 3.0 < float(jitter.split()[3]) < 5.5


def test_preamble_units_row_and_speed() -> None:
    reading = open_recording(DATA / "preamble_units_row.csv")
    (file,) = reading.layout.files
    assert file.dialect is not None
    assert (file.dialect.header_line, file.dialect.units_line, file.dialect.first_line) == (4, 5, 6)
    assert reading.recording.speed is not None
    np.testing.assert_allclose(reading.recording.speed.speed_ms, (80.0 + TIME_S) / 3.6, atol=0.01)


def test_sparse_speed_keeps_its_own_stamps() -> None:
    speed = open_recording(DATA / "iso_zone.csv").recording.speed
    assert speed is not None
    np.testing.assert_allclose(speed.time_s, [0.0, 1.0], atol=1e-6)
    np.testing.assert_allclose(speed.speed_ms, 60 * 0.44704)  # the mile an hour is 0.44704 m/s exactly
    assert speed.source == "gps"


def test_sensors_in_alternate_rows_come_onto_one_clock() -> None:
    recording = open_recording(DATA / "interleaved_sensors.csv").recording
    np.testing.assert_allclose(axis(recording, "x"), X, atol=1e-4)
    gyro = recording.channels["gx_radps"].values
    truth = 0.01 * np.sin(np.arange(200))
    between = truth[:-1] + 0.7 * np.diff(truth)  # a gyro stamp is 3 ms after the row before: 7 of 10 ms to the next
    np.testing.assert_allclose(gyro[1:], between, atol=1e-4)
    assert np.isnan(gyro[0])


def test_quoted_cells_with_decimal_commas() -> None:
    recording = open_recording(DATA / "quoted_decimal_comma.csv").recording
    np.testing.assert_allclose(recording.time_s, TIME_S, atol=1e-6)
    np.testing.assert_allclose(axis(recording, "z"), Z, atol=1e-4)


def test_linear_acceleration_and_gravity_are_left_out_for_the_whole_one() -> None:
    (file,) = open_recording(DATA / "two_accelerations.csv").layout.files
    used = [choice.name for choice in file.columns if choice.role.kind != "ignore"]
    assert used == ["time_s", "Acceleration x (m/s²)", "Acceleration y (m/s²)", "Acceleration z (m/s²)"]
