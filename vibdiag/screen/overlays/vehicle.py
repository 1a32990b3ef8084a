"""The vehicle: tyres, layout and ratios, and beside them what turns how fast, following every keystroke."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Grid, Horizontal, Vertical, VerticalScroll
from textual.events import Resize
from textual.timer import Timer
from textual.widgets import Input, Label, Select, Static

from vibdiag.advice.turning import turning_table
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import UNITS_OF, Quantity, Unit, Wheel
from vibdiag.files.errors import InputError
from vibdiag.screen.overlays.base import Overlay
from vibdiag.screen.preferences import Preferences
from vibdiag.screen.turning_lines import speed_line, turning_lines, tyre_line
from vibdiag.work.form import FormField
from vibdiag.work.phrases import said
from vibdiag.work.vehicle_form import (
    VEHICLE_FIELDS,
    WHEEL_ROWS,
    VehicleDraft,
    model_of,
    read_vehicle,
    typed_of,
    wheel_value_typed,
)
from vibdiag.work.wheel_readings import WHEELS, reading_of, with_wheel_values

__all__ = ["VehicleOverlay"]

# From this many columns on, the table stands beside the form.
WIDE = 120
# A pause in typing after which the table follows: short enough to feel live, long enough to skip bursts.
_PAUSE_S = 0.08
_MARKINGS = tuple(field for field in VEHICLE_FIELDS if field.kind == "marking")
_OTHERS = tuple(field for field in VEHICLE_FIELDS if field.kind not in ("marking", "text"))
_TEXTS = tuple(field for field in VEHICLE_FIELDS if field.kind == "text")


def _id(path: str) -> str:
    return "field-" + path.replace(".", "-").replace("_", "-")


class VehicleOverlay(Overlay[Case]):
    """Returns the changed case; a field that cannot be is said in one sentence and nothing typed is lost."""

    heading = "THE VEHICLE    and what turns how fast"
    help_topic = "vehicle"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "keep", "Keep"),
        Binding("f2", "units", "Units"),
    ]

    def __init__(self, case: Case, preferences: Preferences) -> None:
        super().__init__()
        self.case = case
        self.preferences = preferences
        self.waiting: Timer | None = None
        self.wheel_units = {quantity: self.unit_for(quantity) for quantity, _ in WHEEL_ROWS}
        self.shown = {(q, wheel): self.shown_at(q, wheel) for q, _ in WHEEL_ROWS for wheel in WHEELS}

    # -- the form -----------------------------------------------------------------------------------------------

    def unit_for(self, quantity: Quantity) -> Unit:
        """The unit the readings stand in, or the chosen one while there are none."""
        readings = [one for wheel in WHEELS if (one := reading_of(self.case, quantity, wheel))]
        if readings:
            return readings[-1].unit
        inch = self.preferences.units.length == "thou"
        return self.preferences.units.pressure if quantity == "tyre-pressure" else "in" if inch else "mm"

    def shown_at(self, quantity: Quantity, wheel: Wheel) -> str:
        """What stands at a wheel; a reading in another unit than the form's is left to the bay's own form."""
        reading = reading_of(self.case, quantity, wheel)
        return f"{reading.value:.12g}" if reading and reading.unit == self.wheel_units[quantity] else ""

    def body(self) -> ComposeResult:
        typed = typed_of(self.case.vehicle)
        with Horizontal(id="vehicle"):
            with VerticalScroll(id="vehicle-form", classes="form", can_focus=False):
                for field in _MARKINGS:
                    with Horizontal(classes="row"):
                        yield Label(field.label)
                        yield Input(typed[field.path], placeholder=field.hint, id=_id(field.path), compact=True)
                    yield Static("", id=f"{_id(field.path)}-line", classes="says", markup=False)
                with Grid(classes="pairs"):
                    for field in _OTHERS:
                        yield Label(field.label)
                        yield self.widget_of(field, typed[field.path])
                for field in _TEXTS:
                    with Horizontal(classes="row"):
                        yield Label(field.label)
                        yield Input(typed[field.path], placeholder=field.hint, id=_id(field.path), compact=True)
                yield from self.wheels()
            with Vertical(id="vehicle-side"):
                yield Static("", id="turning-head", markup=False)
                with VerticalScroll(id="turning"):
                    yield Static("", id="turning-lines", markup=False)
        yield Static("", id="fault", markup=False)

    def widget_of(self, field: FormField, text: str) -> Input | Select[str]:
        if field.kind != "words":
            return Input(text, placeholder=field.hint, id=_id(field.path), compact=True)
        words = [(said(word), word) for word in field.words(model_of(field))]
        return Select(words, value=text, allow_blank=False, compact=True, id=_id(field.path))

    def wheels(self) -> ComposeResult:
        yield Static("Wheel by wheel, seen from above", classes="section", markup=False)
        with Grid(classes="wheels"):
            yield Label("")
            for quantity, label in WHEEL_ROWS:
                yield Label(label)
                units: list[tuple[str, Unit]] = [(unit, unit) for unit in UNITS_OF[quantity]]
                unit = self.wheel_units[quantity]
                yield Select(units, value=unit, allow_blank=False, compact=True, id=f"unit-{quantity}")
            yield Label("")
            for _ in WHEEL_ROWS:
                yield Label("left")
                yield Label("right")
            for end in ("front", "rear"):
                yield Label(end)
                for quantity, _ in WHEEL_ROWS:
                    for wheel in (each for each in WHEELS if each.startswith(end)):
                        yield Input(self.shown[(quantity, wheel)], id=f"{quantity}-{wheel}", compact=True)

    def on_mount(self) -> None:
        self.query_one(f"#{_id('tyres.front')}", Input).focus()
        self.follow()

    def on_resize(self, event: Resize) -> None:
        self.set_class(event.size.width < WIDE, "narrow")

    # -- following the keys -------------------------------------------------------------------------------------

    def on_input_changed(self) -> None:
        self.soon()

    def on_select_changed(self) -> None:
        self.soon()

    def soon(self) -> None:
        if self.waiting is not None:
            self.waiting.stop()
        self.waiting = self.set_timer(_PAUSE_S, self.follow)

    def typed(self) -> dict[str, str]:
        found = {}
        for field in VEHICLE_FIELDS:
            widget = self.query_one(f"#{_id(field.path)}")
            found[field.path] = str(widget.value) if isinstance(widget, Input | Select) else ""
        return found

    def follow(self) -> None:
        """Draw everything anew from what is typed."""
        typed, units = self.typed(), self.preferences.units
        draft = read_vehicle(typed)
        for field in _MARKINGS:
            text = typed[field.path].strip()
            line = self.query_one(f"#{_id(field.path)}-line", Static)
            line.update(tyre_line(text, units) if text else "")
            line.display = bool(text)
        plain = [text for path, text in draft.faults.items() if not path.startswith("tyres.")]
        self.query_one("#fault", Static).update(f"! {plain[0]}" if plain else "")
        head, lines = self.table_lines(draft)
        self.query_one("#turning-head", Static).update(head)
        self.query_one("#turning-lines", Static).update("\n".join(lines))

    def table_lines(self, draft: VehicleDraft) -> tuple[str, list[str]]:
        told, units = self.case.complaint.speed, self.preferences.units
        shown = told.worst or told.starts or told.fades
        if shown is None:
            return "HOW FAST IT TURNS", ["The complaint has no speed yet; write it down with its words (key w)."]
        head = f"HOW FAST IT TURNS at {units.show_speed(shown, told.unit)}"
        if any(path.startswith("tyres.") for path in draft.faults):
            return head, ["A tyre's marking cannot be read; the sentence below it says which part."]
        try:
            table = turning_table(self.case.model_copy(update={"vehicle": draft.vehicle}))
        except InputError as error:
            return head, [error.message.replace("_", " ")]
        if table is None:
            return head, ["Write a tyre's marking as on its sidewall, for example 225/45R17 91W."]
        return f"{head}, {speed_line(table, units)}", turning_lines(table)

    # -- keeping ------------------------------------------------------------------------------------------------

    def action_keep(self) -> None:
        draft = read_vehicle(self.typed())
        if draft.faults:
            path, sentence = next(iter(draft.faults.items()))
            self.refuse(sentence, _id(path) if path != "driveline" else _id("axle_ratio"))
            return
        case = self.case.model_copy(update={"vehicle": draft.vehicle})
        for quantity, label in WHEEL_ROWS:
            values: dict[Wheel, float | None] = {}
            for wheel in self.changed(quantity):
                field = self.query_one(f"#{quantity}-{wheel}", Input)
                try:
                    values[wheel] = wheel_value_typed(field.value)
                except ValueError as error:
                    self.refuse(f"{label}, {wheel.replace('-', ' ')}: {error}.", f"{quantity}-{wheel}")
                    return
            by = self.preferences.name or None
            case = with_wheel_values(case, quantity, values, self.unit_chosen(quantity), by=by)
        self.hand_over(case)

    def unit_chosen(self, quantity: Quantity) -> Unit:
        chosen = self.query_one(f"#unit-{quantity}", Select).value
        return next(unit for unit in UNITS_OF[quantity] if unit == chosen)

    def changed(self, quantity: Quantity) -> list[Wheel]:
        """The wheels whose text or unit is not what was shown at first; an empty field has no unit."""
        same_unit = self.unit_chosen(quantity) == self.wheel_units[quantity]
        texts = {wheel: self.query_one(f"#{quantity}-{wheel}", Input).value.strip() for wheel in WHEELS}
        return [
            wheel for wheel, text in texts.items() if text != self.shown[(quantity, wheel)] or (text and not same_unit)
        ]

    def refuse(self, sentence: str, widget: str) -> None:
        self.query_one("#fault", Static).update(f"! {sentence}")
        self.query_one(f"#{widget}").focus()
