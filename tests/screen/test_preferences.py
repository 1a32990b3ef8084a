"""What is remembered between runs: each session its own place and name, and nobody writes over another's."""

from __future__ import annotations

import json
import threading
from pathlib import Path

from vibdiag.screen.preferences import Preferences
from vibdiag.screen.units_view import UnitChoice


def test_each_browser_tab_has_its_own_place_and_name(tmp_path: Path) -> None:
    path = tmp_path / "preferences.json"
    for tab, name in (("", "Ada"), ("aa11", "Bo"), ("bb22", "Cy")):
        chosen = Preferences.load(path, tab=tab)
        assert (chosen.name, chosen.last_case) == ("", "")  # nobody signs with another's name
        chosen.name, chosen.last_case, chosen.role = name, f"{name}'s case", "bay"
        chosen.save()
    for tab, name in (("", "Ada"), ("aa11", "Bo"), ("bb22", "Cy")):
        again = Preferences.load(path, tab=tab)
        assert (again.name, again.last_case, again.role) == (name, f"{name}'s case", "bay")
    assert Preferences.load(path, tab="cc33").role == "desk"


def test_what_another_session_chose_meanwhile_stays(tmp_path: Path) -> None:
    path = tmp_path / "preferences.json"
    one, other = Preferences.load(path), Preferences.load(path, tab="aa11")
    one.theme = "night"
    one.save()
    other.units = UnitChoice().next_set()
    other.save()
    one.last_case = "a case"
    one.save()
    again = Preferences.load(path)
    assert (again.theme, again.units, again.last_case) == ("night", other.units, "a case")
    assert Preferences.load(path, tab="aa11").theme == "night"


def test_sessions_that_save_at_once_all_stay(tmp_path: Path) -> None:
    path, together = tmp_path / "preferences.json", threading.Barrier(8)

    def save(number: int) -> None:
        mine = Preferences.load(path, tab=f"{number:x}")
        together.wait()
        for step in range(5):
            mine.last_step = f"step {number} {step}"
            mine.save()

    threads = [threading.Thread(target=save, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert [Preferences.load(path, tab=f"{n:x}").last_step for n in range(8)] == [f"step {n} 4" for n in range(8)]


def test_tabs_that_are_long_gone_are_forgotten(tmp_path: Path) -> None:
    path = tmp_path / "preferences.json"
    for number in range(30):
        mine = Preferences.load(path, tab=f"{number:x}")
        mine.name = f"person {number}"
        mine.save()
    kept = json.loads(path.read_text(encoding="utf-8"))["tabs"]
    assert list(kept) == [f"{number:x}" for number in range(10, 30)]


def test_the_file_of_before_is_understood(tmp_path: Path) -> None:
    path = tmp_path / "preferences.json"
    path.write_text(json.dumps({"theme": "night", "role": "bay", "name": "Ada", "last_case": "x", "last_step": "y"}))
    chosen = Preferences.load(path)
    assert (chosen.theme, chosen.role, chosen.name, chosen.last_case) == ("night", "bay", "Ada", "x")
