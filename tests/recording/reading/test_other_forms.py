"""Parquet, WAV, UFF58, MF4, GPX, NMEA: written by an independent library or by hand, read back as the same numbers."""

from __future__ import annotations

import struct
import sys
import wave
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.gpx import read_gpx
from vibdiag.recording.reading.nmea import read_nmea
from vibdiag.recording.reading.open_recording import open_recording

from .made_up import DATA, STANDARD_GRAVITY, TIME_S, X, Y, Z, assert_is_the_shake, axis, uff58_fields

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC).timestamp()


def test_parquet_with_an_instant_as_time(tmp_path: Path) -> None:
    arrow = pytest.importorskip("pyarrow")
    pytest.importorskip("polars")
    parquet = pytest.importorskip("pyarrow.parquet")
    instants = ((NOON + TIME_S) * 1e6).round().astype("datetime64[us]")
    columns = {"time": instants, "acc_x_g": X / STANDARD_GRAVITY, "acc_y_g": Y / STANDARD_GRAVITY}
    table = arrow.table({**columns, "acc_z_g": Z / STANDARD_GRAVITY, "note": ["made up"] * TIME_S.size})
    parquet.write_table(table, tmp_path / "a.parquet")
    assert_is_the_shake(open_recording(tmp_path / "a.parquet"), tolerance=1e-9)


def test_parquet_with_missing_values(tmp_path: Path) -> None:
    polars = pytest.importorskip("polars")
    speed = [25.0 if i % 100 == 0 else None for i in range(TIME_S.size)]
    frame = polars.DataFrame({"t_s": TIME_S, "az_mps2": Z.astype(np.float32), "speed_mps": speed})
    frame.write_parquet(tmp_path / "a.bin")  # the name does not matter
    recording = open_recording(tmp_path / "a.bin").recording
    np.testing.assert_allclose(axis(recording, "z"), Z, atol=1e-6)
    assert recording.speed is not None
    assert recording.speed.time_s.tolist() == [0.0, 1.0]


def write_wav(path: Path, width: int) -> None:
    """Three channels, full scale 2 g, through the standard library."""
    full = 2.0 * STANDARD_GRAVITY
    counts = np.round(np.stack([X, Y, Z], axis=1) / full * 2 ** (8 * width - 1)).astype("<i4")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(3)
        file.setsampwidth(width)
        file.setframerate(100)
        file.writeframes(counts.astype("<i4").view("u1").reshape(-1, 4)[:, :width].tobytes())


@pytest.mark.parametrize("width", [2, 3, 4])
def test_wav_by_its_full_scale(tmp_path: Path, width: int) -> None:
    pytest.importorskip("scipy")
    write_wav(tmp_path / "a.wav", width)
    assert_is_the_shake(open_recording(tmp_path / "a.wav", columns={"accel": "g*2"}), tolerance=1e-3)


def test_wav_without_a_word_about_its_full_scale_says_so(tmp_path: Path) -> None:
    pytest.importorskip("scipy")
    write_wav(tmp_path / "a.wav", 2)
    reading = open_recording(tmp_path / "a.wav")
    np.testing.assert_allclose(axis(reading.recording, "z"), Z / 2, atol=1e-3)
    assert "WAV gives no unit, so full scale is taken as 1 g" in reading.remarks[0]


def uff_set(tmp_path: Path, name: str, **changes: Any) -> Path:
    pyuff = pytest.importorskip("pyuff")
    file = pyuff.UFF(str(tmp_path / name))
    for direction, values in ((1, X), (2, Y), (-3, -Z)):
        file.write_sets(pyuff.prepare_58(**{**uff58_fields(values, direction), **changes}), "add")
    return tmp_path / name


def test_uff58_ascii_round_trip(tmp_path: Path) -> None:
    assert_is_the_shake(open_recording(uff_set(tmp_path, "a.uff")), tolerance=1e-9)


