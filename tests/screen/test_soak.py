"""Two thousand random keys: nothing crashes, and every case can still be loaded afterwards."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
import textual._wait
from textual.widgets import OptionList

from vibdiag.advice.assess import Adviser
from vibdiag.case.storage import load_case
from vibdiag.screen.keys import CASE_KEYS, START_KEYS
from vibdiag.screen.start import StartScreen

from .stage import application, fill_folder, folders

KEYS = 2000
# A second walk: VIBDIAG_SEED=7 pytest tests/screen/test_soak.py -s
SEEDS = [20260320, *([int(os.environ["VIBDIAG_SEED"])] if "VIBDIAG_SEED" in os.environ else [])]
_BOUND = sorted({key for binding in (*CASE_KEYS, *START_KEYS) for key in binding.key.split(",")})
# Kind of key, how often, and the keys.
_WEIGHTS: list[tuple[float, list[str]]] = [
    (25, _BOUND),
    (25, list("0123456789")),
    (10, list("abcdefghijklmnopqrstuvwxyz")),
    (12, ["enter"]),
    (8, ["escape"]),
    (6, ["tab", "shift+tab"]),
    (10, ["up", "down", "left", "right", "pageup", "pagedown", "home", "end"]),
    (5, ["f1", "f2", "f3", "f4", "ctrl+s", "ctrl+p", "delete", "backspace", "space"]),
    (2, [",", ".", "/", "-", "[", "“", "ö", "ctrl+z", "ctrl+a", "ctrl+x", "ctrl+v"]),
]


def random_key(dice: random.Random) -> str:
    """One key, by weight."""
    (kind,) = dice.choices([keys for _, keys in _WEIGHTS], [weight for weight, _ in _WEIGHTS])
    return dice.choice(kind)


@pytest.mark.parametrize("seed", SEEDS)
async def test_random_keys_break_nothing(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, adviser: Adviser
) -> None:
    # The next key comes 4 ms later, whether the last one has been drawn or not: faster than any hand.
    monkeypatch.setattr(textual._wait, "SLEEP_GRANULARITY", 0.002)
    monkeypatch.setattr(textual._wait, "SLEEP_IDLE", 10.0)
    dice = random.Random(seed)
    cases = fill_folder(tmp_path)
    there = set(folders(tmp_path))
    left, starts, pressed = KEYS, 0, list[str]()
    seen: set[str] = set()
    while left:
        app = application(cases, adviser)  # q, or Quit in the palette, ends it: start again where it was left
        starts += 1
        try:
            async with app.run_test(size=(80, 24)) as pilot:
                await pilot.pause()
                while left and app._exit is False:
                    key = random_key(dice)
                    pressed.append(key)
                    left -= 1
                    await pilot.press(key)
                    seen.add(type(app.screen).__name__)
                    screen = app.screen
                    if isinstance(screen, StartScreen) and left % 5 == 0:
                        box = screen.query_one("#cases", OptionList)
                        box.highlighted = dice.randrange(box.option_count) if box.option_count else None
        except BaseException:
            print(f"seed {seed}, after {len(pressed)} keys, the last of them: {' '.join(pressed[-40:])}")
            raise
    print(f"seed {seed}: {KEYS} keys, {starts} starts, {len(seen)} screens: {', '.join(sorted(seen))}")
    after = set(folders(tmp_path))
    assert there <= after
    for path in after:
        if path.name != "broken.yaml":
            load_case(path)
    assert len(seen) >= 8, "the walk did not get about: the weights want another look"
