"""What every overlay shares: a frame, a title, Escape closes it and changes nothing that was not saved."""

from __future__ import annotations

from typing import ClassVar, Generic, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

__all__ = ["Overlay"]

Result = TypeVar("Result")


class Overlay(ModalScreen[Result], Generic[Result]):
    """A titled sheet over the case. Subclasses give `heading`, `help_topic`, and compose the body."""

    heading: ClassVar[str] = ""
    help_topic: ClassVar[str] = "case"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "close", "Close"),
        Binding("f1", "help", "Help"),
    ]

    def compose(self) -> ComposeResult:
        with Vertical(classes="sheet"):
            yield Static(self.heading, classes="sheet-title", markup=False)
            yield from self.body()
        yield Footer(show_command_palette=False)

    def body(self) -> ComposeResult:
        """The widgets of the sheet."""
        raise NotImplementedError

    def action_close(self) -> None:
        self.dismiss(None)

    def action_help(self) -> None:
        from vibdiag.screen.overlays.help import HelpOverlay

        self.app.push_screen(HelpOverlay(self.help_topic))
