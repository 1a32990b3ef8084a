"""Where cases are kept, by what was typed: the store by default, a folder when one is named, a case by file or id."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from vibdiag.commands.main import app
from vibdiag.commands.where import opened_shelf, preferences_path, waiting_files
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.store.shelf import StoreShelf
from vibdiag.work.casebook import Casebook

DEMO = shipped_folder("cases") / "motorway-tremor.yaml"
ID = "demo-motorway-tremor"


@pytest.fixture(autouse=True)
def at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person's own data folder, and nothing chosen."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("VIBDIAG_STORE", raising=False)
    monkeypatch.delenv("VIBDIAG_CASES", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def ran(*arguments: str) -> str:
    result = CliRunner().invoke(app, list(arguments))
    assert result.exit_code == 0, result.output
    return result.stdout


def refused(*arguments: str) -> str:
    result = CliRunner().invoke(app, list(arguments))
    assert result.exit_code == 1, result.output
    assert result.stderr.count("\n") == 1
    return result.stderr


def test_the_store_in_the_persons_data_folder_is_the_default(tmp_path: Path) -> None:
    with opened_shelf(None, None) as shelf:
        assert isinstance(shelf, StoreShelf)
        assert shelf.place == str(tmp_path / "data" / "vibdiag" / "cases.db")
        assert preferences_path(shelf) == tmp_path / "data" / "vibdiag" / "preferences.json"


def test_what_is_named_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with opened_shelf(tmp_path / "here", None) as shelf:
        assert isinstance(shelf, Casebook)
        assert preferences_path(shelf) == tmp_path / "preferences.json"
    monkeypatch.setenv("VIBDIAG_CASES", str(tmp_path / "chosen"))
    with opened_shelf(None, None) as shelf:
        assert shelf.place == str(tmp_path / "chosen")
    with opened_shelf(None, str(tmp_path / "other.db")) as shelf:
        assert shelf.place == str(tmp_path / "other.db")
    with pytest.raises(InputError, match="not both"), opened_shelf(tmp_path, "other.db"):
        pass
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="is a file"), opened_shelf(tmp_path / "file", None):
        pass


def test_case_files_of_before_are_not_forgotten(tmp_path: Path) -> None:
    folder = tmp_path / "data" / "vibdiag" / "cases"
    folder.mkdir(parents=True)
    with opened_shelf(None, None) as shelf:
        assert waiting_files(shelf) is None
        shutil.copy(DEMO, folder)
        told = waiting_files(shelf)
        assert told is not None
        assert f"1 case file lies in {folder} and not in the store" in told
        assert f"vibdiag store import {folder}" in told
    ran("store", "import", str(folder))
    with opened_shelf(None, None) as shelf:
        assert waiting_files(shelf) is None


def test_a_case_of_the_store_by_its_id(tmp_path: Path) -> None:
    ran("store", "import", str(DEMO))
    assert "Still open in" in ran("script", ID)
    assert ran("rank", ID) == ran("rank", str(DEMO))
    assert f"written: {ID}-customer.html" in ran("report", ID)
    assert "Your car" in (tmp_path / f"{ID}-customer.html").read_text(encoding="utf-8")
    assert "no such file, and no case of this id" in refused("report", "nothing-like-it")
    assert "cannot be read" in refused("report", "nothing.yaml")


def test_a_case_of_the_chosen_folder_by_its_id(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VIBDIAG_CASES", str(tmp_path / "cases"))
    (tmp_path / "cases").mkdir()
    shutil.copy(DEMO, tmp_path / "cases" / "mine.yaml")
    assert "written: mine-file.html" in ran("report", "mine", "--for", "file")
