"""Help for the place one is at: first the trade, then the keys."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from vibdiag.screen.help_data import HELP
from vibdiag.screen.keys import KEY_HELP, START_HELP
from vibdiag.screen.overlays.base import Overlay

__all__ = ["HelpOverlay"]


class HelpOverlay(Overlay[None]):
    """Scroll with the arrow keys, close with Escape."""

    heading = "HELP"

    def __init__(self, topic: str) -> None:
        super().__init__()
        self.topic = topic

    def body(self) -> ComposeResult:
        trade = "\n\n".join(HELP[self.topic])
        keys = "\n".join(f"{key:8} {what}" for key, what in (START_HELP if self.topic == "start" else KEY_HELP))
        with VerticalScroll():
            yield Static(f"{trade}\n\nKEYS\n\n{keys}", markup=False, classes="sheet-text")

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_help(self) -> None:
        self.dismiss(None)
