"""`vibdiag store` as it is typed: exit codes, one sentence on error, stable JSON, 80 columns."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from vibdiag.case.storage import case_from_text, load_case
from vibdiag.commands.main import app
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.store.typed import moment_of

CASE = shipped_folder("cases") / "motorway-tremor.yaml"
ID = "demo-motorway-tremor"


@pytest.fixture(autouse=True)
def at(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VIBDIAG_STORE", place)
    monkeypatch.setenv("COLUMNS", "80")


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, ["store", *arguments])
    told = f"{result.exit_code}: {result.output} {result.exception!r}"
    assert result.exit_code == code, told
    assert result.exception is None or isinstance(result.exception, SystemExit), told
    return result


def data_of(*arguments: str, code: int = 0) -> Any:
    return json.loads(ran(*arguments, "--json", code=code).stdout)


def refused(*arguments: str) -> str:
    result = ran(*arguments, code=1)
    assert result.stderr.startswith("vibdiag: ")
    assert result.stderr.count("\n") == 1
    return result.stderr


def imported() -> None:
    ran("import", str(CASE), "--by", "Ada")


def test_import_and_export(tmp_path: Path) -> None:
    assert ran("import", str(CASE)).stdout == "1 new\n"
    assert data_of("import", str(CASE)) == [
        {"file": str(CASE), "case": ID, "outcome": "unchanged", "problem": None, "recordings": 0}
    ]
    assert ran("export", str(tmp_path / "out")).stdout == "1 written\n"
    out = tmp_path / "out" / f"{ID}.yaml"
    assert load_case(out) == load_case(CASE)
    out.write_text("broken: [", encoding="utf-8")
    assert "not readable as YAML" in refused("import", str(out))
    assert data_of("import", str(CASE), str(out), code=1)[1]["outcome"] == "refused"
    assert "import it first" in refused("export", str(out.parent))


def test_list_and_search() -> None:
    assert ran("list").stdout == "no case\n"
    imported()
    listed = ran("list").stdout
    assert ID in listed
    assert all(len(line) <= 80 for line in listed.splitlines())
    (line,) = data_of("search", "trembl", "motorway")
    assert set(line) == {"id", "title", "revision", "changed_at", "changed_by", "personal_data_removed"}
    assert (line["id"], line["revision"], line["changed_by"]) == (ID, 1, "Ada")
    assert data_of("list", "--limit", "1") == [line]
    assert data_of("search", "zebra") == []


def test_history_show_and_undo(tmp_path: Path) -> None:
    imported()
    changed = tmp_path / "changed.yaml"
    changed.write_text(CASE.read_text(encoding="utf-8") + "notes: by hand\n", encoding="utf-8")
    ran("import", str(changed), "--by", "Bo")
    first, second = data_of("history", ID)
    assert (first["who"], second["who"], second["kind"]) == ("Ada", "Bo", "import")
    assert second["changes"] == [{"field": "notes", "before": None, "after": "by hand"}]
    assert second["source"].startswith("vibdiag store import, ")
    assert "notes: by hand" in ran("history", ID).stdout
    assert case_from_text(ran("show", ID).stdout) == load_case(changed)
    assert case_from_text(ran("show", ID, "--as-of", first["at"]).stdout) == load_case(CASE)
    shown = data_of("show", ID, "--as-of", second["at"])
    assert (shown["revision"], shown["case"]["notes"]) == (2, "by hand")
    assert "knew nothing of this case" in refused("show", ID, "--as-of", "2001-01-01")
    assert "write 2026-03-09" in refused("show", ID, "--as-of", "yesterday")
    assert data_of("undo", ID, "--by", "Cy")["undoes"] == 2
    assert load_case(CASE) == case_from_text(ran("show", ID).stdout)
    assert "nothing to undo" in refused("undo", ID)


def test_backup_and_restore(tmp_path: Path) -> None:
    imported()
    target = tmp_path / "backup.db"
    assert data_of("backup", str(target)) == {"written": str(target), "cases": 1}
    assert "never overwrites" in refused("backup", str(target))
    ran("restore", str(target), "--store", str(tmp_path / "new.db"))
    assert data_of("list", "--store", str(tmp_path / "new.db")) == data_of("list")
    assert "holds cases already" in refused("restore", str(target))


def test_forget_asks_first() -> None:
    imported()
    assert "say --yes to do it" in refused("forget", ID)
    assert len(data_of("history", ID)) == 1
    done = data_of("forget", ID, "--yes")
    assert done == {"case_id": ID, "events": 1, "recordings_kept": [], "recordings_removed": 0}
    assert "cup of coffee" not in ran("show", ID).stdout
    assert "delete those you do not need" in " ".join(ran("forget", ID, "--yes").stdout.split())


def test_attach(tmp_path: Path) -> None:
    imported()
    recording = tmp_path / "seat.csv"
    recording.write_bytes(b"0,1\n")
    kept = data_of("attach", ID, str(recording))
    assert (kept["path"], kept["size_bytes"], len(kept["sha256"])) == ("seat.csv", 4, 64)
    assert "not a file" in refused("attach", ID, str(tmp_path / "missing.csv"))
    assert data_of("show", ID)["case"]["attachments"][0]["path"] == "seat.csv"


@pytest.mark.parametrize("command", ["history", "show", "undo"])
def test_an_unknown_case_is_one_sentence(command: str) -> None:
    assert "no such case" in refused(command, "unknown")


def test_wrong_usage_ends_with_two() -> None:
    ran("history", code=2)
    ran("list", "--limit", "0", code=2)
    ran("nonsense", code=2)


def test_a_place_that_is_no_store_is_one_sentence(tmp_path: Path) -> None:
    assert "is no store" in refused("list", "--store", "mysql://host/x")
    (tmp_path / "text.db").write_text("only text " * 1_000, encoding="utf-8")
    assert "not a case store" in refused("list", "--store", str(tmp_path / "text.db"))


def test_a_moment_as_it_is_typed() -> None:
    assert moment_of("2026-03-09").strftime("%Y-%m-%d %H:%M") == "2026-03-09 23:59"
    assert moment_of("2026-03-09T14:30").strftime("%Y-%m-%d %H:%M") == "2026-03-09 14:30"
    assert moment_of("2026-03-09T14:30+02:00").utctimetuple()[3:5] == (12, 30)
    with pytest.raises(InputError):
        moment_of("tomorrow")


def test_help_loads_no_database() -> None:
    code = "import sys, vibdiag.commands.main; print('sqlalchemy' in sys.modules or 'alembic' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
