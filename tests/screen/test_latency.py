"""From the key to the picture: how long an answer takes to be seen, and how long anything holds up the event loop."""

from __future__ import annotations

import asyncio
import gc
import os
import statistics
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from time import perf_counter, thread_time
from typing import Any

import pytest
from rich.console import RenderableType
from textual.screen import Screen

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.screen import app as screen_app
from vibdiag.screen.app import VibdiagApp
from vibdiag.screen.preferences import Preferences
from vibdiag.store.face import Signature
from vibdiag.store.shelf import StoreShelf
from vibdiag.store.store import open_store
from vibdiag.work.casebook import Casebook
from vibdiag.work.shelf import Shelf

from .stage import TREMOR, case_screen, press, settle, sign_dangers

# Design: every keystroke that changes an answer re-plans the next step within 100 ms. VIBDIAG_SLOW_MACHINE allows three
# times as long, for a machine that is busy with something else.
SLACK = 3 if "VIBDIAG_SLOW_MACHINE" in os.environ else 1
MOST_MS, MOST_GAP_MS = 100 * SLACK, 50 * SLACK
ANSWERS = 60
KNOWN: dict[str, Any] = TREMOR | {
    "vehicle": TREMOR["vehicle"] | {"gearbox": "manual", "odometer_km": 84000, "wheels_not_original": "no"},
    "complaint": TREMOR["complaint"]
    | {
        "severity": "plain",
        "shake": "yes",
        "rhythm": "steady",
        "growth": "slow",
        "noise": ["none"],
        "pull": "no",
        "conditions": {
            "braking": "unchanged",
            "accelerating": "unchanged",
            "constant_speed": "brings",
            "coasting": "unchanged",
            "turning_left": "unchanged",
            "turning_right": "unchanged",
            "loaded": "unchanged",
            "cold": "unchanged",
            "idle": "unchanged",
        },
    },
    "history": {
        "not_happened": ["wheels-off", "pothole-or-kerb", "brake-work", "suspension-work", "driveline-work", "sealant"],
        "balance": {"times": 2, "found_g": 10, "effect": "none", "old_weights_removed": "yes", "display_step_g": 5},
    },
    "seen": {"tyre": "nothing", "rim_bent": "no", "wheel_wobbles": "no", "weight_missing": "no"},
}


class Watched(VibdiagApp):
    """Notes when something was painted. Only the time is noted: looking at the picture would itself take long."""

    CSS_PATH = str(Path(screen_app.__file__).with_name("vibdiag.tcss"))

    def __init__(self, shelf: Shelf, preferences: Preferences, adviser: Adviser) -> None:
        super().__init__(shelf, preferences, adviser=adviser)
        self.painted: list[float] = []

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        super()._display(screen, renderable)
        self.painted.append(perf_counter())


@asynccontextmanager
async def gaps() -> AsyncIterator[list[tuple[float, float]]]:
    """How long a task that asks for its turn every millisecond had to wait: milliseconds, and those of them in which
    the event loop's own thread was at work (what other programs on the machine take is not in these)."""
    found: list[tuple[float, float]] = []

    async def watch() -> None:
        while True:
            start, work = perf_counter(), thread_time()
            await asyncio.sleep(0.001)
            found.append(((perf_counter() - start) * 1000 - 1, (thread_time() - work) * 1000))

    task = asyncio.create_task(watch())
    try:
        yield found
    finally:
        task.cancel()


def p95(values: list[float]) -> float:
    """The 95th of a hundred."""
    return statistics.quantiles(values, n=100, method="inclusive")[94]


@pytest.fixture
def loaded() -> Iterator[None]:
    """As the application does once its rule base is read."""
    usual = gc.get_threshold()
    gc.collect()
    screen_app.collect_seldom()
    yield
    gc.set_threshold(*usual)
    gc.unfreeze()


def shelf_with(case: Case, kept: str, folder: Path) -> Shelf:
    """One case, in a file or in a store; both save it to the disk before anything is painted."""
    if kept == "store":
        shelf = StoreShelf(open_store(str(folder / "cases.db")))
        shelf.store.create(case, Signature("A. Tester", "test"))
        return shelf
    (folder / "cases").mkdir()
    save_case(case, folder / "cases" / "known.yaml")
    return Casebook(folder / "cases")


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize("kept", ["folder", "store"])
@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_an_answer_is_seen_at_once_and_nothing_holds_up_the_keys(
    tmp_path: Path, adviser: Adviser, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], kept: str
) -> None:
    case = Case.model_validate(KNOWN)
    shelf = shelf_with(case, kept, tmp_path)
    known = adviser.assess(case).findings.facts
    assert sum(1 for value in known.values() if value != "unknown") >= 40
    (tmp_path / "preferences.json").write_text('{"role": "all"}', encoding="utf-8")
    app = Watched(shelf, Preferences.load(tmp_path / "preferences.json"), adviser)
    seen: list[float] = []
    longest: list[float] = []
    busiest: list[float] = []
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        await pilot.press("enter")
        await settle(pilot)
        screen = case_screen(app)
        show_left, counted = screen.show_left, list[float]()

        def show_and_note(left: int) -> None:
            counted.append(perf_counter())
            show_left(left)

        monkeypatch.setattr(screen, "show_left", show_and_note)
        for turn in range(ANSWERS):
            await sign_dangers(pilot)
            if screen.stop:
                await press(pilot, "enter")  # what must be told at once has been told
            if turn % 4 == 3 or screen.now().step is None:
                await press(pilot, "b")  # back to the last answer, for another one
            before, now = screen.desk.case, screen.now()
            assert now.step is not None
            answer = "2" if now.answered == next(iter(now.step.outcomes)) else "1"
            app.painted.clear()
            counted.clear()
            async with gaps() as found:
                start = perf_counter()
                await press(pilot, answer)
            # The number of questions left is counted aside and painted later; all before it belongs to the answer.
            first, *more = app.painted
            seen.append(
                (max([first, *(when for when in more if when < min(counted, default=when + 1))]) - start) * 1000
            )
            longest.append(max(wall for wall, _ in found))
            busiest.append(max(work for _, work in found))
            assert screen.desk.case != before
    assert len(seen) == len(longest) == ANSWERS
    told = f"key to picture {statistics.median(seen):.0f} ms, p95 {p95(seen):.0f}, most {max(seen):.0f}"
    gap = f"event loop held up p95 {p95(longest):.0f} ms, most {max(longest):.0f}; own work p95 {p95(busiest):.0f}"
    print(f"\n{kept} {size[0]}x{size[1]}: {told}; {gap}")
    assert p95(seen) < MOST_MS, told
    assert p95(longest) < MOST_GAP_MS, gap
