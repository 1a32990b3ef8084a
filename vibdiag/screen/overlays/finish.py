"""Closing a case: the confirmed cause, where it was, and what proves it; drafted from the case, all of it editable."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar, get_args

from pydantic import ValidationError
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Grid, VerticalScroll
from textual.widgets import Input, Label, Select, Static, TextArea

from vibdiag.advice.assess import Assessment
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import Axle, CauseId, Wheel
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.proof import Closing, close, draft_closing

__all__ = ["FinishOverlay", "Learned", "LearnedOverlay"]


class FinishOverlay(Overlay[Case]):
    """Returns the closed case; what cannot be is said in one sentence and nothing typed is lost."""

    heading = "FINISH THE CASE    what it was, and what shows that it is gone"
    help_topic = "proof"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Finish")]

    def __init__(self, assessment: Assessment, base: RuleBase, by: str) -> None:
        super().__init__()
        self.assessment, self.base, self.by = assessment, base, by
        self.draft = draft_closing(assessment, base)
        self.warned = False

    def body(self) -> ComposeResult:
        draft = self.draft
        causes = [(self.base.causes[cause.id].short, cause.id) for cause in self.assessment.causes]
        with VerticalScroll():
            yield Label("What shows that it is gone: the same road, the same speed, the numbers")
            yield TextArea(draft.proof, id="proof")
            with Grid(classes="fields"):
                yield Label("cause")
                yield Select(causes, value=draft.cause, id="cause", allow_blank=False)
                yield Label("axle")
                yield Select(_words(Axle), value=draft.axle, id="axle", allow_blank=False)
                yield Label("wheel")
                yield Select(_words(Wheel), value=draft.wheel, id="wheel", allow_blank=False)
                yield Label("place")
                yield Input(draft.place, id="place", max_length=500)
                yield Label("closed by")
                yield Input(self.by, id="by", max_length=100)
                yield Label("wheels off")
                yield Select(
                    [("yes: torque again", True), ("no", False)],
                    value=draft.wheels_were_off,
                    id="off",
                    allow_blank=False,
                )
            yield Static("", id="fault", markup=False)
            yield Static(
                "Ctrl+S finishes it. Due then: a call after a week and, when wheels were off, the torque once more "
                "after 50 to 100 km (common practice), to the vehicle maker's figure.",
                markup=False,
            )

    def on_mount(self) -> None:
        self.query_one("#proof", TextArea).focus()

    def action_keep(self) -> None:
        cause: CauseId = self.query_one("#cause", Select).value  # type: ignore[assignment]
        axle: Axle = self.query_one("#axle", Select).value  # type: ignore[assignment]
        wheel: Wheel = self.query_one("#wheel", Select).value  # type: ignore[assignment]
        closing = Closing(
            cause,
            axle,
            wheel,
            self.query_one("#place", Input).value,
            self.query_one("#proof", TextArea).text,
            self.draft.confirming_step if cause == self.draft.cause else None,
            self.query_one("#off", Select).value is True,
        )
        by = self.query_one("#by", Input).value.strip()
        if not closing.proof.strip() and not self.warned:
            self.warned = True
            self.say("nothing shows yet that it is gone: write it above, or press Ctrl+S once more to close without")
            return
        try:
            case = close(self.assessment, closing, self.base, by=by, today=date.today())
        except ValidationError as problem:
            first = problem.errors(include_url=False)[0]
            self.say(f"{first['loc'][-1]}: {first['msg']}")
        except ValueError as problem:
            self.say(str(problem))
        else:
            self.hand_over(case)

    def say(self, sentence: str) -> None:
        box = self.query_one("#fault", Static)
        box.update(f"! {sentence}")
        box.scroll_visible(animate=False)


def _words(kind: object) -> list[tuple[str, str]]:
    return [(word.replace("-", " "), word) for word in get_args(kind)]


@dataclass(frozen=True)
class Learned:
    """What was learned when a closed case is opened again, and whether the shake it was closed for has come back."""

    words: str
    came_back: bool


class LearnedOverlay(Overlay[Learned]):
    """Two keys reopen the case, one for each meaning; without words it stays closed."""

    heading = "REOPEN    it came back: Ctrl+S    it was something else: Ctrl+O"
    help_topic = "proof"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "keep", "It came back"),
        Binding("ctrl+o", "something_else", "Something else"),
    ]

    def body(self) -> ComposeResult:
        yield Label("What is different from what the proof said?")
        yield TextArea("", id="note")
        yield Static(
            "It came back: the repair did not hold. Something else: what the repair did stays as it was.", markup=False
        )

    def on_mount(self) -> None:
        self.query_one(TextArea).focus()

    def keep_typed(self) -> None:
        """Which of the two it was cannot be guessed."""
        self.notify("Ctrl+S: it came back. Ctrl+O: it was something else.", severity="warning")

    def action_keep(self) -> None:
        self.learned(came_back=True)

    def action_something_else(self) -> None:
        self.learned(came_back=False)

    def learned(self, *, came_back: bool) -> None:
        words = self.query_one(TextArea).text.strip()
        if words:
            self.hand_over(Learned(words, came_back))
        else:
            self.notify("Write what was learned; a case is not reopened without a reason.", severity="warning")
