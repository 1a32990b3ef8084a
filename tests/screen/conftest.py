"""Fixtures for the proof of the screens: keys without waiting, and a clock that stands still."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
import textual._wait

from vibdiag.advice.assess import Adviser
from vibdiag.screen import step_panel
from vibdiag.screen.app import collect_seldom
from vibdiag.work import desk

TODAY = date(2026, 3, 20)
_NOW = datetime(2026, 3, 20, 10, 0, tzinfo=UTC)


@pytest.fixture(scope="session", autouse=True)
def seldom(adviser: Adviser) -> Iterator[None]:
    """Python's collector runs as seldom as in the application itself; the rule base is loaded first."""
    usual = gc.get_threshold()
    gc.collect()
    collect_seldom()
    yield
    gc.set_threshold(*usual)
    gc.unfreeze()


@pytest.fixture(autouse=True)
def brisk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pilot looks every 4 ms, not every 20, whether the application has come to rest."""
    monkeypatch.setattr(textual._wait, "SLEEP_GRANULARITY", 0.004)
    monkeypatch.setattr(textual._wait, "SLEEP_IDLE", 0.001)


@pytest.fixture(autouse=True)
def read_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever tests reads a danger at once; how long it must have been in sight is a test of its own."""
    monkeypatch.setattr(step_panel, "IN_SIGHT_S", 0.0)


class _StandingDate(date):
    """A date whose today never changes."""

    @classmethod
    def today(cls) -> date:  # type: ignore[override]
        return TODAY


@pytest.fixture
def frozen(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """20 March 2026, 10:00 UTC, for every module of the program that asks for the time."""
    real = desk.now
    for name, module in list(sys.modules.items()):
        if not name.startswith("vibdiag."):
            continue
        if getattr(module, "now", None) is real:
            monkeypatch.setattr(module, "now", lambda: _NOW)
        if getattr(module, "date", None) is date:
            monkeypatch.setattr(module, "date", _StandingDate)
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()
