"""polars, numpy and the line-by-line way give the same columns; a large file stays within memory."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibdiag.files.errors import InputError
from vibdiag.recording.reading import csv_text
from vibdiag.recording.reading.csv_polars import WORTH_POLARS_BYTES, read_with_polars
from vibdiag.recording.reading.csv_text import Wanted, read_columns
from vibdiag.recording.reading.dialect import sniff_dialect

WANTED: dict[int, Wanted] = {0: "text", 1: "number", 3: "number"}


def write(path: Path, rows: int, *, delimiter: str = ";", bad_row: int | None = None) -> None:
    rng = np.random.default_rng(5)
    values = rng.normal(0.0, 3.0, (rows, 3))
    with path.open("w") as file:
        file.write(delimiter.join(["time", "ax", "note", "az"]) + "\n")
        for i, (x, _, z) in enumerate(values):
            cells = [f"2024-05-01T12:{i // 6000:02d}:{i // 100 % 60:02d}.{i % 100:02d}Z", f"{x:.4f}", "ok", f"{z:.4f}"]
            cells[1] = "" if i % 7 == 3 else cells[1]
            file.write("junk\n" if i == bad_row else delimiter.join(cells).replace(".", ",", 0) + "\n")


@pytest.mark.parametrize("bad_row", [None, 17_000])
def test_all_ways_agree(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bad_row: int | None) -> None:
    path = tmp_path / "a.csv"
    write(path, 20_000, bad_row=bad_row)
    dialect = sniff_dialect(path, "a.csv")
    monkeypatch.setattr(csv_text, "_BLOCK_BYTES", 100_000)
    by_numpy, told = read_columns(path, "a.csv", dialect, WANTED)
    monkeypatch.setattr(csv_text, "_fast", lambda *_: None)
    by_line, told_by_line = read_columns(path, "a.csv", dialect, WANTED)
    assert told == told_by_line
    assert len(told) == (bad_row is not None)
    if bad_row is not None:
        assert told[0].startswith(f"a.csv:{bad_row + 2}: 1 line left out")
    for index in WANTED:
        np.testing.assert_array_equal(by_numpy[index], by_line[index])
    if importlib.util.find_spec("polars") is None:
        return
    by_polars = read_with_polars(path, "a.csv", dialect, WANTED)
    if bad_row is not None:
        assert by_polars is None
        return
    assert by_polars is not None
    for index in WANTED:
        np.testing.assert_array_equal(by_polars[index], by_line[index])


@pytest.mark.parametrize("with_polars", [True, False])
def test_large_files_take_the_fast_way_and_give_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, with_polars: bool
) -> None:
    if with_polars:
        pytest.importorskip("polars")
    else:
        monkeypatch.setitem(sys.modules, "polars", None)
        monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    path = tmp_path / "a.csv"
    truth = np.round(np.random.default_rng(1).normal(size=(150_000, 4)), 5)
    np.savetxt(path, truth, fmt="%.5f", delimiter=",", header="t_s,ax_g,ay_g,az_g", comments="")
    assert path.stat().st_size > WORTH_POLARS_BYTES
    monkeypatch.setattr(csv_text, "_slow", None)
    columns, told = read_columns(path, "a.csv", sniff_dialect(path, "a.csv"), dict.fromkeys(range(4), "number"))
    assert told == ()
    for index in range(4):
        np.testing.assert_array_equal(columns[index], truth[:, index])


def test_quoted_numbers_take_the_fast_way_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    path.write_text('"t_s","az_g"\n' + "".join(f'"{i / 100}","{i % 5}"\n' for i in range(50)))
    monkeypatch.setattr(csv_text, "_slow", None)
    columns, _ = read_columns(path, "a.csv", sniff_dialect(path, "a.csv"), dict.fromkeys(range(2), "number"))
    assert columns[0].tolist() == [i / 100 for i in range(50)]


def test_one_bad_line_slows_only_its_neighbours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    write(path, 5000, bad_row=3000)
    slow, seen = csv_text._slow, []

    def counted(text: str, *rest: Any) -> dict[int, Any]:
        seen.append(text.count("\n"))
        return slow(text, *rest)

    monkeypatch.setattr(csv_text, "_slow", counted)
    columns, told = read_columns(path, "a.csv", sniff_dialect(path, "a.csv"), WANTED)
    assert len(columns[3]) == 4999
    assert told[0].startswith("a.csv:3002: 1 line left out")
    assert sum(seen) < 250


def test_a_line_that_never_ends_is_refused_early(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"t,ax_g\n" + b"0,1\n" * 100 + b"1" * (5 << 20))
    with pytest.raises(InputError, match=r"a\.csv:102:1: has a line longer than"):
        read_columns(path, "a.csv", sniff_dialect(path, "a.csv"), {0: "number", 1: "number"})


def test_too_many_values_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    write(path, 1000)
    monkeypatch.setattr("vibdiag.recording.reading.table.MAX_VALUES", 1500)
    with pytest.raises(InputError, match="cut it to the part with the shake"):
        read_columns(path, "a.csv", sniff_dialect(path, "a.csv"), WANTED)


def test_opening_a_small_table_imports_no_heavy_library(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("t_s,az_g\n" + "".join(f"{i / 100},{i % 5}\n" for i in range(50)))
    code = (
        "import sys; from vibdiag.recording.reading.open_recording import open_recording; "
        f"open_recording({str(path)!r}); "
        "print(sorted({'scipy', 'polars', 'pandas', 'pyarrow', 'pyuff', 'asammdf'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"
