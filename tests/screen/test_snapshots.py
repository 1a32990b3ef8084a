"""Every screen as it was accepted by eye, at three sizes. `pytest --snapshot-update` accepts what is drawn now."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import textual

from vibdiag.advice.assess import Adviser

from .stage import SIGHTS, Sight, application, fill_folder, reach

# Another version draws borders, footers and selections in its own way: pictures can only be compared on this one.
PINNED = "8.2.8"
SIZES = [(80, 24), (120, 40), (200, 60)]


@pytest.fixture(autouse=True)
def pinned() -> None:
    """Refuses to compare pictures of another version."""
    if textual.__version__ != PINNED:
        pytest.fail(f"pictures were accepted with textual {PINNED}, this is {textual.__version__}: install '.[test]'")


@pytest.mark.usefixtures("frozen")
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("sight", SIGHTS, ids=lambda sight: sight.name)
def test_it_looks_as_it_was_accepted(
    sight: Sight,
    size: tuple[int, int],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    adviser: Adviser,
    snap_compare: Callable[..., bool],
) -> None:
    monkeypatch.chdir(tmp_path)
    cases = fill_folder(Path())
    app = application(cases, adviser)
    assert snap_compare(app, terminal_size=size, run_before=lambda pilot: reach(pilot, sight))
