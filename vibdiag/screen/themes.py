"""Three themes of our own: paper for a bright desk, night for a dark bay, and plain black and white for poor screens.

Colour only repeats what words, signs and weight already say.
"""

from __future__ import annotations

from textual.theme import Theme

__all__ = ["DEFAULT_THEME", "THEMES"]

DEFAULT_THEME = "paper"

THEMES = (
    Theme(
        name="paper",
        primary="#2f4858",
        secondary="#5b7083",
        accent="#8a4b08",
        warning="#8a4b08",
        error="#9b1c1c",
        success="#2d6a4f",
        foreground="#1d1d1b",
        background="#f7f4ec",
        surface="#fbf9f4",
        panel="#ece7da",
        dark=False,
    ),
    Theme(
        name="night",
        primary="#a9c1d0",
        secondary="#8295a3",
        accent="#e0b15c",
        warning="#e0b15c",
        error="#f0958a",
        success="#8fd0ab",
        foreground="#e6e3da",
        background="#16191c",
        surface="#1b1f23",
        panel="#262b30",
        dark=True,
    ),
    Theme(
        name="contrast",
        primary="#ffffff",
        secondary="#ffffff",
        accent="#ffff00",
        warning="#ffff00",
        error="#ffffff",
        success="#ffffff",
        foreground="#ffffff",
        background="#000000",
        surface="#000000",
        panel="#000000",
        dark=True,
    ),
)
