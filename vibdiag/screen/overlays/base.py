"""What every overlay shares: a frame, a title, and Escape, which closes it and asks first when something was typed.

A form saves before it closes: while the disk refuses, it stays open with what was typed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Generic, Literal, Self, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Footer, Input, Select, Static, TextArea

from vibdiag.screen.overlays.keep_question import KeepQuestion

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

    at_first: dict[str, object]
    keeper: Callable[[Result], bool] | None = None

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

    def on_mount(self) -> None:
        """Textual calls this beside the subclass's own, and after it: the fields stand as they were filled."""
        self.at_first = self.typed_in()

    # -- handing over -------------------------------------------------------------------------------------------

    def kept_by(self, keeper: Callable[[Result], bool]) -> Self:
        """`keeper` saves what the form hands over and says whether it went; it says itself why not."""
        self.keeper = keeper
        return self

    def hand_over(self, result: Result) -> None:
        """Save, then close; what could not be saved stays as it was typed."""
        if self.keeper is None or self.keeper(result):
            self.dismiss(result)

    # -- what is typed, and not kept yet ------------------------------------------------------------------------

    def typed_in(self) -> dict[str, object]:
        """What stands in each field of the sheet, by its id."""
        fields = [*self.query(Input), *self.query(Select), *self.query(TextArea)]
        return {str(field.id): field.text if isinstance(field, TextArea) else field.value for field in fields}

    def unkept(self) -> bool:
        """Whether leaving now would lose something: a form was changed and not kept."""
        return hasattr(self, "action_keep") and self.typed_in() != self.at_first

    def keep_typed(self) -> None:
        """Keep it as Ctrl+S does; the sheet stays open with a sentence when it cannot be kept."""
        keep = getattr(self, "action_keep", None)
        if keep is not None:
            keep()

    def action_close(self) -> None:
        if self.unkept():
            self.app.push_screen(KeepQuestion(), self.close_as_said)
        else:
            self.dismiss(None)

    def close_as_said(self, answer: Literal["keep", "drop"] | None) -> None:
        if answer == "keep":
            self.keep_typed()
        elif answer == "drop":
            self.dismiss(None)

    async def action_units(self) -> None:
        await self.app.run_action("app.units")
        self.follow()

    def follow(self) -> None:
        """Draw anew what the case or the units changed; what is typed stays."""

    def action_help(self) -> None:
        from vibdiag.screen.overlays.help import HelpOverlay

        self.app.push_screen(HelpOverlay(self.help_topic))
