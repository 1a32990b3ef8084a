"""Whatever the bytes are: a recording, or one InputError; never a traceback, never a hang."""

from __future__ import annotations

import importlib
import importlib.util
import struct
import tempfile
from datetime import timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.open_recording import Reading, open_recording

from .made_up import BROKEN, DATA, Z, uff58_fields

QUICK = settings(
    max_examples=60, deadline=timedelta(seconds=5), suppress_health_check=list(HealthCheck), derandomize=True
)
SEEDS = sorted(p for folder in (DATA, BROKEN) for p in folder.iterdir() if p.is_file() and p.suffix != ".md")
WORDS = [
    *(b"time", b"ax", b"(g)", b",", b";", b"\t", b"\n", b"\r", b'"', b"1", b"0.5", b"1e999", b"nan", b"-", b"\0"),
    *(b"2024-05-01T12:00:00Z", b"12:00:00", b"9" * 50, b"#", b"ms", b"speed", b"1,5", b"    -1\n", b"    58\n"),
    *(b"$GPRMC,", b"<gpx>", b"<trkpt>", b"PAR1", b"\xc2\xb2", b"0001-01-01 00:00:00", b"99:99:99", b"-0", b"+.e1"),
    *(b"\x85", b"\xe2\x80\xa8", b"\xff\xfe"),
]


def opens_or_is_refused(data: bytes, **said: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.bin"
        path.write_bytes(data)
        said_to_person = ""
        try:
            reading: Reading | None = open_recording(path, columns=said)
        except InputError as error:
            said_to_person = str(error)
            reading = None
    if reading is None:
        assert "\n" not in said_to_person
        assert 0 < len(said_to_person) < 1000
        return
    recording = reading.recording
    assert recording.channels
    assert np.isfinite(recording.time_s).all()
    assert all("\n" not in line for line in reading.remarks)


@QUICK
@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    opens_or_is_refused(data)


@QUICK
@given(st.lists(st.sampled_from(WORDS), max_size=80))
def test_anything_like_a_table(words: list[bytes]) -> None:
    opens_or_is_refused(b"".join(words))


@settings(QUICK, max_examples=150)
@given(st.sampled_from(SEEDS), st.integers(0, 10_000), st.integers(0, 300), st.binary(max_size=40))
def test_damaged_files_of_every_form(seed: Path, at: int, cut: int, put: bytes) -> None:
    data = seed.read_bytes()
    at = min(at, len(data))
    opens_or_is_refused(data[:at] + put + data[at + cut :])


@settings(QUICK, max_examples=40)
@given(st.text(max_size=12), st.text(max_size=12))
def test_anything_said_about_columns(key: str, text: str) -> None:
    try:
        open_recording(DATA / "no_units_in_g.csv", columns={key: text})
    except InputError as error:
        assert str(error)  # noqa: PT017


@settings(QUICK, max_examples=40)
@given(st.integers(0, 2000), st.binary(min_size=1, max_size=8), st.integers(0, 2000))
@pytest.mark.parametrize("form", ["parquet", "wav", "uff", "mf4"])
def test_damaged_binary_files(form: str, at: int, put: bytes, length: int) -> None:
    data = _whole()[form]
    if not data:
        pytest.skip(f"no writer for {form} is installed")
    at %= len(data)
    opens_or_is_refused(data[:at] + put + data[at + len(put) :])
    opens_or_is_refused(data[: length % len(data)])


@cache
def _whole() -> dict[str, bytes]:
    """One sound file of each binary form, made here."""
    out = {"parquet": b"", "uff": b"", "mf4": b""}
    pcm = struct.pack("<200h", *(int(1000 * v) for v in Z))
    fmt = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, 100, 200, 2, 16)
    body = fmt + struct.pack("<4sI", b"data", len(pcm)) + pcm
    out["wav"] = struct.pack("<4sI4s", b"RIFF", 4 + len(body), b"WAVE") + body
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a"
        if importlib.util.find_spec("polars"):
            polars = importlib.import_module("polars")
            polars.DataFrame({"t_s": np.arange(200) * 0.01, "az_g": Z}).write_parquet(path)
            out["parquet"] = path.read_bytes()
        if importlib.util.find_spec("pyuff"):
            pyuff = importlib.import_module("pyuff")
            path = Path(folder) / "b"
            pyuff.UFF(str(path)).write_sets(pyuff.prepare_58(**uff58_fields(Z, 3)), "overwrite")
            out["uff"] = path.read_bytes()
        if importlib.util.find_spec("asammdf"):
            asammdf = importlib.import_module("asammdf")
            with asammdf.MDF(version="4.10") as file:
                file.append([asammdf.Signal(Z, np.arange(200) * 0.01, name="az", unit="g")])
                out["mf4"] = Path(file.save(Path(folder) / "c.mf4")).read_bytes()
    return out
