"""What to read back to the customer at the end of the interview."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from vibdiag.screen.overlays.base import Overlay

__all__ = ["SummaryOverlay"]


class SummaryOverlay(Overlay[None]):
    """Plain sentences, one a line."""

    heading = "READ BACK TO THE CUSTOMER"

    def __init__(self, lines: list[str]) -> None:
        super().__init__()
        self.lines = lines

    def body(self) -> ComposeResult:
        with VerticalScroll():
            yield Static("\n\n".join(self.lines), markup=False, classes="sheet-text")

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()
