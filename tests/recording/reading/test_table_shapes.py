"""One shake written in every common shape of a text table must read back as the same numbers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from vibdiag.recording.reading.open_recording import open_recording

from .made_up import STANDARD_GRAVITY, TIME_S, X, Y, Z, assert_is_the_shake

START = datetime(2024, 5, 1, 12, tzinfo=UTC)
TIMES: dict[str, tuple[str, Callable[[float], str]]] = {
    "seconds": ("time (s)", lambda t: f"{t:.3f}"),
    "seconds without unit": ("time", lambda t: f"{t:.3f}"),
    "milliseconds": ("time [ms]", lambda t: f"{1000 * t:.0f}"),
    "milliseconds without unit": ("time", lambda t: f"{1000 * t:.0f}"),
    "microseconds without unit": ("timestamp", lambda t: f"{1e6 * t:.0f}"),
    "nanoseconds without unit": ("timestamp", lambda t: f"{1e9 * t:.0f}"),
    "nanoseconds since boot": ("timestamp", lambda t: f"{2.5e12 + 1e9 * t:.0f}"),
    "epoch seconds": ("time", lambda t: f"{START.timestamp() + t:.3f}"),
    "epoch milliseconds": ("time", lambda t: f"{1000 * (START.timestamp() + t):.0f}"),
    "epoch nanoseconds": ("time", lambda t: f"{int(START.timestamp()) * 10**9 + round(t * 1e9)}"),
    "ISO with Z": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")),
    "ISO with a blank": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%Y-%m-%d %H:%M:%S.%f")),
    "ISO with offset": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%Y-%m-%dT%H:%M:%S.%f-05:30")),
    "ISO without trailing zeros": ("time", lambda t: (START + timedelta(seconds=t)).isoformat()),
    "day first": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%d.%m.%Y %H:%M:%S.%f")),
    "month first, afternoon": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%m/%d/%Y %I:%M:%S.%f %p")),
    "time of day": ("time", lambda t: (START + timedelta(seconds=t)).strftime("%H:%M:%S.%f")),
}


def table(
    *,
    delimiter: str = ",",
    decimal: str = ".",
    time: str = "seconds",
    unit: str = "m/s2",
    header: bool = True,
    newline: str = "\n",
    last_newline: bool = True,
) -> str:
    name, write = TIMES[time]
    factor = STANDARD_GRAVITY if unit == "g" else 1.0
    lines = [delimiter.join([name, *(f"acc {a} ({unit})" if unit else f"acc {a}" for a in "xyz")])] if header else []
    for t, *values in zip(TIME_S, X, Y, Z, strict=True):
        cells = [write(float(t)), *(f"{v / factor:.6f}" for v in values)]
        if "." in cells[0] and decimal == "," and ":" not in cells[0]:
            cells[0] = cells[0].replace(".", ",")
        lines.append(delimiter.join([cells[0], *(c.replace(".", decimal) for c in cells[1:])]))
    return newline.join(lines) + (newline if last_newline else "")


@pytest.mark.parametrize("time", TIMES)
@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", ","), ("\t", ".")])
def test_every_way_to_write_time(tmp_path: Path, time: str, delimiter: str, decimal: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(time=time, delimiter=delimiter, decimal=decimal))
    assert_is_the_shake(open_recording(path), tolerance=1e-5)


@pytest.mark.parametrize(("delimiter", "decimal"), [(d, m) for d in ",;\t|" for m in ".," if d != m])
@pytest.mark.parametrize("unit", ["g", "m/s2", "m/s²", "m/s^2", ""])
@pytest.mark.parametrize("header", [True, False])
def test_every_separator_decimal_mark_and_unit(
    tmp_path: Path, delimiter: str, decimal: str, unit: str, header: bool
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(delimiter=delimiter, decimal=decimal, unit=unit, header=header), encoding="utf-8")
    assert_is_the_shake(open_recording(path), tolerance=1e-5)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last_newline", [True, False])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, newline: str, last_newline: bool) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(table(unit="m/s²", newline=newline, last_newline=last_newline).encode(encoding))
    assert_is_the_shake(open_recording(path), tolerance=1e-5)


@pytest.mark.parametrize("unit", ["g", ""])
def test_a_table_in_g_without_a_unit_is_known_by_gravity(tmp_path: Path, unit: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(unit="g").replace(" (g)", f" ({unit})" if unit else ""))
    reading = open_recording(path)
    assert_is_the_shake(reading, tolerance=1e-5)
    assert reading.remarks == ()


def test_a_column_that_says_g_but_holds_ms2_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(unit="m/s2").replace("m/s2", "g"))
    reading = open_recording(path)
    assert_is_the_shake(reading, tolerance=1e-5)
    assert "gravity shows as 9.81, so it is taken as m/s2" in reading.remarks[0]


def test_what_a_person_says_beats_gravity(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(unit=""))
    reading = open_recording(path, columns={"accel": "g"})
    np.testing.assert_allclose(reading.recording.channels["acc z"].values, Z * STANDARD_GRAVITY, rtol=1e-6)
    assert "would fit m/s2" in reading.remarks[0]