def test_uff58_that_is_no_recording_over_time(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no recording over time"):
        open_recording(uff_set(tmp_path, "a.uff", func_type=4))


def binary_uff(path: Path, samples: bytes, announced: int) -> Path:
    """A data set 58b by hand, as the format's description lays it out: little-endian IEEE doubles."""
    header = [
        f"{'':4}-1",
        f"{58:6}b{1:6}{2:6}{11:12}{len(samples):12}{0:6}{0:6}{0:12}{0:12}",
        *(f"{text:80}" for text in ("seat rail", "NONE", "NONE", "NONE", "NONE")),
        f"{1:5}{0:10}{0:5}{0:10} {'NONE':10}{4:10}{3:4} {'NONE':10}{1:10}{0:4}",
        f"{4:10}{announced:10}{1:10}{0.0:13.5e}{0.01:13.5e}{0.0:13.5e}",
        f"{17:10}{0:5}{0:5}{0:5} {'NONE':20} {'s':20}",
        f"{12:10}{0:5}{0:5}{0:5} {'NONE':20} {'m/s^2':20}",
        f"{0:10}{0:5}{0:5}{0:5} {'NONE':20} {'NONE':20}",
        f"{0:10}{0:5}{0:5}{0:5} {'NONE':20} {'NONE':20}",
    ]
    path.write_bytes("\n".join(header).encode() + b"\n" + samples + b"\n    -1\n")
    return path


def test_uff58_binary(tmp_path: Path) -> None:
    pytest.importorskip("pyuff")
    path = binary_uff(tmp_path / "a.uff", struct.pack(f"<{Z.size}d", *Z), Z.size)
    np.testing.assert_array_equal(axis(open_recording(path).recording, "z"), Z)


def test_uff58_binary_that_reads_back_empty_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("pyuff")
    path = binary_uff(tmp_path / "a.uff", b"", Z.size)
    with pytest.raises(InputError, match="announces 200 samples but 0 could be read; export it as an ASCII"):
        open_recording(path)


def test_mf4_with_two_clocks(tmp_path: Path) -> None:
    asammdf = pytest.importorskip("asammdf")
    slow_s = np.arange(0.0, 2.0, 0.1)
    with asammdf.MDF(version="4.10") as file:
        shake = {"acc_x": (X, "g"), "acc_y": (Y, "g"), "acc_z": (Z, "g")}
        file.append(
            [asammdf.Signal(v / STANDARD_GRAVITY, TIME_S, name=name, unit=unit) for name, (v, unit) in shake.items()],
            common_timebase=True,
        )
        speed = asammdf.Signal(90.0 + slow_s, slow_s, name="VehicleSpeed", unit="km/h")
        engine = asammdf.Signal(2400 + 10 * slow_s, slow_s, name="EngineSpeed", unit="rpm")
        file.append([speed, engine], common_timebase=True)
        file.save(tmp_path / "a.mf4")
    reading = open_recording(tmp_path / "a.mf4")
    assert_is_the_shake(reading, tolerance=1e-6)
    recording = reading.recording
    assert recording.speed is not None
    assert recording.engine is not None
    assert recording.speed.source == "obd"
    np.testing.assert_allclose(recording.speed.time_s, slow_s, atol=1e-6)
    np.testing.assert_allclose(recording.speed.speed_ms, (90.0 + slow_s) / 3.6)
    np.testing.assert_allclose(recording.engine.rev_per_s, (2400 + 10 * slow_s) / 60)


@pytest.mark.parametrize("name", ["speed.gpx", "positions.gpx"])
def test_gpx_against_an_independent_parser(name: str) -> None:
    gpxpy = pytest.importorskip("gpxpy")
    with (DATA / name).open() as file:
        points = gpxpy.parse(file).tracks[0].segments[0].points
    (table,) = read_gpx(DATA / name, name)
    time_s, speed_ms = (column.numbers for column in table.columns)
    stamps = np.array([point.time.timestamp() for point in points])
    if points[0].speed is not None:
        np.testing.assert_allclose(time_s, stamps)
        np.testing.assert_allclose(speed_ms, [point.speed for point in points])
    else:
        np.testing.assert_allclose(time_s, (stamps[1:] + stamps[:-1]) / 2)
        by_library = [two.speed_between(one) for one, two in pairwise(points)]
        np.testing.assert_allclose(speed_ms, by_library, rtol=0.005)  # spheres of other radii


def test_nmea_against_an_independent_parser() -> None:
    pynmea2 = pytest.importorskip("pynmea2")
    (table,) = read_nmea(DATA / "rmc.nmea", "rmc.nmea")
    sentences = []
    for line in (DATA / "rmc.nmea").read_text().splitlines():
        try:
            sentences.append(pynmea2.parse(line, check=True))
        except pynmea2.ChecksumError:
            continue
    rmc = [s for s in sentences if s.sentence_type == "RMC"]
    np.testing.assert_allclose(table.columns[0].numbers, [s.datetime.timestamp() for s in rmc])
    np.testing.assert_allclose(table.columns[1].numbers, [s.spd_over_grnd * 1852 / 3600 for s in rmc])
    assert table.remarks == ("rmc.nmea: 1 damaged sentence left out.",)


def test_nmea_speed_from_vtg() -> None:
    (table,) = read_nmea(DATA / "vtg_only.nmea", "vtg_only.nmea")
    np.testing.assert_allclose(table.columns[0].numbers, 12 * 3600 + np.arange(5.0))
    np.testing.assert_allclose(table.columns[1].numbers, np.arange(50, 55) * 1852 / 3600, atol=1e-3)


@pytest.mark.parametrize(
    ("module", "head"),
    [
        ("polars", b"PAR1" + b"\1" * 60),
        ("asammdf", b"MDF     4.10    " + b"\0" * 200),
        ("pyuff", b"    -1\n    58\n"),
        ("scipy.io.wavfile", b"RIFF\x24\0\0\0WAVEfmt "),
    ],
)
def test_a_missing_reader_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, module: str, head: bytes
) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    (tmp_path / "a.dat").write_bytes(head)
    package = module.split(".")[0]
    with pytest.raises(InputError, match=rf"needs the Python package {package}, which is not installed.*CSV"):
        open_recording(tmp_path / "a.dat")
