"""What `vibdiag road` draws, what it shares between before and after, and the road test that `vibdiag demo` plays."""

from __future__ import annotations

import json
import struct
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from vibdiag.commands.main import app
from vibdiag.commands.road.practice import practice_csv
from vibdiag.recording.angle import course_of
from vibdiag.recording.car_model import Drive, Instruments, Shaft, Wheel, practice_recording
from vibdiag.recording.clean import even_out
from vibdiag.recording.order_map import order_map
from vibdiag.recording.speed import smooth_speed


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80"})
    assert result.exit_code == code, f"{result.output} {result.exception!r}"
    return result


def data_of(*arguments: str) -> Any:
    return json.loads(ran(*arguments, "--json").stdout)


def written(folder: Path, name: str, seed: int, *wheels: Wheel, **settings: Any) -> str:
    drive = practice_recording(seed, wheels=wheels, instruments=Instruments(rate_hz=200.0), **settings)
    (folder / name).write_text(practice_csv(drive, "Invented."), encoding="utf-8")
    return str(folder / name)


def test_a_png_is_written_beside_the_svg(tmp_path: Path) -> None:
    pytest.importorskip("resvg_py")
    recording = written(tmp_path, "a.csv", 1, Wheel(0, 60), drive=Drive(seconds=40))
    ran("road", recording, "--png", str(tmp_path / "a.png"), "--svg", str(tmp_path / "a.svg"))
    raw = (tmp_path / "a.png").read_bytes()
    assert raw[:8] == b"\x89PNG\r\n\x1a\n"  # the signature of ISO/IEC 15948, and its width and height
    wide, high = struct.unpack(">II", raw[16:24])
    assert wide == 2 * (640 + 2 * 14)
    assert high > 200


def test_without_the_library_png_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = written(tmp_path, "a.csv", 1, Wheel(0, 60), drive=Drive(seconds=20))
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    said = ran("road", recording, "--png", str(tmp_path / "a.png"), code=1).stderr
    assert "pip install 'vibdiag[png]'" in said
    assert not (tmp_path / "a.png").exists()


def test_the_order_map_shows_a_shaft_where_it_turns() -> None:
    sweep = Drive(seconds=120, start_kmh=70, end_kmh=120)
    shaft = Shaft(3.5, imbalance_gmm=3000.0)
    drive = practice_recording(2, shaft=shaft, drive=sweep, axes="z", instruments=Instruments(rate_hz=200.0))
    even, speed = even_out(drive.recording), smooth_speed(drive.recording.speed)  # type: ignore[arg-type]
    found = order_map(even, course_of(even, speed, circumference_m=1.95), channel=0)
    assert found is not None
    assert found.speeds_kmh.min() <= 80.0
    assert found.speeds_kmh.max() >= 110.0
    high = found.orders > 2.5  # below, the two axles over one road make a pattern of their own
    strongest = found.orders[high][np.nanargmax(found.above[:, high], axis=1)]
    assert np.all(np.abs(strongest - 3.5) < 0.11)


def test_the_map_fits_80_columns(tmp_path: Path) -> None:
    recording = written(tmp_path, "a.csv", 3, Wheel(0, 60), drive=Drive(seconds=60, start_kmh=80, end_kmh=110))
    text = ran("road", recording).stdout
    assert "Order map of az_m/s2" in text or "Order map of ax_m/s2" in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_after_is_looked_at_where_before_was(tmp_path: Path) -> None:
    # 15 g after 80 g: alone it is seldom found, and where the wheel is known it is
    before = written(tmp_path, "before.csv", 10, Wheel(0, 80), road_class="A")
    after = written(tmp_path, "after.csv", 11, Wheel(0, 15), road_class="A")
    alone, beside = data_of("road", after), data_of("road", after, "--before", before)
    assert alone["searched_m"] == [1.7, 2.5]
    low, high = beside["searched_m"]
    assert low < 1.95 < high
    assert high / low < 1.03
    assert {each["verdict"] for each in beside["changes"]} <= {"gone", "better", "cannot tell"}


def test_other_tyres_are_searched_for_anew(tmp_path: Path) -> None:
    before = written(tmp_path, "before.csv", 20, Wheel(0, 80), road_class="A")
    after = written(tmp_path, "after.csv", 21, Wheel(0, 80), road_class="A", circumference_m=2.08)
    found = data_of("road", after, "--before", before)
    assert found["searched_m"] == [1.7, 2.5]
    assert found["circumference"]["m"] == pytest.approx(2.08, rel=0.01)


def test_a_held_speed_can_be_told(tmp_path: Path) -> None:
    path = Path(written(tmp_path, "mute.csv", 30, Wheel(0, 120), drive=Drive(wander_ms=0.05)))
    rows = [row.rpartition(",")[0] for row in path.read_text(encoding="utf-8").splitlines()[1:]]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert data_of("road", str(path))["orders"] == []
    found = data_of("road", str(path), "--speed", "100", "--tyre", "205/55R16")
    assert {"1x wheel"} <= {each["order"] for each in found["orders"]}
    assert "is no speed to hold" in ran("road", str(path), "--speed", "nan", code=1).stderr


def test_what_only_the_reader_saw_is_said_too(tmp_path: Path) -> None:
    path = Path(written(tmp_path, "lost.csv", 40, Wheel(0, 60), drive=Drive(seconds=30)))
    rows = path.read_text(encoding="utf-8").splitlines()
    cells = rows[500].split(",")
    rows[500] = ",".join([cells[0], "", *cells[2:]])
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    says = "ax_m/s2 has no value in 1 of 6000 rows."
    assert says in ran("road", str(path)).stdout
    assert says in data_of("road", str(path))["remarks"]


def test_demo_plays_a_road_test() -> None:
    text = ran("demo", "road-test").stdout
    flat = " ".join(text.split())
    for said in ("invented", "1x wheel at", "Order map", "The truth: 40 g", "a qualified person decides"):
        assert said in flat
    assert max(len(line) for line in text.splitlines()) <= 80
    data = data_of("demo", "road-test")
    assert data["invented"] is True
    assert data["circumference"]["m"] == pytest.approx(1.95, rel=0.004)
    assert "road-test" in ran("demo", "--list").stdout
