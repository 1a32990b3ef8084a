"""`vibdiag road` on recordings with a pause, a doubtful unit or a refused file: what a person then reads."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, save_case
from vibdiag.commands.main import app
from vibdiag.report.order_pairs import order_pairs


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80"})
    assert result.exit_code == code, f"{result.exit_code}: {result.output} {result.exception!r}"
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def words(*arguments: str) -> str:
    """The text on one line, whatever its width."""
    return " ".join(ran(*arguments).stdout.split())


def data_of(*arguments: str) -> Any:
    return json.loads(ran(*arguments, "--json").stdout)


@pytest.fixture(scope="module")
def drive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("odd") / "drive.csv"
    ran("practice", str(path), "--seconds", "60", "--json")
    return path


def rewritten(drive: Path, name: str, change: Any, header: str | None = None) -> str:
    """The recording with every row changed, and another header."""
    lines = [line for line in drive.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = [",".join(change(line.split(","))) for line in lines[1:]]
    path = drive.with_name(name)
    path.write_text("\n".join([header or lines[0], *rows]) + "\n", encoding="utf-8")
    return str(path)


def test_a_pause_of_hours(drive: Path) -> None:
    paused = rewritten(
        drive, "paused.csv", lambda row: [f"{float(row[0]) + (18_000 if float(row[0]) > 30 else 0):.4f}", *row[1:]]
    )
    whole, found = data_of("road", str(drive)), data_of("road", paused)
    assert found["circumference"]["m"] == pytest.approx(whole["circumference"]["m"], rel=0.003)
    assert found["seconds"] == pytest.approx(60.0, abs=0.2)
    said = words("road", paused)
    assert "60 s recorded" in said
    assert "5.0 h are missing in gaps; they are left out." in said


def in_doubt(drive: Path) -> str:
    """The drive in g without gravity and without a unit, which looks like a tenth of the shake."""

    def in_g(row: list[str]) -> list[str]:
        lying = (float(value) - upright for value, upright in zip(row[1:4], (0.0, 0.0, 9.80665), strict=True))
        return [row[0], *(f"{each / 9.80665:.6f}" for each in lying), *row[4:]]

    names = drive.read_text(encoding="utf-8").splitlines()
    header = next(line for line in names if not line.startswith("#")).split(",")
    bare = ",".join([header[0], "ax", "ay", "az", *header[4:]])
    return rewritten(drive, "doubtful.csv", in_g, bare)


def test_a_doubtful_unit_gives_no_word_and_no_verdict(drive: Path) -> None:
    doubtful = in_doubt(drive)
    felt = data_of("road", doubtful)["severity"]
    assert felt["comfort"] is None
    assert "neither a unit nor gravity" in felt["why_no_word"]
    assert "How it feels cannot be said" in words("road", doubtful)
    for order in ([doubtful, "--before", str(drive)], [str(drive), "--before", doubtful]):
        changes = data_of("road", *order, "--place", "seat-rail")["changes"]
        assert changes
        assert {change["verdict"] for change in changes} == {"cannot tell"}
        assert any("The unit of the recording" in change["because"] for change in changes)


def test_what_was_understood_of_a_refused_file_is_shown(drive: Path) -> None:
    timeless = rewritten(drive, "timeless.csv", lambda row: row[1:], "ax_m/s2,ay_m/s2,az_m/s2,gps_speed_km/h")
    refused = ran("road", timeless, "--columns", code=1)
    assert "acceleration z, m/s2" in refused.stdout
    assert "no column of times" in refused.stderr
    assert json.loads(ran("road", timeless, "--columns", "--json", code=1).stdout)["read_as"]


def test_a_held_speed_says_what_it_is_used_instead_of(drive: Path) -> None:
    remarks = data_of("road", str(drive), "--speed", "60")["remarks"]
    assert any(text.startswith("--speed 60 is used instead of the recorded speed, which is ") for text in remarks)
    assert not any("--speed" in text for text in data_of("road", str(drive))["remarks"])


def test_turns_of_the_wheel_are_reckoned_with_the_tyre(drive: Path) -> None:
    def in_turns(row: list[str]) -> list[str]:
        return [*row[:4], f"{float(row[4]) / 3.6 / 1.95 * 60:.3f}" if row[4] else ""]

    turning = rewritten(drive, "turning.csv", in_turns, "time_s,ax_m/s2,ay_m/s2,az_m/s2,wheel speed (rpm)")
    found = data_of("road", turning, "--tyre", "205/55R16")
    assert any("With this tyre a turn of the wheel is taken as" in text for text in found["remarks"])
    assert "1x wheel" in {order["order"] for order in found["orders"]}
    assert found["mean_kmh"] == pytest.approx(data_of("road", str(drive))["mean_kmh"], rel=0.05)


def test_what_was_tried_stands_in_its_order(drive: Path) -> None:
    said = words("road", str(drive), "--speed", "60")
    assert "Tried: 1x wheel, 2x wheel, 3x wheel or halfshaft, 4x wheel." in said


def test_the_missing_place_names_the_option(drive: Path) -> None:
    assert "say it with --place" in words("road", str(drive), "--before", str(drive))


def a_case(folder: Path) -> Path:
    path = folder / "shake.yaml"
    save_case(Case.model_validate({"vibdiag_case": 1, "id": "shake", "invented": True}), path)
    return path


def test_what_was_found_is_kept_with_a_file_that_was_read(drive: Path, tmp_path: Path) -> None:
    empty, case = tmp_path / "empty.csv", a_case(tmp_path)
    empty.write_bytes(b"")
    said = words("road", str(empty), str(drive), "--case", str(case), "--keep")
    assert "empty.csv: is empty; was the recording stopped before it was copied? Left out" in said
    kept = load_case(case).attachments
    assert [(Path(one.path).name, bool(one.orders)) for one in kept] == [("empty.csv", False), ("drive.csv", True)]


def test_a_doubtful_unit_is_kept_with_the_sizes_until_it_is_said(drive: Path, tmp_path: Path) -> None:
    case, doubtful = a_case(tmp_path), in_doubt(drive)
    kept_in = ("--case", str(case), "--keep", "--place", "seat-rail")
    ran("road", str(drive), *kept_in)
    said = words("road", doubtful, *kept_in, "--taken", "after")
    assert "A unit is in doubt, so before and after are not compared by its sizes" in said
    before, after = load_case(case).attachments
    assert before.unit_doubt is None
    assert "if it is g, say accel=g" in (after.unit_doubt or "")
    assert {pair.verdict for pair in order_pairs(load_case(case))} == {"cannot be compared"}
    said = words("road", doubtful, *kept_in, "--taken", "after", "--column", "accel=g")
    assert "in doubt" not in said
    assert load_case(case).attachments[1].unit_doubt is None
    # the same drive, but its channels are called otherwise
    assert "still found, on ax" in order_pairs(load_case(case))[0].verdict


def test_a_rotation_in_a_guessed_unit_is_not_compared(drive: Path) -> None:
    """deg/s of a drive without a sharp turn look like rad/s: 57 times as much as of the next drive."""
    sharp = rewritten(drive, "sharp.csv", lambda row: row, "time_s,gx_rad/s,gy_rad/s,gz_rad/s,speed_km/h")
    gentle = rewritten(
        drive,
        "gentle.csv",
        lambda row: [row[0], *(f"{float(each) / 10:.6f}" for each in row[1:4]), row[4]],
        "time_s,gx,gy,gz,speed_km/h",
    )
    changes = data_of("road", gentle, "--before", gentle, "--place", "seat-rail")["changes"]
    assert changes
    assert {change["verdict"] for change in changes} == {"cannot tell"}
    assert all("if it is deg/s, say gyro=deg/s" in change["because"] for change in changes)
    said = data_of("road", sharp, "--before", sharp, "--place", "seat-rail")["changes"]
    assert {change["verdict"] for change in said} == {"same"}
