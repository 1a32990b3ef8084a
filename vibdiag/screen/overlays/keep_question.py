"""Asked when a form is left with something typed in it: no key throws it away alone, nor when it is pressed twice."""

from __future__ import annotations

from typing import ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

__all__ = ["KeepQuestion"]


class KeepQuestion(ModalScreen[Literal["keep", "drop"] | None]):
    """Returns keep or drop; None goes back to the form as it is."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,ctrl+s", "answer('keep')", "Keep it", key_display="Enter"),
        Binding("ctrl+d", "answer('drop')", "Throw it away"),
        Binding("escape", "back", "Go on typing"),
    ]

    def compose(self) -> ComposeResult:
        with Vertical(classes="question"):
            yield Static("KEEP WHAT YOU TYPED?", classes="sheet-title", markup=False)
            yield Static("Enter keeps it.  Ctrl+D throws it away.  Esc goes back to it.", markup=False)
        yield Footer(show_command_palette=False)

    def action_answer(self, answer: Literal["keep", "drop"]) -> None:
        self.dismiss(answer)

    def action_back(self) -> None:
        self.dismiss(None)
