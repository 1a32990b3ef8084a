"""A wrong guess is one answer: columns by name, number, file or kind; units and the rate."""

from __future__ import annotations

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import open_recording

from .made_up import BROKEN, DATA, STANDARD_GRAVITY, TIME_S, X, Z, assert_is_the_shake, axis


def test_the_layout_shows_one_line_a_column() -> None:
    lines = open_recording(DATA / "semicolon_decimal_comma_g.csv").layout.lines()
    assert lines[0] == (
        "semicolon_decimal_comma_g.csv: CSV, columns parted by semicolons, decimal comma, header on line 1, "
        "first row on line 2"
    )
    assert len(lines) == 6
    assert lines[4].split() == [
        "4",
        "Beschleunigung",
        "Z",
        "[g]",
        "acceleration",
        "z,",
        "g",
        "(its",
        "name",
        "and",
        "unit)",
    ]


def test_one_answer_changes_one_column() -> None:
    reading = open_recording(DATA / "unknown_names.csv", columns={"ch3": "accel-x:m/s2", "2": "accel-z"})
    np.testing.assert_allclose(axis(reading.recording, "x"), Z, atol=1e-4)
    np.testing.assert_allclose(axis(reading.recording, "z"), X, atol=1e-4)


def test_an_answer_can_speak_of_one_file() -> None:
    files = [DATA / "comma_seconds_ms2.csv", DATA / "obd_and_engine.csv"]
    reading = open_recording(files, columns={"obd_and_engine.csv:2": "ignore"})
    assert reading.recording.speed is None
    assert reading.recording.engine is not None
    np.testing.assert_allclose(reading.recording.engine.rev_per_s[0], 2500 / 60)


def test_a_unit_for_all_columns_of_a_kind() -> None:
    reading = open_recording(BROKEN / "raw_counts.csv", columns={"accel": "g/16384"})
    np.testing.assert_allclose(axis(reading.recording, "z"), Z * 1670 / 16384 * STANDARD_GRAVITY, atol=1e-3)


def test_a_rate_stands_for_missing_stamps() -> None:
    with pytest.raises(InputError, match=r"no column of times.*rate=100"):
        open_recording(DATA / "no_time.csv")
    reading = open_recording(DATA / "no_time.csv", columns={"rate": "100 Hz"})
    assert_is_the_shake(reading)
    assert reading.layout.files[0].rate_hz == 100.0


def test_the_time_unit_can_be_said() -> None:
    reading = open_recording(DATA / "comma_seconds_ms2.csv", columns={"time_s": "time:ms"})
    np.testing.assert_allclose(reading.recording.time_s, TIME_S / 1000, atol=1e-9)


def test_the_place_is_kept() -> None:
    assert open_recording(DATA / "blanks.txt", place="seat-rail").recording.sensor_place == "seat-rail"


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ({"CH9": "accel-z:g"}, "CH9: no column is called so; there are time_s, ax_mps2, ay_mps2, az_mps2."),
        ({"ax_mps2": "up"}, "ax_mps2: 'up' is no role of a column; write time, date, accel-x"),
        ({"ax_mps2": "accel-x:furlong"}, "ax_mps2: 'furlong' is no unit of accel; write m/s2, g, mg."),
        ({"ax_mps2": "speed-x"}, "'speed-x' is no role"),
        ({"ax_mps2": "ignore:g"}, "'g' is no unit of ignore; write no unit."),
        ({"rate": "fast"}, "rate: 'fast' is no sample rate; write samples a second, such as 100."),
        ({"rate": "0"}, "'0' is no sample rate"),
    ],
)
def test_an_answer_that_cannot_be_meant(columns: dict[str, str], sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        open_recording(DATA / "comma_seconds_ms2.csv", columns=columns)
    assert sentence in str(caught.value)


def test_no_file_and_a_folder_and_a_missing_file() -> None:
    with pytest.raises(InputError, match="No file was named"):
        open_recording([])
    with pytest.raises(InputError, match="is no file"):
        open_recording(DATA)
    with pytest.raises(InputError, match="does not exist"):
        open_recording(DATA / "gone.csv")
