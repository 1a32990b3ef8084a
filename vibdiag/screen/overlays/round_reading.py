"""A round of readings on one part: typed in a line, drawn as it lies round the part, and judged while it is typed."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Input, Label, Select, Static

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case, ReadingSet
from vibdiag.case.vocabulary import ReadOn
from vibdiag.screen.overlays.reading_form import ReadingForm
from vibdiag.screen.preferences import Preferences
from vibdiag.screen.round_lines import BRIEF_CAUTION, CAUTION, picture_lines, picture_size, round_lines
from vibdiag.work.desk import now
from vibdiag.work.form import FormField
from vibdiag.work.phrases import said
from vibdiag.work.reading_form import taken_now
from vibdiag.work.round_form import (
    ROUND_FIELDS,
    RoundDraft,
    asked_for,
    places_known,
    read_round,
    typed_of_round,
    units_of,
)
from vibdiag.work.rounds import RoundSeen, name_of, round_at, see_round, turned_on_studs, with_round, without_round
from vibdiag.work.wheel_readings import WHEELS

__all__ = ["RoundReading"]

_BY_PATH = {field.path: field for field in ROUND_FIELDS}
# Rows of fields with the cells of label and field, so that all of them fit 76 cells.
_ROWS: tuple[dict[str, tuple[int, int]], ...] = (
    {"what": (14, 21), "wheel": (12, 15), "unit": (6, 8)},
    {"first_again": (14, 21), "moved_deg": (12, 11), "taken": (8, 10)},
    {"limit": (14, 21), "resolution": (12, 11), "rim": (5, 13)},
)


class RoundReading(ReadingForm):
    """Enter or Ctrl+S keeps. With no readings typed, the round that is kept there is shown: Enter brings it back into
    the fields to be put right, Ctrl+S twice takes it out."""

    title: ClassVar[str] = "A round of readings"
    roomy: ClassVar[bool] = True

    def __init__(self, case: Case, adviser: Adviser, preferences: Preferences) -> None:
        super().__init__(case, adviser, preferences)
        self.what: ReadOn = case.readings[-1].what if case.readings else "tread-radial"
        self.beneath: dict[str, Any] = {}
        self.sent: ReadingSet | None = None
        self.asked = False
        # A kept round that was brought back into the fields, as it stood there.
        self.brought = ""

    def compose(self) -> ComposeResult:
        for field in (_BY_PATH["values"], _BY_PATH["angles_deg"]):
            with Horizontal(classes="row"):
                yield Label(field.label)
                yield Input("", placeholder=field.hint, compact=True, id=f"round-{field.path}")
        for row in _ROWS:
            with Horizontal(classes="round-row"):
                for path, (label_cells, cells) in row.items():
                    label = Label(_BY_PATH[path].label, id=f"round-label-{path}")
                    widget = self.widget_of(_BY_PATH[path])
                    label.styles.width, widget.styles.width = label_cells, cells
                    yield label
                    yield widget
        yield Static(BRIEF_CAUTION, classes="round-row", markup=False)
        with Horizontal(id="round-drawn"):
            yield Static("", id="round-picture", markup=False)
            with VerticalScroll(id="round-side"):
                yield Static("", id="round-words", markup=False)

    def widget_of(self, field: FormField) -> Input | Select[str]:
        if field.kind != "words":
            return Input("", placeholder=field.hint, compact=True, id=f"round-{field.path}")
        first = {"what": self.what, "wheel": WHEELS[0], "taken": taken_now(self.case), "unit": self.usual_unit()}
        words = self.units() if field.path == "unit" else [(said(word), word) for word in field.words(ReadingSet)]
        value = first.get(field.path, "unknown")
        return Select(words, value=value, allow_blank=False, compact=True, id=f"round-{field.path}")

    def units(self) -> list[tuple[str, str]]:
        return [(unit, unit) for unit in units_of(self.what)]

    def usual_unit(self) -> str:
        """The unit rounds were last written in, else the chosen one, else the first."""
        fitting = units_of(self.what)
        wanted = [*(one.unit for one in reversed(self.case.readings)), self.preferences.units.length]
        return next((unit for unit in wanted if unit in fitting), fitting[0])

    def on_mount(self) -> None:
        self.draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self.draw)

    def begin(self) -> None:
        self.query_one("#round-values", Input).focus()

    def show(self, case: Case) -> None:
        super().show(case)
        if self.sent is not None and self.sent in case.readings:  # it is on the disk: the line is free for the next
            self.fill({"values": "", "angles_deg": "", "first_again": ""})
            self.beneath = {}
        self.sent = None
        self.draw()

    # -- following the keys -------------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self.draw()

    def on_select_changed(self, event: Select.Changed) -> None:
        event.stop()
        if event.select.id == "round-what" and event.value != self.what:
            self.place_at(next(each for each in places_known() if each == event.value))
        self.draw()

    def place_at(self, what: ReadOn) -> None:
        """Another place: its units, and no limit of the former one."""
        self.what = what
        with self.prevent(Select.Changed, Input.Changed):
            unit = self.query_one("#round-unit", Select)
            unit.set_options(self.units())
            unit.value = self.usual_unit()
            self.query_one("#round-limit", Input).value = ""

    def fill(self, texts: dict[str, str]) -> None:
        with self.prevent(Select.Changed, Input.Changed):
            for path, text in texts.items():
                widget = self.query_one(f"#round-{path}")
                if isinstance(widget, Input | Select):
                    widget.value = text

    def typed(self) -> dict[str, str]:
        """What stands in the fields that mean something for the place in hand."""
        found = {}
        for path in asked_for(self.what):
            widget = self.query_one(f"#round-{path}")
            if isinstance(widget, Input | Select):
                found[path] = str(widget.value)
        return found

    def draft(self) -> RoundDraft:
        """What was typed; a round that cannot be fitted has its sentence among the faults."""
        draft = read_round(self.typed(), beneath=self.beneath, by=self.preferences.name or None, at=now())
        if draft.one is None:
            return draft
        try:
            see_round(draft.one)
        except ValueError as error:
            return RoundDraft(None, {"values": str(error)}, draft.count, draft.missing)
        return draft

    def kept(self) -> ReadingSet | None:
        """The round in force at the place that is chosen."""
        typed = self.typed()
        like = read_round(
            typed
            | {"values": "0 0 0 0" if self.what != "disc-thickness" else "1 1 1 1", "angles_deg": "", "first_again": ""}
        )
        one = like.one
        return one and round_at(self.case, one.what, one.wheel, one.moved_deg, after=one.taken == "after")

    def draw(self) -> None:
        self.asked = False
        asked = asked_for(self.what)
        for path in (path for row in _ROWS for path in row):
            for each in (f"#round-label-{path}", f"#round-{path}"):
                self.query_one(each).display = path in asked
        draft = self.draft()
        empty = not self.query_one("#round-values", Input).value.strip()
        if empty:
            self.beneath = {}
        one = self.kept() if empty else draft.one
        seen = see_round(one) if one is not None else None
        self.draw_picture(seen)
        lines = [self.head(draft, one, empty=empty)]
        if seen is not None:
            lines += round_lines(seen, turned_on_studs(self.case, seen.one), self.preferences.units)
        else:
            lines.append(CAUTION)
        self.say("\n".join(line for line in lines if line))

    def head(self, draft: RoundDraft, one: ReadingSet | None, *, empty: bool) -> str:
        """What is wrong or missing, else nothing."""
        fault = next(iter(draft.faults.values()), "")
        if empty and one is not None:
            return "Kept. Enter brings it back to be put right; Ctrl+S twice takes it out."
        if empty and not fault:
            return "Write the readings in order, as the part turns driving forward, the first at the valve or mark."
        return f"! {fault}" if fault else ""

    def draw_picture(self, seen: RoundSeen | None) -> None:
        room = self.query_one("#round-drawn").size
        size = picture_size(room.width, room.height)
        picture = self.query_one("#round-picture", Static)
        picture.display = seen is not None and size is not None
        if seen is not None and size is not None:
            picture.styles.width = size[0] + 1
            picture.update("\n".join(picture_lines(seen, *size)))

    def say(self, words: str) -> None:
        self.query_one("#round-words", Static).update(words)

    # -- keeping ------------------------------------------------------------------------------------------------

    def unkept(self) -> bool:
        text = self.query_one("#round-values", Input).value.strip()
        return bool(text) and text != self.brought

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        one = self.kept()
        if not self.query_one("#round-values", Input).value.strip() and one is not None:
            self.bring_back(one)
        else:
            self.keep()

    def bring_back(self, one: ReadingSet) -> None:
        """Into the fields again; what has no field stays with it."""
        own = {"by", "at", *_BY_PATH}
        self.beneath = {path: value for path, value in one.model_dump().items() if path not in own}
        self.fill(typed_of_round(one))
        self.brought = self.query_one("#round-values", Input).value.strip()
        self.draw()
        self.begin()

    def keep(self) -> None:
        draft = self.draft()
        if draft.one is not None:
            self.sent = draft.one
            verdict = said(see_round(draft.one).sign)
            self.post_message(self.Kept(with_round(self.case, draft.one), f"{name_of(draft.one)}: {verdict}"))
        elif draft.faults:
            self.query_one(f"#round-{next(iter(draft.faults))}").focus()
        else:
            self.withdraw()

    def withdraw(self) -> None:
        """No readings typed, twice: take out what is kept there; when nothing is, say so."""
        one = self.kept()
        if one is None:
            self.say(f"! Readings: write the numbers in a line, for example {_BY_PATH['values'].example}.")
            self.begin()
        elif not self.asked:
            self.say(f"! Ctrl+S once more takes out {name_of(one)}.")
            self.asked = True
        else:
            case = without_round(self.case, one.what, one.wheel, one.moved_deg, after=one.taken == "after")
            self.post_message(self.Kept(case, f"withdrew {name_of(one)}"))
