"""A repair that was done: by whom, and what exactly. Its caution stands here too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Input, Label, Static, TextArea

from vibdiag.advice.next_step import RepairAdvice
from vibdiag.screen.overlays.base import Overlay

__all__ = ["RepairDone", "RepairDoneOverlay"]


@dataclass(frozen=True)
class RepairDone:
    """What is written down about the work."""

    cause: str
    by: str
    note: str


class RepairDoneOverlay(Overlay[RepairDone]):
    """Returns what was done; Escape records nothing."""

    heading = "THE REPAIR IS DONE    one change at a time, then the proof"
    help_topic = "proof"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Keep")]

    def __init__(self, advice: RepairAdvice, by: str) -> None:
        super().__init__()
        self.advice, self.by = advice, by

    def body(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(f"{self.advice.does}\n\n! CAUTION: {self.advice.caution}\n", markup=False)
            yield Label("Done by")
            yield Input(self.by, id="by", max_length=100)
            yield Label("What was done, found and fitted, with numbers")
            yield TextArea("", id="done")
            yield Static("Ctrl+S keeps it.", markup=False)

    def on_mount(self) -> None:
        self.query_one("#done" if self.by else "#by").focus()

    def action_keep(self) -> None:
        by, note = self.query_one("#by", Input).value.strip(), self.query_one("#done", TextArea).text.strip()
        self.hand_over(RepairDone(self.advice.cause, by, note))
