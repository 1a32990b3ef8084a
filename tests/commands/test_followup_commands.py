"""`vibdiag followup`, `vibdiag figures` and `vibdiag rules learn` as they are typed."""

from __future__ import annotations

import csv
import importlib
import json
import re
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from vibdiag.commands.main import app
from vibdiag.files.shipped import shipped_folder

DEMOS = shipped_folder("cases")
FIGURES = [
    *("cases", "closed", "proven", "mended", "came_back", "minutes", "closed_minutes", "wrong_repairs"),
    *("with_wrong_repairs", "comeback_rate", "minutes_a_closed_case", "wrong_repairs_a_closed_case"),
]


def ran(*arguments: str, code: int = 0, **more: str) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80", **more})
    assert result.exit_code == code, f"{result.output} {result.exception!r}"
    assert result.exception is None or isinstance(result.exception, SystemExit), repr(result.exception)
    return result


def data_of(*arguments: str) -> Any:
    return json.loads(ran(*arguments, "--json").stdout)


def refused(*arguments: str, **more: str) -> str:
    result = ran(*arguments, code=1, **more)
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    return result.stderr.removeprefix("vibdiag: ").strip()


def fits(text: str) -> bool:
    return all(len(line) <= 80 for line in text.splitlines())


def write(folder: Path, name: str, *lines: str) -> Path:
    path = folder / f"{name}.yaml"
    path.write_text("\n".join(["vibdiag_case: 1", f"id: {name}", *lines, ""]), encoding="utf-8")
    return path


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Three cases: one to call, one that came back, one new."""
    folder = tmp_path / "book"
    folder.mkdir()
    write(
        folder,
        "call",
        "title: " + "a very long title that goes on " * 5,
        "follow_ups:",
        "  - {what: call-back, due: 2026-03-12, note: Is the shake still gone?}",
        "  - {what: check-torque, due: 2026-03-07}",
        "steps: [{step: bay-bearing, outcome: play-or-rough}, {step: bay-dirt, outcome: unknown}]",
        "outcome: {confirmed_cause: wheel-bearing, axle: front, at: 2026-03-05T10:00:00Z}",
    )
    write(
        folder,
        "back",
        "history: {repairs: [{what: balance, effect: came-back}, {what: rims-renewed, effect: cured}]}",
        "steps: [{step: bay-fasteners, outcome: tight}, {step: road-windows, outcome: unknown}]",
        "outcome: {confirmed_cause: bent-rim, axle: front, at: 2026-04-05T10:00:00Z}",
    )
    write(folder, "new", "complaint: {words: It shakes.}", "opened_at: 2026-04-06T10:00:00Z")
    return folder


# --- followup


def test_follow_ups_say_what_to_ask_and_when_not_to_drive(book: Path) -> None:
    text = ran("followup", str(book), "--until", "2026-03-12").stdout
    assert fits(text)
    words = " ".join(text.split())
    assert text.index("check torque again, 5 days ago") < text.index("call back")
    assert "1. Is the shake still gone?" in text
    assert "2. Has anything new been felt, heard or smelt?" in text
    assert "checked again after 50 to 100 km (common practice)?" in words
    assert "before it is driven further" in words
    assert "a qualified person decides" in words
    assert (
        ran("followup", str(book), "--until", "2026-03-06").stdout == "Nothing is due until 2026-03-06, over 3 cases.\n"
    )


def test_follow_ups_have_the_keys_that_readme_promises(book: Path) -> None:
    data = data_of("followup", str(book), "--until", "2026-03-07")
    assert list(data) == ["folder", "until", "questions", "caution", "due"]
    assert len(data["questions"]) == 3
    (item,) = data["due"]
    assert list(item) == ["file", "case", "title", "invented", "what", "due", "overdue_days", "note"]
    assert (item["case"], item["what"], item["due"], item["overdue_days"]) == ("call", "check-torque", "2026-03-07", 0)


def test_the_folder_is_the_casebooks_when_left_out(book: Path) -> None:
    assert "Due until 2030-01-01: 2" in ran("followup", "--until", "2030-01-01", VIBDIAG_CASES=str(book)).stdout
    assert "3 cases" in ran("figures", VIBDIAG_CASES=str(book)).stdout
    assert "is not a folder" in refused("followup", VIBDIAG_CASES=str(book / "none"))


def test_a_day_that_is_none_is_refused(book: Path) -> None:
    assert refused("followup", str(book), "--until", "soon") == (
        "'soon' is no day; --until takes year-month-day, such as 2026-03-31"
    )


# --- figures


def test_figures_fit_and_have_the_keys_that_readme_promises(book: Path) -> None:
    for folder in (str(book), str(DEMOS)):
        assert fits(ran("figures", folder, "--period", "month").stdout)
    data = data_of("figures", str(book), "--period", "month")
    assert list(data) == ["folder", "cases", "invented", "all", "by_cause", "by_period", "checks"]
    assert list(data["all"]) == FIGURES
    assert data["all"]["comeback_rate"] == 0.5
    assert [one["cause"] for one in data["by_cause"]] == ["bent-rim", "no cause yet", "wheel-bearing"]
    assert [(one["period"], one["cases"]) for one in data["by_period"]] == [("2026-03", 1), ("2026-04", 2)]
    assert list(data["checks"][0]) == [
        *("step", "title", "kind", "done", "weighed", "moved_up", "mean_decibans", "minutes"),
    ]
    assert data["checks"][0]["step"] == "bay-bearing"
    assert data["checks"][0]["moved_up"] == 1
    assert data_of("figures", str(book))["by_period"] == []
    assert data_of("figures", str(DEMOS))["invented"] == len(list(DEMOS.glob("*.yaml")))


def test_figures_as_csv_and_parquet_are_the_same_table(book: Path, tmp_path: Path) -> None:
    import pyarrow.parquet as parquet

    as_csv, as_parquet = tmp_path / "f.csv", tmp_path / "f.parquet"
    ran("figures", str(book), "--period", "month", "--csv", str(as_csv), "--parquet", str(as_parquet))
    with as_csv.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["period", "cause", *FIGURES]
    assert [(row["period"], row["cause"]) for row in rows] == [
        ("2026-03", "wheel-bearing"),
        ("2026-04", "bent-rim"),
        ("2026-04", "no cause yet"),
    ]
    assert rows[1]["comeback_rate"] == "1.0"
    assert rows[2]["comeback_rate"] == ""
    table = parquet.read_table(as_parquet).to_pylist()
    assert [{key: "" if cell is None else str(cell) for key, cell in row.items()} for row in table] == rows
    assert sorted(path.name for path in tmp_path.iterdir()) == ["book", "f.csv", "f.parquet"]
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    write(fresh, "new")
    ran("figures", str(fresh), "--parquet", str(tmp_path / "fresh.parquet"))
    types = parquet.read_schema(as_parquet)
    assert parquet.read_schema(tmp_path / "fresh.parquet").equals(types)


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_checks_that_paid_by_cause_and_period(book: Path, tmp_path: Path, ending: str) -> None:
    import pyarrow.parquet as parquet

    target = tmp_path / f"checks.{ending}"
    ran("figures", str(book), "--period", "month", "--checks", str(target))
    if ending == "csv":
        with target.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    else:
        rows = [{key: str(cell) for key, cell in row.items()} for row in parquet.read_table(target).to_pylist()]
    assert list(rows[0])[:4] == ["period", "cause", "step", "title"]
    paid = {(row["period"], row["cause"], row["step"]): row for row in rows}
    data = data_of("figures", str(book), "--period", "month")
    everywhere = {check["step"]: check for check in data["checks"]}
    for step, check in everywhere.items():
        assert sum(int(row["done"]) for key, row in paid.items() if key[2] == step) == check["done"]
    (month,) = [one for one in data["by_period"] if one["period"] == "2026-03"]
    (cause,) = [one for one in data["by_cause"] if one["cause"] == "wheel-bearing"]
    for group in (month, cause):  # the one case of March is the one bearing
        assert [check["step"] for check in group["checks"]] == [
            row["step"] for row in rows if (row["period"], row["cause"]) == ("2026-03", "wheel-bearing")
        ]


def test_a_table_of_nothing_is_one_clear_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, book: Path) -> None:
    monkeypatch.setenv("VIBDIAG_STORE", str(tmp_path / "cases.db"))
    monkeypatch.delenv("VIBDIAG_CASES", raising=False)
    assert "there is no case yet" in refused("figures", "--csv", str(tmp_path / "f.csv"))
    assert "ends in .csv or .parquet" in refused("figures", str(book), "--checks", str(tmp_path / "f.txt"))
    assert "0 cases" in ran("figures").stdout


def test_without_a_folder_the_cases_of_the_store_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, book: Path, bearings: Path
) -> None:
    monkeypatch.setenv("VIBDIAG_STORE", str(tmp_path / "cases.db"))
    monkeypatch.delenv("VIBDIAG_CASES", raising=False)
    ran("store", "import", str(book), str(bearings))
    data = data_of("figures")
    assert data["folder"] == str(tmp_path / "cases.db")
    assert data["cases"] == len(list(book.glob("*.yaml"))) + len(list(bearings.glob("*.yaml")))
    assert data_of("followup", "--until", "2999-01-01")["folder"] == str(tmp_path / "cases.db")
    assert data_of("rules", "learn")["cases"] >= 4


def test_parquet_without_pyarrow_is_one_clear_sentence(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    target = tmp_path / "f.parquet"
    said = refused("figures", str(book), "--parquet", str(target))
    assert said == "Parquet needs pyarrow, which is not installed: install 'vibdiag[parquet]', or use --csv"
    assert not target.exists()


def test_nothing_here_imports_pyarrow_before_it_is_needed() -> None:
    sys.modules.pop("vibdiag.files.table", None)
    had = "pyarrow" in sys.modules
    importlib.import_module("vibdiag.files.table")
    assert ("pyarrow" in sys.modules) == had


def test_figures_say_what_is_wrong_and_where(book: Path) -> None:
    assert refused("figures", str(book), "--period", "week") == "'week' is no period; --period takes month or all"
    assert "cannot be written" in refused("figures", str(book), "--csv", str(book / "no" / "such.csv"))
    path = write(book, "wrong", "steps: [{step: ask-nix, outcome: yes}]")
    assert refused("figures", str(book)) == f"{path}:3:10: steps.0.step: there is no step 'ask-nix' in the rule base"
    write(book, "wrong", "steps: [{step: bay-fasteners, outcome: gone}]")
    assert "steps.0.outcome: 'gone' is no outcome of 'bay-fasteners'" in refused("figures", str(book))
    write(book, "wrong", "steps: [{step: bay-fasteners, outcome: gone, taken: after}]")
    assert "4 cases" in ran("figures", str(book)).stdout


# --- rules learn


@pytest.fixture
def bearings(tmp_path: Path) -> Path:
    """Four confirmed bearings that did not hum, one open case, one invented."""
    folder = tmp_path / "bearings"
    folder.mkdir()
    confirmed = "outcome: {confirmed_cause: wheel-bearing, axle: front}"
    for number in range(4):
        write(folder, f"b{number}", "steps: [{step: ask-hum, outcome: no}]", confirmed)
    write(folder, "open", "complaint: {words: It shakes.}")
    write(folder, "invented", "invented: true", "steps: [{step: ask-hum, outcome: yes}]", confirmed)
    return folder


def test_learning_shows_its_proposal_and_writes_nothing(bearings: Path, tmp_path: Path) -> None:
    rules = tmp_path / "rules"
    shutil.copytree(shipped_folder("rules"), rules)
    before = {path: path.read_bytes() for path in rules.rglob("*") if path.is_file()}
    text = ran("rules", "learn", str(bearings), "--prior", "4", "--rules", str(rules)).stdout
    assert fits(text)
    words = " ".join(text.split())
    assert "4 confirmed cases; left out: 1 without a confirmed cause, 1 invented." in words
    # Dirichlet: four imagined cases at the old share and four that said no leave half of it; rounded by the trust
    # that a told answer has.
    moved = re.search(r"causes/wheel-bearing.yaml .*?hum-or-growl \(4 cases\) yes ([\d.]+) -> ([\d.]+)", words)
    assert moved is not None
    assert float(moved[2]) == pytest.approx(float(moved[1]) * 4 / 8, abs=0.02)
    assert "as it stands learned" in words
    assert "People tell what they noticed" in words
    assert "Nothing was written." in words
    assert "base rates" not in words.lower()
    assert {path: path.read_bytes() for path in rules.rglob("*") if path.is_file()} == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bearings", "rules"]


def test_base_rates_come_with_their_warning(bearings: Path) -> None:
    text = ran("rules", "learn", str(bearings), "--base-rates").stdout
    assert fits(text)
    assert "Counts of write-ups are no base rates" in " ".join(text.split())


def test_learning_has_the_keys_that_readme_promises(bearings: Path) -> None:
    data = data_of("rules", "learn", str(bearings))
    assert list(data) == [
        *("folder", "cases", "open", "invented", "prior_strength", "least_change", "rows", "base_rates", "held_out"),
        *("faults", "written"),
    ]
    assert data["prior_strength"] == 50
    assert data["written"] is None
    assert data["base_rates"] == []
    (row,) = [row for row in data["rows"] if row["sign"] == "hum-or-growl"]
    assert list(row) == ["file", "cause", "sign", "axle", "from", "to", "cases"]
    assert (row["axle"], row["cases"]) == ("any", 4)
    assert sum(row["to"].values()) == pytest.approx(1.0)
    assert data["held_out"]["folds"] == 4
    assert list(data["held_out"]["learned"]) == ["cases", "first", "first_three", "brier", "dangers", "dangers_shown"]


def test_a_written_copy_is_sound_and_tells_its_changes(bearings: Path, tmp_path: Path) -> None:
    target = tmp_path / "learned"
    said = ran("rules", "learn", str(bearings), "--prior", "100", "--base-rates", "--write", str(target)).stdout
    assert f"vibdiag rules check {target}" in " ".join(said.split())
    data = data_of("rules", "check", str(target))
    assert data["sound"]
    assert ran("rank", str(DEMOS / "motorway-tremor.yaml"), "--rules", str(target)).exit_code == 0
    assert "is there already" in refused("rules", "learn", str(bearings), "--write", str(target))
    inside = shipped_folder("rules") / "learned"
    assert "in use" in refused("rules", "learn", str(bearings), "--rules", str(target), "--write", str(inside))
    assert not inside.exists()
    assert "cannot be written" in refused("rules", "learn", str(bearings), "--write", str(tmp_path / "no" / "such"))


def test_a_copy_that_would_not_be_sound_is_not_written(bearings: Path, tmp_path: Path) -> None:
    """Four bearings against a quarter of an imagined case leave the other causes next to no base rate."""
    weak = ("rules", "learn", str(bearings), "--prior", "0.25", "--base-rates")
    assert "would not be sound with them" in ran(*weak).stdout
    said = refused(*weak, "--write", str(tmp_path / "learned"))
    assert "cannot win" in said
    assert said.endswith("use a stronger --prior")
    assert [path.name for path in tmp_path.iterdir()] == ["bearings"]


def test_learning_refuses_what_would_teach_wrongly(bearings: Path, tmp_path: Path) -> None:
    assert "has 0 case(s) to learn from; two or more must have a confirmed cause" in refused(
        "rules", "learn", str(DEMOS)
    )
    (bearings / "copy.yaml").write_bytes((bearings / "b0.yaml").read_bytes())
    assert refused("rules", "learn", str(bearings)) == (
        f"{bearings}: b0.yaml and copy.yaml have the same id 'b0'; a case counts once, keep one"
    )
    (bearings / "copy.yaml").unlink()
    path = write(bearings, "wrong", "steps: [{step: ask-nix, outcome: yes}]", "outcome: {confirmed_cause: bent-rim}")
    unknown = f"{path}:3:10: steps.0.step: there is no step 'ask-nix' in the rule base"
    assert refused("rules", "learn", str(bearings)) == unknown
    assert refused("rules", "score", str(bearings)) == unknown
    assert refused("rules", "score", str(bearings), "--sensitivity") == unknown
    assert ran("rules", "learn", str(bearings), "--prior", "0", code=2).stdout == ""
