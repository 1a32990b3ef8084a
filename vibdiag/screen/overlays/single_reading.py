"""One value at one wheel: typed, and drawn against the limits that apply while it is typed."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Grid, Horizontal
from textual.widgets import Input, Label, Select, Static

from vibdiag.advice.assess import Adviser
from vibdiag.advice.limits import Judged, judge_reading, limits_of
from vibdiag.case.model import Case, Measurement
from vibdiag.case.vocabulary import UNITS_OF, Quantity, Unit, Wheel
from vibdiag.screen.limit_bar import Mark, limit_bar
from vibdiag.screen.overlays.reading_form import ReadingForm
from vibdiag.screen.preferences import Preferences
from vibdiag.work.desk import now
from vibdiag.work.form import FormField
from vibdiag.work.phrases import said
from vibdiag.work.reading_form import READING_FIELDS, ReadingDraft, read_reading, taken_now
from vibdiag.work.wheel_readings import WHEELS, reading_of, with_reading, without_reading

__all__ = ["SingleReading"]

_CELLS = 44
# What a reading of these is taken at; the other quantities do not depend on the speed.
_AT_SPEED: tuple[Quantity, ...] = ("frequency", "shake-level", "brake-temperature")


class SingleReading(ReadingForm):
    """Enter in a typed field, or Ctrl+S, keeps; then the next wheel without a reading comes up."""

    title: ClassVar[str] = "One value at one wheel"

    def __init__(self, case: Case, adviser: Adviser, preferences: Preferences) -> None:
        super().__init__(case, adviser, preferences)
        self.sent: Measurement | None = None
        self.quantity: Quantity = next(
            (one.quantity for one in reversed(case.measurements) if one.wheel != "unknown"), "tread-radial-runout"
        )

    def compose(self) -> ComposeResult:
        wide, *others = READING_FIELDS
        with Horizontal(classes="row"):
            yield Label(wide.label)
            yield self.widget_of(wide)
        with Grid(classes="pairs"):
            for field in others:
                yield Label(self.label_of(field), id=f"label-{field.path}")
                yield self.widget_of(field)
        yield Static("", id="reading-fault", markup=False)
        yield Static("", id="reading-bar", markup=False)

    def label_of(self, field: FormField) -> str:
        return f"{field.label}, {self.case.complaint.speed.unit}" if field.path == "speed" else field.label

    def widget_of(self, field: FormField) -> Input | Select[str]:
        if field.kind != "words":
            return Input("", placeholder=field.hint, compact=True, id=field.path)
        first = {
            "quantity": self.quantity,
            "wheel": WHEELS[0],
            "taken": taken_now(self.case),
            "unit": self.usual_unit(),
        }
        words = self.units() if field.path == "unit" else [(said(word), word) for word in field.words(Measurement)]
        return Select(words, value=first[field.path], allow_blank=False, compact=True, id=field.path)

    def units(self) -> list[tuple[str, str]]:
        return [(unit, unit) for unit in UNITS_OF[self.quantity]]

    def usual_unit(self) -> Unit:
        """The unit this quantity was last written in, else the chosen one, else its first."""
        chosen, fitting = set(vars(self.preferences.units).values()), UNITS_OF[self.quantity]
        written = [one.unit for one in self.case.measurements if one.quantity == self.quantity]
        return written[-1] if written else next((unit for unit in fitting if unit in chosen), fitting[0])

    def on_mount(self) -> None:
        self.draw()
        self.post_message(self.Quantified(self.quantity))

    def begin(self) -> None:
        self.query_one("#value", Input).focus()

    def show(self, case: Case) -> None:
        super().show(case)
        if self.sent is not None and self.sent in case.measurements:  # it is on the disk: free for the next
            self.go_on(self.sent)
        self.sent = None
        self.draw()

    # -- following the keys -------------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self.draw()

    def on_select_changed(self, event: Select.Changed) -> None:
        event.stop()
        if event.select.id == "quantity" and event.value != self.quantity:
            self.quantity = next(each for each in UNITS_OF if each == event.value)
            unit = self.query_one("#unit", Select)
            with self.prevent(Select.Changed):
                unit.set_options(self.units())
                unit.value = self.usual_unit()
            self.query_one("#limit", Input).value = ""
            self.post_message(self.Quantified(self.quantity))
        self.draw()

    def typed(self) -> dict[str, str]:
        found = {}
        for field in READING_FIELDS:
            widget = self.query_one(f"#{field.path}")
            if isinstance(widget, Input | Select) and widget.display:
                found[field.path] = str(widget.value)
        return found

    def draft(self) -> ReadingDraft:
        return read_reading(self.typed(), by=self.preferences.name or None, at=now())

    def draw(self) -> None:
        for each in ("#label-speed", "#speed"):
            self.query_one(each).display = self.quantity in _AT_SPEED
        draft = self.draft()
        fault = next(iter(draft.faults.values()), "")
        self.query_one("#reading-fault", Static).update(f"! {fault}" if fault else "")
        self.query_one("#reading-fault").display = bool(fault)
        self.query_one("#reading-bar", Static).update("\n".join(self.lines(draft.reading)))

    def lines(self, reading: Measurement | None) -> list[str]:
        """The bar, the limits and the words for a reading; the limits alone while none is typed."""
        units = self.preferences.units
        if reading is None:
            marks = self.marks(self.quantity, self.usual_unit(), None)
            head = "Write the reading; the bar follows."
            return (
                [head, *limit_bar(0.0, marks, cells=_CELLS)] if marks else [head, "The rule base has no limit for it."]
            )
        others = [one for one in self.case.measurements if one.wheel != reading.wheel]
        judged = judge_reading(reading, self.adviser, others=others)
        marks = self.marks(reading.quantity, reading.unit, reading.limit)
        bar = limit_bar(judged.size or 0.0, marks, cells=_CELLS) if marks else []
        head = f"{said(judged.word).upper()}   {units.show(reading.value, reading.unit)}"
        if judged.size is not None and judged.size != abs(reading.value):
            head += f", the highest lies {units.show(judged.size, reading.unit)} above the next"
        return [head, *bar, *_reasons(judged)]

    def marks(self, quantity: Quantity, unit: Unit, makers: float | None) -> list[Mark]:
        """The maker's limit when there is one, else the rule base's."""
        show = self.preferences.units.show
        if makers is not None:
            return [Mark(makers, f"{show(makers, unit)}, the maker's")]
        return [
            Mark(limit.number, f"{limit.side} {show(limit.number, unit)}: {said(limit.word)}")
            for limit in limits_of(quantity, self.adviser.base, unit=unit)
        ]

    # -- keeping ------------------------------------------------------------------------------------------------

    def unkept(self) -> bool:
        return bool(self.query_one("#value", Input).value.strip())

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.keep()

    def keep(self) -> None:
        draft = self.draft()
        if draft.reading is not None:
            self.sent = draft.reading
            kept = with_reading(self.case, draft.reading)
            self.post_message(self.Kept(kept, f"{said(self.quantity)} {said(draft.reading.wheel)}"))
        elif draft.faults:
            self.query_one(f"#{next(iter(draft.faults))}").focus()
        else:
            self.withdraw()

    def withdraw(self) -> None:
        """An empty value takes out what stands there; when nothing does, say so."""
        wheel = next(each for each in (*WHEELS, "unknown") if each == self.query_one("#wheel", Select).value)
        after = self.query_one("#taken", Select).value == "after"
        if reading_of(self.case, self.quantity, wheel, after=after) is None:
            fault = self.query_one("#reading-fault", Static)
            fault.display = True
            fault.update("! Reading: write the number the instrument shows, for example 0.8.")
            self.begin()
            return
        self.post_message(
            self.Kept(
                without_reading(self.case, self.quantity, wheel, after=after),
                f"withdrew {said(self.quantity)} {said(wheel)}",
            )
        )

    def go_on(self, kept: Measurement) -> None:
        """The field is empty again, for the next wheel without a reading."""
        after = kept.taken == "after"
        self.query_one("#value", Input).value = ""
        if kept.wheel != "unknown":
            free: list[Wheel] = [w for w in WHEELS if reading_of(self.case, self.quantity, w, after=after) is None]
            if free:
                self.query_one("#wheel", Select).value = free[0]
        self.begin()


def _reasons(judged: Judged) -> list[str]:
    source = f" ({judged.source})" if judged.source else ""
    moves = "It counts in the ranking." if judged.weighs else "It does not count in the ranking by itself."
    return [f"{judged.because}{source}", moves]
