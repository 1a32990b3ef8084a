"""What every overlay shares: a frame, a title, Escape closes it and changes nothing that was not saved."""

from __future__ import annotations

from typing import ClassVar, Generic, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

__all__ = ["TRAVEL_KEYS", "Overlay"]

# For sheets that show the case as it stands and are not typed into: back and forth as on the case itself.
TRAVEL_KEYS = (
    Binding("u", "app.travel('undo')", "Undo"),
    Binding("y", "app.travel('redo')", "Redo", show=False),
)

Result = TypeVar("Result")


class Overlay(ModalScreen[Result], Generic[Result]):
    """A titled sheet over the case. Subclasses give `heading`, `help_topic`, and compose the body."""

    heading: ClassVar[str] = ""
    help_topic: ClassVar[str] = "case"
    # Whether it shows the case as it stands, and follows when somebody else changes it; a form does not.
    live: ClassVar[bool] = False

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "close", "Close"),
        Binding("f1", "help", "Help"),
        # A sheet over the case shuts out the keys of what lies below it.
        Binding("f2", "units", "Units", show=False),
        Binding("f3", "app.next_theme", "Theme", show=False),
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

    async def action_units(self) -> None:
        await self.app.run_action("app.units")
        self.follow()

    def follow(self) -> None:
        """Draw anew what the case or the units changed; what is typed stays."""

    def action_help(self) -> None:
        from vibdiag.screen.overlays.help import HelpOverlay

        self.app.push_screen(HelpOverlay(self.help_topic))
