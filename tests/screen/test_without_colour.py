"""Colour only repeats what characters, bold, underline or reverse already say, and text can be read in every theme."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from rich.color import Color
from rich.style import Style
from textual.pilot import Pilot
from textual.widget import Widget

from vibdiag.advice.assess import Adviser
from vibdiag.screen.themes import THEMES

from .stage import SIGHTS, Sight, application, cells_of, fill_folder, press, reach, said, steady, text_of, words

THEME_NAMES = [theme.name for theme in THEMES]
BY_NAME = {sight.name: sight for sight in SIGHTS}
# WCAG 2.2, success criterion 1.4.3, level AA, for text of ordinary size.
LEAST_RATIO = 4.5
# Parts of the picture that are no text: bars, the marks of a scroll bar, lines between two halves, the arrow of a
# choice. WCAG 2.2, 1.4.11, asks 3:1 of graphics that are needed; the number stands beside every bar.
_DRAWN = set("▁▂▃▄▅▆▇█▏▎▍▌▋▊▉▔▕─│┃━ ")

pytestmark = pytest.mark.usefixtures("frozen")


@asynccontextmanager
async def shown(
    folder: Path, adviser: Adviser, sight: Sight, *, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Pilot[None]]:
    """The application at a sight."""
    app = application(fill_folder(folder), adviser)
    async with app.run_test(size=size) as pilot:
        await reach(pilot, sight)
        yield pilot


# -- the characters ---------------------------------------------------------------------------------------------

Picture = list[list[tuple[str, bool, bool, bool]]]


def colourless(pilot: Pilot[None]) -> Picture:
    """The screen once colour is taken away."""
    return [[cell.without_colour for cell in row] for row in cells_of(pilot.app)]


async def in_themes(pilot: Pilot[None]) -> AsyncIterator[str]:
    """The same screen in one theme after another."""
    for name in THEME_NAMES:
        pilot.app.theme = name
        await steady(pilot)
        yield name


@pytest.mark.parametrize("sight", SIGHTS, ids=lambda sight: sight.name)
async def test_characters_and_weights_are_the_same_in_every_theme_and_without_colour(
    sight: Sight, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, adviser: Adviser
) -> None:
    seen = {}
    async with shown(tmp_path / "colour", adviser, sight) as pilot:
        async for name in in_themes(pilot):
            seen[name] = colourless(pilot)
    monkeypatch.setenv("NO_COLOR", "1")  # textual's own way, https://no-color.org
    async with shown(tmp_path / "plain", adviser, sight) as pilot:
        assert pilot.app.no_color
        seen["without colour"] = colourless(pilot)
        assert not [cell for row in cells_of(pilot.app) for cell in row if _colourful(cell.style)]
    first = seen.pop(THEME_NAMES[0])
    for name, cells in seen.items():
        for place, (row, other) in enumerate(zip(first, cells, strict=True)):
            assert row == other, f"row {place} differs between {THEME_NAMES[0]} and {name}"


def _colourful(style: Style) -> bool:
    """Whether a style shows anything but a grey."""
    return any(colour is not None and len(set(colour.get_truecolor())) > 1 for colour in (style.color, style.bgcolor))


# -- the contrast -----------------------------------------------------------------------------------------------


def _luminance(colour: Color, *, foreground: bool) -> float:
    """Relative luminance, 0 to 1 (WCAG 2.2, definition of "relative luminance", for sRGB)."""
    channels = []
    for value in colour.get_truecolor(foreground=foreground):
        share = value / 255
        channels.append(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)
    red, green, blue = channels
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(style: Style) -> float:
    """Contrast ratio of text and ground, 1 to 21 (WCAG 2.2, definition of "contrast ratio")."""
    default = Color.default()
    one = _luminance(style.color or default, foreground=True)
    other = _luminance(style.bgcolor or default, foreground=False)
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


@pytest.mark.parametrize(
    ("text", "ground", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#767676", "#ffffff", 4.54)],
)
def test_the_formula_gives_the_known_ratios(text: str, ground: str, ratio: float) -> None:
    # Black on white is 21 by definition; #767676 is the lightest grey that passes on white (W3C, Understanding 1.4.3,
    # from memory).
    assert contrast(Style(color=text, bgcolor=ground)) == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize("sight", SIGHTS, ids=lambda sight: sight.name)
async def test_every_text_can_be_read_in_every_theme(sight: Sight, tmp_path: Path, adviser: Adviser) -> None:
    poor: dict[tuple[str, str], float] = {}
    async with shown(tmp_path, adviser, sight, size=(120, 40)) as pilot:
        async for theme in in_themes(pilot):
            for row in cells_of(pilot.app):
                for cell in row:
                    if cell.char not in _DRAWN and (ratio := contrast(cell.style)) < LEAST_RATIO:
                        poor.setdefault((theme, "".join(each.char for each in row).strip()), round(ratio, 2))
    assert not poor


# -- what differs in meaning differs without colour -------------------------------------------------------------


@pytest.mark.parametrize("sight", SIGHTS, ids=lambda sight: sight.name)
async def test_the_place_in_hand_is_seen_without_colour(sight: Sight, tmp_path: Path, adviser: Adviser) -> None:
    """Tab walks through the places; none looks like another once colour is taken away."""
    async with shown(tmp_path, adviser, sight, size=(120, 40)) as pilot:
        app = pilot.app
        seen: list[tuple[Picture, Widget | None]] = []
        for _ in range(min(5, len(app.screen.focus_chain))):
            await steady(pilot)
            picture = colourless(pilot)
            for before, widget in seen:
                assert picture != before, f"{app.focused} looks as {widget}"
            seen.append((picture, app.focused))
            await press(pilot, "tab")
            if app.focused in [widget for _, widget in seen]:
                break


async def test_the_entry_in_hand_is_seen_without_colour(tmp_path: Path, adviser: Adviser) -> None:
    async with shown(tmp_path, adviser, BY_NAME["start"]) as pilot:
        first = colourless(pilot)
        await press(pilot, "down")
        assert colourless(pilot) != first


# Sight, what a person without colour must find there, and what must not stand there.
_SAID = [
    ("danger", "!!  DANGER  !!", "cleared"),
    ("danger", "!! 1 open danger", ""),
    ("question", "ASK", "DANGER"),
    ("start", "DUE: check torque again", ""),
    ("start", "cannot be read", ""),
    ("start", "repaired, to be proven", ""),
    ("start", "(invented)", ""),
    ("causes", "FOR", "DANGER"),
    ("bay", "! CAUTION:", ""),
    ("road", "! CAUTION:", ""),
    ("road", "[x] 95 km/h", ""),
    ("road", "[ ] 90 km/h", ""),
    ("mend", "> MEND <", "> PROVE ON THE SAME ROAD <"),
    ("proof", "> PROVE ON THE SAME ROAD <", "> MEND <"),
    ("proof", "not repeated", ""),
    ("readings", "CANNOT TELL", "OVER"),
    ("readings", "1.8 mm over", ""),
    ("readings", "0.4 mm within", ""),
    ("closed", "CLOSED", "DANGER"),
    ("closed", "Due 02 Apr 2026", "Done"),
    ("due", "DUE since 14 Mar 2026", "DUE since 02 Apr 2026"),
    ("due", "due on 02 Apr 2026", ""),
]


async def test_states_that_differ_in_meaning_differ_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, adviser: Adviser
) -> None:
    for name in dict.fromkeys(name for name, _, _ in _SAID):
        monkeypatch.setenv("NO_COLOR", "1")
        async with shown(tmp_path / name, adviser, BY_NAME[name]) as pilot:
            seen = text_of(pilot.app)
        for _, there, absent in (row for row in _SAID if row[0] == name):
            assert there in seen, f"{name}: {there}"
            assert not absent or absent not in seen, f"{name}: {absent}"
        if name == "causes":  # for and against are told by their signs
            assert re.search(r"^ +\+\d+\.\d  \w", seen, flags=re.MULTILINE)


async def test_a_danger_that_was_cleared_is_told_from_an_open_one_in_words(tmp_path: Path, adviser: Adviser) -> None:
    async with shown(tmp_path, adviser, BY_NAME["danger"]) as pilot:
        await press(pilot, "ctrl+s")
        assert "!! 1 open danger" in text_of(pilot.app)
        await press(pilot, "l", *words("bay-feel-tyres"), "enter")
        assert "! CAUTION:" in said(pilot, "#step-text")
        sound = list(adviser.base.steps["bay-feel-tyres"].outcomes).index("sound") + 1
        await press(pilot, str(sound))
        assert "open danger" not in text_of(pilot.app)
