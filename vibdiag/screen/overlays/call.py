"""The call after a repair: the three questions to read aloud, one key each, and what to do when the shake is back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, get_args

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Input, Label, Select, Static

from vibdiag.case.model import Case
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.call import CALL_CAUTION, Answer, answers_in_words, must_come_back
from vibdiag.work.figures import CALL_QUESTIONS

__all__ = ["CallOverlay", "Called"]


@dataclass(frozen=True)
class Called:
    """What was said, as it is kept, and whether the car must come back."""

    said: str
    come_back: bool


class CallOverlay(Overlay[Called]):
    """Returns what was said on the telephone; Escape leaves the call to be made."""

    heading = "THE CALL    read aloud, choose the answers; Ctrl+S keeps them"
    help_topic = "start"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Called")]

    def __init__(self, case: Case) -> None:
        super().__init__()
        self.case = case

    def body(self) -> ComposeResult:
        answers = [(answer, answer) for answer in get_args(Answer)]
        with VerticalScroll():
            if self.case.outcome is not None and self.case.outcome.proof:
                yield Static(f"It was proven so: {self.case.outcome.proof}", classes="says", markup=False)
            for place, question in enumerate(CALL_QUESTIONS):
                yield Static(f"{place + 1}. “{question}”", markup=False)
                yield Select(answers, value="not asked", allow_blank=False, id=f"call-{place}")
            yield Label("What else was said")
            yield Input(id="call-note", max_length=500)
            yield Static("", id="call-caution", markup=False)

    def on_mount(self) -> None:
        self.query_one("#call-0").focus()

    def answers(self) -> list[Answer]:
        given = [self.query_one(f"#call-{place}", Select).value for place in range(len(CALL_QUESTIONS))]
        return [next(word for word in get_args(Answer) if word == one) for one in given]

    def on_select_changed(self) -> None:
        back = must_come_back(self.answers())
        self.query_one("#call-caution", Static).update(f"!! {CALL_CAUTION}" if back else "")

    def on_input_submitted(self) -> None:
        self.action_keep()

    def action_keep(self) -> None:
        answers = self.answers()
        if all(answer == "not asked" for answer in answers) and not self.query_one("#call-note", Input).value.strip():
            self.notify("Nothing was asked yet: choose the answers, or write what was said.", severity="warning")
            return
        said = answers_in_words(answers, self.query_one("#call-note", Input).value)
        self.hand_over(Called(said, bool(must_come_back(answers))))
