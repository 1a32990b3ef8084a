"""All steps that are possible now, what pays first on top; type to narrow, Enter to take one."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from vibdiag.advice.next_step import StepAdvice
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.check_text import check_line
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.base import Overlay

__all__ = ["StepsOverlay"]

_KIND = {"question": "ask", "road": "road", "check": "bay"}


class StepsOverlay(Overlay[str]):
    """Returns the id of the chosen step."""

    heading = "CHOOSE A STEP    what tells most per minute first; type to narrow"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "down", show=False),
        Binding("up", "up", show=False),
    ]

    def __init__(self, advised: tuple[StepAdvice, ...], others: tuple[StepText, ...]) -> None:
        super().__init__()
        self.offers: list[tuple[StepText, StepAdvice | None]] = [(item.step, item) for item in advised]
        self.offers += [(step, None) for step in others]

    def body(self) -> ComposeResult:
        yield Input(placeholder="part of a name", id="narrow")
        yield Listing(id="steps", markup=False)
        yield Static("", id="no-step", markup=False)

    def on_mount(self) -> None:
        self.query_one("#narrow", Input).focus()

    def on_resize(self) -> None:
        self.call_after_refresh(lambda: self.fill(self.query_one("#narrow", Input).value))

    def fill(self, text: str) -> None:
        box = self.query_one("#steps", OptionList)
        box.clear_options()
        words, cells = text.lower().split(), max(30, box.outer_size.width - 6)
        lines = [
            (step, f"{_KIND[step.kind]:4} {check_line(step, advice, None, cells=cells - 5)}")
            for step, advice in self.offers
        ]
        box.add_options(
            Option(line, id=step.id)
            for step, line in lines
            if all(word in f"{step.id} {step.title} {line}".lower() for word in words)
        )
        nothing = self.query_one("#no-step", Static)
        nothing.display = not box.option_count
        box.display = bool(box.option_count)
        nothing.update(f"No step that is possible now is called so: {text.strip()}. Esc closes the list.")
        if box.option_count:
            box.highlighted = 0

    def on_input_changed(self, event: Input.Changed) -> None:
        self.fill(event.value)

    def on_input_submitted(self) -> None:
        box = self.query_one("#steps", OptionList)
        if box.highlighted is not None:
            self.dismiss(box.get_option_at_index(box.highlighted).id)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option.id)

    def action_down(self) -> None:
        self.query_one("#steps", OptionList).action_cursor_down()

    def action_up(self) -> None:
        self.query_one("#steps", OptionList).action_cursor_up()
