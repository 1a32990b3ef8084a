"""The road sheet: what to hold, what to try, and the passenger's answers, one key each, saved as they are given."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, VerticalScroll
from textual.events import Resize
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from vibdiag.advice.road_plan import HOLDING, SAFETY, RoadPlan, plan_repeat, plan_road_test, why_not_yet
from vibdiag.case.model import GONE, Case
from vibdiag.case.vocabulary import Role
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.attach import AttachOverlay
from vibdiag.screen.overlays.base import TRAVEL_KEYS, Overlay
from vibdiag.screen.overlays.note import NoteOverlay
from vibdiag.screen.overlays.road_lines import GONE_DIGIT, Line, Sight, detail, headline, lines_of
from vibdiag.screen.preferences import Preferences
from vibdiag.work.attachments import detach
from vibdiag.work.desk import Desk
from vibdiag.work.phrases import answer_words
from vibdiag.work.proof import takes_wheels_off
from vibdiag.work.road_sheet import (
    Side,
    note_of,
    result_of,
    strengths_of,
    with_answer,
    with_note,
    with_strength,
    without_answer,
)

__all__ = ["Apply", "RepeatOverlay", "RoadOverlay"]

Apply = Callable[[Case, str], bool]
# From this many columns on, the line in hand stands beside the list, half and half.
WIDE = 120


class LineNote(NoteOverlay):
    """The note to one line of the sheet."""

    heading = "NOTE    word for word; it is kept with this line of the sheet"
    help_topic = "road"


class RoadOverlay(Overlay[None]):
    """The list of lines, the line in hand beside or below it, and the safety line, which never scrolls away.

    Every key changes the case through `change`, which saves; the order of the lines stays until the sheet is closed.
    """

    heading = "ROAD SHEET    for the passenger: arrows move, one digit answers, saved at once"
    help_topic = "road"
    live: ClassVar[bool] = True
    taken: ClassVar[Side] = "before"
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(str(digit), f"digit({digit})", show=False) for digit in range(1, 10)),
        Binding("0", "digit(0)", "Answer", key_display="0-9"),
        Binding("n", "note", "Note"),
        Binding("a", "attach", "Recording"),
        Binding("delete", "take_out", "Take out", key_display="Del"),
        *TRAVEL_KEYS,
        Binding("pagedown", "scroll_detail(1)", show=False, priority=True),
        Binding("pageup", "scroll_detail(-1)", show=False, priority=True),
    ]

    def __init__(self, desk: Desk, change: Apply, preferences: Preferences) -> None:
        super().__init__()
        self.desk, self.change, self.preferences = desk, change, preferences
        self.plan = self.planned()
        self.lines: list[Line] = []

    def planned(self) -> RoadPlan:
        """The sheet for this case."""
        return plan_road_test(self.desk.assessment, self.desk.adviser)

    def body(self) -> ComposeResult:
        yield Static(id="road-danger", markup=False)
        with Container(id="road-split"):
            yield Listing(id="road-lines", markup=False)
            with VerticalScroll(id="road-detail", can_focus=True):
                yield Static(id="road-text", markup=False)
        yield Static(SAFETY, id="road-safety", markup=False)

    def on_mount(self) -> None:
        self.fill()
        box = self.query_one("#road-lines", OptionList)
        box.action_first()
        box.focus()

    def on_resize(self, event: Resize) -> None:
        self.set_class(event.size.width >= WIDE, "wide")
        self.fill()

    # -- what to show -------------------------------------------------------------------------------------------

    def sight(self) -> Sight:
        base = self.desk.adviser.base
        short = {cause.id: cause.short for cause in base.causes.values()}
        return Sight(self.desk.case, self.taken, self.preferences.units, self.desk.hand.has, short)

    def fill(self) -> None:
        """Every line anew; the one in hand stays in hand."""
        box, sight = self.query_one("#road-lines", OptionList), self.sight()
        kept = box.highlighted
        self.lines = lines_of(self.plan, self.desk.case, taken=self.taken)
        box.clear_options()
        columns = self.app.size.width
        room = columns // 2 if columns >= WIDE else columns
        for line in self.lines:
            text = headline(line, sight)
            short = text if len(text) <= room - 4 else f"{text[: room - 5]}…"
            box.add_option(Option(short, id=line.id, disabled=bool(line.heading)))
        if kept is not None:
            box.highlighted = min(kept, len(self.lines) - 1)
        self.show_danger()
        self.show_detail()

    def follow(self) -> None:
        self.fill()

    def show_danger(self) -> None:
        reasons = why_not_yet(self.desk.assessment, self.desk.adviser.base)
        box = self.query_one("#road-danger", Static)
        box.display = bool(reasons)
        self.set_class(bool(reasons), "danger")
        more = f" And {len(reasons) - 1} more open." if len(reasons) > 1 else ""
        box.update(f"!! THE CAR DOES NOT MOVE YET. {reasons[0]}{more}" if reasons else "")

    def line(self) -> Line | None:
        """The line in hand."""
        place = self.query_one("#road-lines", OptionList).highlighted
        return self.lines[place] if place is not None and place < len(self.lines) else None

    def show_detail(self) -> None:
        line = self.line()
        holding = self.desk.adviser.base.steps.get(HOLDING)
        text = "" if line is None else "\n".join(detail(line, self.sight(), holding))
        self.query_one("#road-text", Static).update(text)

    def on_option_list_option_highlighted(self) -> None:
        self.show_detail()
        self.query_one("#road-detail", VerticalScroll).scroll_home(animate=False)

    def action_scroll_detail(self, way: int) -> None:
        box = self.query_one("#road-detail", VerticalScroll)
        box.scroll_relative(y=way * max(1, box.size.height - 1), animate=False)

    # -- changes ------------------------------------------------------------------------------------------------

    def keep(self, case: Case, what: str) -> bool:
        kept = self.change(case, what)
        if kept:
            self.fill()
        return kept

    def action_digit(self, digit: int) -> None:
        line = self.line()
        if line is None:
            return
        if line.held is not None:
            now = strengths_of(self.desk.case, taken=self.taken).get(line.held)
            strength = 10 if (now, digit) == (1, 0) else digit
            case = with_strength(self.desk.case, line.held, strength, taken=self.taken, by=self.desk.by)
            self.keep(case, f"strength {strength} at {line.held}")
        elif line.step is not None:
            self.answer(line.step, digit)

    def answer(self, step: StepText, digit: int) -> None:
        words = list(step.outcomes)
        if digit == 0:
            outcome = "unknown"
        elif self.taken == "after" and step.kind == "road" and digit == GONE_DIGIT:
            outcome = GONE
        elif digit <= len(words):
            outcome = words[digit - 1]
        else:
            return
        case = with_answer(self.desk.case, step.id, outcome, taken=self.taken, by=self.desk.by, role=self.role(step))
        if self.keep(case, answer_words(step, outcome)) and outcome in step.red_flag:
            self.notify(step.red_flag[outcome], title="Tell the driver now", severity="error", timeout=30)

    def role(self, step: StepText) -> Role:
        return "bay" if step.kind == "check" else "road"

    def action_take_out(self) -> None:
        line = self.line()
        if line is None:
            return
        case = self.desk.case
        if line.held is not None:
            case = with_strength(case, line.held, None, taken=self.taken, by=self.desk.by)
            self.keep(case, f"strength at {line.held} taken out")
        elif line.step is not None and result_of(case, line.step.id, taken=self.taken) is not None:
            self.take_answer_out(line.step)
        elif line.attachment is not None:
            self.keep(detach(case, line.attachment.path), f"recording {line.attachment.path} taken out")

    def take_answer_out(self, step: StepText) -> None:
        """The strengths at held speeds are lines of their own and stay."""
        case, noted = self.desk.case, strengths_of(self.desk.case, taken=self.taken)
        case = without_answer(case, step.id, taken=self.taken)
        if step.id == HOLDING:
            for held, strength in noted.items():
                case = with_strength(case, held, strength, taken=self.taken, by=self.desk.by)
        self.keep(case, f"{step.title}: taken out")

    def action_note(self) -> None:
        line = self.line()
        step = None if line is None else self.desk.adviser.base.steps.get(HOLDING) if line.held else line.step
        if step is None:
            return

        def keep(text: str) -> bool:
            case = with_note(self.desk.case, step.id, text, taken=self.taken, by=self.desk.by, role=self.role(step))
            return self.keep(case, f"note to {step.title}")

        self.app.push_screen(LineNote(note_of(self.desk.case, step.id, taken=self.taken)).kept_by(keep))

    def action_attach(self) -> None:
        def keep(case: Case) -> bool:
            return self.keep(case, f"recording {case.attachments[-1].path}")

        self.app.push_screen(AttachOverlay(self.desk.case, self.desk.hand, self.taken).kept_by(keep))


class RepeatOverlay(RoadOverlay):
    """The same sheet after the repair: the complaint's own speeds and what was observed, once more."""

    heading = "THE SAME ROAD AGAIN    after the repair; what was before stands beside"
    taken: ClassVar[Side] = "after"

    def planned(self) -> RoadPlan:
        repairs = self.desk.case.history.repairs
        off = bool(repairs) and takes_wheels_off(repairs[-1].what)
        return plan_repeat(self.desk.assessment, self.desk.adviser, wheels_were_off=off)
