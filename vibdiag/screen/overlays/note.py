"""One box for words: what was said goes with the next answer, word for word."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static, TextArea

from vibdiag.screen.overlays.base import Overlay

__all__ = ["NoteOverlay"]


class NoteOverlay(Overlay[str]):
    """Returns the text; Escape keeps what was there before."""

    heading = "NOTE    word for word; it is kept with the next answer"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Keep")]

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def body(self) -> ComposeResult:
        yield TextArea(self.text, id="note")
        yield Static("Ctrl+S keeps it.", markup=False)

    def on_mount(self) -> None:
        area = self.query_one(TextArea)
        area.move_cursor(area.document.end)
        area.focus()

    def action_keep(self) -> None:
        self.hand_over(self.query_one(TextArea).text)
