"""The complaint as the customer tells it: their words, and the speeds with their unit and where they were read."""

from __future__ import annotations

from typing import ClassVar, get_args

from pydantic import ValidationError
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Grid, VerticalScroll
from textual.widgets import Input, Label, Select, Static, TextArea

from vibdiag.case.model import Case, Complaint, SpeedTold
from vibdiag.case.vocabulary import SpeedSource, SpeedUnit
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.form import shown
from vibdiag.work.phrases import said
from vibdiag.work.words_form import SPEED_FIELDS, read_speeds

__all__ = ["WordsOverlay"]


class WordsOverlay(Overlay[Case]):
    """Returns the changed case; a speed that cannot be is said in one sentence and nothing is lost."""

    heading = "THE CUSTOMER'S WORDS    kept as they were said"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Keep")]

    def __init__(self, case: Case) -> None:
        super().__init__()
        self.case = case

    def body(self) -> ComposeResult:
        speed = self.case.complaint.speed
        with VerticalScroll():
            yield Label("Title, a few neutral words")
            yield Input(self.case.title or "", id="title", max_length=200)
            yield Label("In their own words")
            yield TextArea(self.case.complaint.words, id="words")
            with Grid(classes="fields"):
                for field in SPEED_FIELDS:
                    yield Label(field.label)
                    yield Input(shown(getattr(speed, field.path)), id=field.path)
                yield Label("unit")
                yield Select(
                    [(unit, unit) for unit in get_args(SpeedUnit)], value=speed.unit, id="unit", allow_blank=False
                )
                yield Label("read from")
                yield Select(
                    [(said(source), source) for source in get_args(SpeedSource)],
                    value=speed.read_from,
                    id="source",
                    allow_blank=False,
                )
            yield Static("", id="fault", markup=False)
            yield Static("Ctrl+S keeps it. Leave a speed empty when it is not known.", markup=False)

    def on_mount(self) -> None:
        area = self.query_one("#words", TextArea)
        area.move_cursor(area.document.end)  # what is told goes on where it ended
        area.focus()

    def action_keep(self) -> None:
        told = self.case.complaint
        words = self.query_one("#words", TextArea).text.strip()
        title = self.query_one("#title", Input).value.strip() or None
        typed = {field.path: self.query_one(f"#{field.path}", Input).value for field in SPEED_FIELDS}
        speeds, faults = read_speeds(typed)
        if faults:
            path, sentence = next(iter(faults.items()))
            self.refuse(sentence, path)
            return
        if not (words or title or speeds):
            self.refuse("Nothing is written yet: a word of the customer's or a speed is needed.", "words")
            return
        unit, source = self.query_one("#unit", Select).value, self.query_one("#source", Select).value
        try:
            speed = SpeedTold.model_validate(
                speeds | {"unit": unit, "read_from": source, "pattern": told.speed.pattern}
            )
            complaint = Complaint.model_validate(told.model_dump() | {"words": words, "speed": speed})
        except ValidationError as problem:
            first = problem.errors(include_url=False)[0]
            where = first["loc"][-1] if first["loc"] else "speeds"
            self.refuse(f"{where}: {first['msg'].removeprefix('Value error, ')}", "words")
            return
        self.hand_over(self.case.model_copy(update={"complaint": complaint, "title": title}))

    def refuse(self, sentence: str, widget: str) -> None:
        """Say what is wrong, and go where it is put right."""
        box = self.query_one("#fault", Static)
        box.update(f"! {sentence}")
        self.query_one(f"#{widget}").focus()
        box.scroll_visible(animate=False)
