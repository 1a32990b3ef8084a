"""The bay: checks in the order that pays, their results, and readings wheel by wheel against their limits."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.events import Resize
from textual.widgets import ContentSwitcher, OptionList, Select, Static
from textual.widgets.option_list import Option

from vibdiag.advice.assess import Assessment
from vibdiag.advice.limits import judge_reading
from vibdiag.advice.next_step import Shop, StepAdvice, next_steps, possible
from vibdiag.case.model import Case, Measurement, StepResult
from vibdiag.case.vocabulary import Quantity
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.check_text import HOWS, check_head, check_line, check_manner, outcome_lines
from vibdiag.screen.corner_grid import corner_lines
from vibdiag.screen.folding import hanging
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.base import TRAVEL_KEYS, Overlay
from vibdiag.screen.overlays.reading_form import ReadingForm
from vibdiag.screen.overlays.reading_forms import READING_FORMS
from vibdiag.screen.preferences import Preferences
from vibdiag.screen.ranking_line import ranking_line
from vibdiag.work.desk import Desk
from vibdiag.work.phrases import said
from vibdiag.work.wheel_readings import readings_at

__all__ = ["BayOverlay"]

# From these many columns on, the check stands beside the list, and the readings beside both.
WIDE, BROAD = 120, 180
_BAY = Shop(who=frozenset({"bay"}))
_MOST_CHECKS = 40
_CORNER_CELLS = 56

Apply = Callable[[Case, str], bool]
Record = Callable[[StepText, str, str], bool]


class BayOverlay(Overlay[None]):
    """`apply` makes a case the present one, `record` keeps a result (step, outcome, how); both say whether it went."""

    heading = "IN THE BAY    what tells most per minute first"
    help_topic = "bay"
    live: ClassVar[bool] = True
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(str(number), f"choose({number})", show=False) for number in range(10)),
        Binding("h", "how", "How got"),
        Binding("f4", "turn", "Checks / readings"),
        Binding("ctrl+s", "keep", "Keep reading"),
        *TRAVEL_KEYS,
    ]

    def __init__(self, desk: Desk, preferences: Preferences, apply: Apply, record: Record) -> None:
        super().__init__()
        self.desk = desk
        self.preferences = preferences
        self.apply = apply
        self.record = record
        self.how = "measured"
        self.advised: dict[str, StepAdvice] = {}
        self.quantity: Quantity | None = None

    def body(self) -> ComposeResult:
        with Horizontal(id="bay"):
            yield Listing(id="checks", markup=False)
            with VerticalScroll(id="check", can_focus=True):
                yield Static("", id="check-head", markup=False)
                yield Listing(id="outcomes", markup=False)
                yield Static("", id="check-manner", markup=False)
            with VerticalScroll(id="readings", can_focus=False):
                forms = {
                    name: kind(self.desk.case, self.desk.adviser, self.preferences)
                    for name, kind in READING_FORMS.items()
                }
                if len(forms) > 1:
                    titles = [(form.title, name) for name, form in forms.items()]
                    yield Select(titles, value=titles[0][1], allow_blank=False, compact=True, id="family")
                with ContentSwitcher(initial=f"form-{next(iter(forms))}"):
                    for name, form in forms.items():
                        form.id = f"form-{name}"
                        yield form
                yield Static("", id="corners", markup=False)
        yield Static("", id="moved", markup=False)

    def on_mount(self) -> None:
        self.say_dangers()
        self.query_one("#checks").focus()

    def on_resize(self, event: Resize) -> None:
        self.set_class(event.size.width < WIDE, "narrow")
        self.set_class(event.size.width >= BROAD, "broad")
        self.call_after_refresh(self.fill)

    # -- checks -------------------------------------------------------------------------------------------------

    def fill(self, *, top: bool = False) -> None:
        """The checks anew: what pays first, then what tells little now, then what is done."""
        found, base = self.desk.assessment, self.desk.adviser.base
        still = found.stands_still
        advised = next_steps(
            found.belief, found.findings, found.dangers, base, shop=_BAY, count=_MOST_CHECKS, still=still
        )
        self.advised = {item.step.id: item for item in advised if item.step.kind == "check"}
        rest = [
            step
            for step in base.steps.values()
            if step.kind == "check" and step.id not in self.advised and possible(step, found.findings)
        ]
        done = self.results()
        rest.sort(key=lambda step: step.id in done)
        box = self.query_one("#checks", OptionList)
        kept = None if top or box.highlighted is None else box.get_option_at_index(box.highlighted).id
        cells = max(30, box.size.width - 4)
        box.clear_options()
        box.add_options(
            Option(check_line(step, self.advised.get(step.id), done.get(step.id), cells=cells), id=step.id)
            for step in [*(item.step for item in self.advised.values()), *rest]
        )
        box.highlighted = box.get_option_index(kept) if kept else 0
        self.show_check()

    def results(self) -> dict[str, StepResult]:
        """The last result of each step from before the repair; what was seen after it is the proof's."""
        return {result.step: result for result in self.desk.case.steps if result.taken != "after"}

    def step(self) -> StepText | None:
        box = self.query_one("#checks", OptionList)
        if box.highlighted is None:
            return None
        return self.desk.adviser.base.steps[str(box.get_option_at_index(box.highlighted).id)]

    def show_check(self) -> None:
        step = self.step()
        if step is None:
            return
        advice = self.advised.get(step.id)
        names = {cause.id: cause.short for cause in self.desk.adviser.base.causes.values()}
        result = self.results().get(step.id)
        self.query_one("#check-head", Static).update("\n".join(check_head(step, advice, result, self.how)))
        outcomes = self.query_one("#outcomes", OptionList)
        outcomes.clear_options()
        cells = max(30, self.query_one("#check", VerticalScroll).scrollable_content_region.width - 2)
        outcomes.add_options(
            Option("\n".join(hanging(line, cells, indent=4)), id=word)
            for word, line in outcome_lines(step, advice, names)
        )
        self.query_one("#check-manner", Static).update("\n".join(check_manner(step)))

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        if event.option_list.id == "checks":
            self.show_check()
            self.query_one("#check", VerticalScroll).scroll_home(animate=False)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_list.id == "checks":
            outcomes = self.query_one("#outcomes", OptionList)
            outcomes.focus()
            outcomes.highlighted = 0
        else:
            self.found(str(event.option.id))

    def in_readings(self) -> bool:
        return self.focused is not None and self.query_one("#readings") in self.focused.ancestors

    def action_choose(self, number: int) -> None:
        step = self.step()
        if step is None or self.in_readings() or self.has_class("reading"):
            return  # a digit that was typed faster than the cursor went to the readings answers no check
        if number == 0:
            self.found("unknown")
        elif number <= len(step.outcomes):
            self.found(list(step.outcomes)[number - 1])

    def action_how(self) -> None:
        if not self.in_readings():
            ways = list(HOWS)
            self.how = ways[(ways.index(self.how) + 1) % len(ways)]
            self.show_check()

    def found(self, outcome: str) -> None:
        """Keep the outcome of the check in hand, and say what it did."""
        step, before = self.step(), self.desk.assessment
        if step is None or not self.record(step, outcome, self.how):
            return
        says = step.outcomes[outcome].says if outcome in step.outcomes else "don't know"
        self.say(f"{step.title.removesuffix('?')}: {says} ({self.how})", before)
        self.how = "measured"
        self.fill(top=True)
        self.show_readings()
        self.query_one("#checks").focus()

    # -- readings -----------------------------------------------------------------------------------------------

    def form(self) -> ReadingForm:
        """The form in use."""
        current = self.query_one(ContentSwitcher).current
        return self.query_one(f"#{current}", ReadingForm)

    def action_turn(self) -> None:
        """From the checks to the readings and back."""
        self.toggle_class("reading")
        if not self.has_class("reading"):
            self.call_after_refresh(self.fill)  # its lines were cut for a list that was out of sight
        start = self.form().begin if self.has_class("reading") else self.query_one("#checks").focus
        self.call_after_refresh(start)

    def on_descendant_focus(self) -> None:
        """What is shown follows the cursor: no key answers a check whose caution is out of sight."""
        self.set_class(self.in_readings(), "reading")
        outcomes = self.query_one("#outcomes", OptionList)
        if outcomes.has_focus and outcomes.highlighted is None:
            outcomes.action_first()

    def on_select_changed(self, event: Select.Changed) -> None:
        switcher = self.query_one(ContentSwitcher)
        if event.select.id == "family" and switcher.current != f"form-{event.value}":
            switcher.current = f"form-{event.value}"
            self.set_class(self.form().roomy, "roomy")
            self.call_after_refresh(self.form().begin)

    def action_keep(self) -> None:
        if self.in_readings():
            self.form().keep()

    def unkept(self) -> bool:
        return any(form.unkept() for form in self.query(ReadingForm))

    def keep_typed(self) -> None:
        """Bring the form with the reading into sight, and keep it there."""
        form = next(form for form in self.query(ReadingForm) if form.unkept())
        self.query_one("#family", Select).value = str(form.id).removeprefix("form-")
        self.add_class("reading")
        form.keep()
        self.call_after_refresh(form.begin)

    def on_reading_form_quantified(self, event: ReadingForm.Quantified) -> None:
        self.quantity = event.quantity
        self.show_corners()

    def on_reading_form_kept(self, event: ReadingForm.Kept) -> None:
        before = self.desk.assessment
        if self.apply(event.case, event.what):
            self.say(f"Kept: {event.what}", before)
            self.fill()
            self.show_readings()

    def show_readings(self) -> None:
        for form in self.query(ReadingForm):
            form.show(self.desk.case)
        self.show_corners()

    def show_corners(self) -> None:
        if self.quantity is None:
            return
        others = dict.fromkeys(one.quantity for one in reversed(self.desk.case.measurements))
        lines = []
        for quantity in dict.fromkeys([self.quantity, *others]):
            lines.append(f"{said(quantity)}, seen from above")
            lines += corner_lines(readings_at(self.desk.case, quantity), self.say_reading, cells=_CORNER_CELLS)
            lines.append("")
        self.query_one("#corners", Static).update("\n".join(lines[:-1]))

    def say_reading(self, reading: Measurement) -> str:
        others = [one for one in self.desk.case.measurements if one.wheel != reading.wheel]
        word = judge_reading(reading, self.desk.adviser, others=others).word
        return f"{self.preferences.units.show(reading.value, reading.unit)} {said(word)}"

    # -- what came of it ----------------------------------------------------------------------------------------

    def say(self, what: str, before: Assessment) -> None:
        now = self.desk.assessment
        moved = "nothing moved" if now is before else ranking_line(before, now)
        self.query_one("#moved", Static).update(f"{what}\n{moved}")
        self.say_dangers()

    def say_dangers(self) -> None:
        """An open danger that nobody has read outranks whatever is shown here."""
        unread = [self.desk.adviser.base.causes[danger.cause].short for danger in self.desk.unread_dangers()]
        title = self.query_one(".sheet-title", Static)
        title.update(f"!! DANGER: {', '.join(unread)}. Esc, and read it first." if unread else self.heading)

    def follow(self) -> None:
        """The check in hand stays in hand, and what is typed in a form stays typed."""
        self.fill()
        self.show_readings()
        self.say_dangers()
