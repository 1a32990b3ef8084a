"""From the repair to the proof: choose, record, drive the same road, judge, finish; or reopen with what was learned."""

from __future__ import annotations

from typing import ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from vibdiag.advice.assess import Assessment
from vibdiag.advice.danger import how_to_clear
from vibdiag.advice.next_step import RepairAdvice
from vibdiag.case.model import Case
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.base import TRAVEL_KEYS, Overlay
from vibdiag.screen.overlays.finish import FinishOverlay, Learned, LearnedOverlay
from vibdiag.screen.overlays.proof_text import (
    EFFECTS,
    closed_lines,
    moved_lines,
    proof_lines,
    repair_headline,
    repair_lines,
)
from vibdiag.screen.overlays.repair_done import RepairDone, RepairDoneOverlay
from vibdiag.screen.overlays.road import Apply, RepeatOverlay
from vibdiag.screen.preferences import Preferences
from vibdiag.work.desk import Desk
from vibdiag.work.phrases import EFFECT_WORDS
from vibdiag.work.proof import EFFECT_FIRST, add_repair, judge_repair, refusal, reopen, repairs_to_try, stage_of

__all__ = ["ProofOverlay"]

View = Literal["mend", "prove", "closed"]
_PATH = {"mend": "MEND", "prove": "PROVE ON THE SAME ROAD", "closed": "FINISHED"}
_KEYS: dict[str, tuple[View, ...]] = {
    "repair_done": ("mend",),
    "to_proof": ("mend",),
    "repeat": ("prove",),
    "judge": ("prove",),
    "another": ("prove",),
    "finish": ("mend", "prove"),
    "reopen": ("closed",),
}


def _view_of(case: Case) -> View:
    stage = stage_of(case)
    return "closed" if stage == "closed" else "mend" if stage == "mend" else "prove"


class ProofOverlay(Overlay[None]):
    """One sheet with three views; every change goes through `change`, which saves and re-ranks."""

    heading = "REPAIR AND PROOF"
    help_topic = "proof"
    live: ClassVar[bool] = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("d", "repair_done", "It is done"),
        Binding("b", "to_proof", "Before and after"),
        Binding("r", "repeat", "Same road again"),
        *(Binding(str(digit), f"judge({digit})", show=False) for digit in range(2, 5)),
        Binding("1", "judge(1)", "Effect", key_display="1-4"),
        Binding("a", "another", "Another repair"),
        Binding("f", "finish", "Finish"),
        Binding("o", "reopen", "Reopen"),
        *TRAVEL_KEYS,
    ]

    def __init__(self, desk: Desk, change: Apply, preferences: Preferences) -> None:
        super().__init__()
        self.desk, self.change, self.preferences = desk, change, preferences
        self.view = _view_of(desk.case)
        self.repairs: tuple[RepairAdvice, ...] = ()
        self.before: Assessment | None = None

    def body(self) -> ComposeResult:
        yield Static(id="proof-path", markup=False)
        yield Static(id="proof-danger", markup=False)
        yield Listing(id="repairs", markup=False)
        with VerticalScroll(id="proof-detail"):
            yield Static(id="proof-text", markup=False)

    def on_mount(self) -> None:
        self.show()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Only the keys of the view in hand are alive and in the footer."""
        if action in ("repair_done", "another") and not self.repairs:
            return False
        if action == "to_proof" and not self.desk.case.history.repairs:
            return False
        return action not in _KEYS or self.view in _KEYS[action]

    # -- what to show -------------------------------------------------------------------------------------------

    def show(self) -> None:
        desk, base = self.desk, self.desk.adviser.base
        self.repairs = repairs_to_try(desk.assessment, base)
        path = "   ".join(f"> {name} <" if view == self.view else name for view, name in _PATH.items())
        self.query_one("#proof-path", Static).update(path)
        refused = refusal(desk.assessment, base) if self.view != "closed" else None
        danger = self.query_one("#proof-danger", Static)
        danger.display = refused is not None
        danger.update(f"!! {refused}" if refused else "")
        box = self.query_one("#repairs", OptionList)
        box.display = self.view == "mend" and bool(self.repairs)
        if box.display:
            self.fill(box)
        else:
            self.query_one("#proof-detail").focus()
        self.show_detail()
        self.refresh_bindings()

    def fill(self, box: OptionList) -> None:
        kept = box.highlighted or 0
        box.clear_options()
        box.add_options(
            Option(repair_headline(advice, self.desk.adviser.base, first=place == 0), id=advice.cause)
            for place, advice in enumerate(self.repairs)
        )
        box.highlighted = min(kept, len(self.repairs) - 1)
        box.focus()

    def follow(self) -> None:
        """Somebody, or an undo, moved the case: the view that fits how it stands now."""
        fits = _view_of(self.desk.case)
        if (fits == "closed") != (self.view == "closed") or not self.desk.case.history.repairs:
            self.view = fits
        self.show()

    def in_hand(self) -> RepairAdvice | None:
        """The repair that is highlighted."""
        place = self.query_one("#repairs", OptionList).highlighted
        return self.repairs[place] if place is not None and place < len(self.repairs) else None

    def show_detail(self) -> None:
        desk, base = self.desk, self.desk.adviser.base
        if self.view == "closed":
            lines = list(closed_lines(desk.case, base))
        elif self.view == "prove":
            lines = list(proof_lines(desk.case, desk.assessment, base, self.preferences.units))
            if self.before is not None:
                lines += ["", *moved_lines(desk.assessment, self.before)]
        elif (advice := self.in_hand()) is not None:
            lines = list(repair_lines(advice, base))
        else:
            lines = [base.causes["not-in-rule-base"].repair.does, "", "No known cause leads: nothing to mend yet."]
        self.query_one("#proof-text", Static).update("\n".join(lines))

    def on_option_list_option_highlighted(self) -> None:
        self.show_detail()
        self.query_one("#proof-detail", VerticalScroll).scroll_home(animate=False)

    def on_option_list_option_selected(self) -> None:
        self.action_repair_done()

    def look_at(self, view: View) -> None:
        self.view = view
        self.query_one("#proof-detail", VerticalScroll).scroll_home(animate=False)
        self.show()

    # -- what is done -------------------------------------------------------------------------------------------

    def action_repair_done(self) -> None:
        advice = self.in_hand()
        if advice is not None:
            self.app.push_screen(RepairDoneOverlay(advice, self.desk.by or "").kept_by(self.record))

    def record(self, done: RepairDone) -> bool:
        case = add_repair(self.desk.case, done.cause, done.note, by=done.by)
        kept = self.change(case, f"repair: {self.desk.adviser.base.causes[done.cause].short}")
        if kept:
            self.before = None
            self.look_at("prove")
        return kept

    def action_repeat(self) -> None:
        self.app.push_screen(RepeatOverlay(self.desk, self.change, self.preferences), lambda _: self.show())

    def action_judge(self, digit: int) -> None:
        effect = EFFECTS[digit - 1]
        was = self.desk.assessment
        try:
            case = judge_repair(self.desk.case, effect)
        except ValueError as problem:
            self.notify(f"{problem}; key a chooses one", severity="warning")
            return
        if self.change(case, f"effect of the repair: {EFFECT_WORDS[effect]}"):
            self.before = was
            self.show()
            self.call_after_refresh(self.query_one("#proof-detail", VerticalScroll).scroll_end, animate=False)

    def action_another(self) -> None:
        self.look_at("mend")

    def action_to_proof(self) -> None:
        self.look_at("prove")

    def action_finish(self) -> None:
        desk = self.desk
        danger = next((one for one in desk.assessment.dangers if one.status == "open"), None)
        if danger is not None:
            clear = how_to_clear(danger, desk.adviser.base)
            self.notify(f"A danger is open. {clear}", title="Not finished", severity="error", timeout=10)
            return
        if stage_of(desk.case) == "prove":
            self.look_at("prove")
            self.notify(EFFECT_FIRST, title="Not finished", severity="warning", timeout=10)
            return
        self.app.push_screen(FinishOverlay(desk.assessment, desk.adviser.base, desk.by or "").kept_by(self.finished))

    def finished(self, case: Case) -> bool:
        kept = self.change(case, "closed the case")
        if kept:
            self.look_at("closed")
        return kept

    def action_reopen(self) -> None:
        self.app.push_screen(LearnedOverlay().kept_by(self.reopened))

    def reopened(self, learned: Learned) -> bool:
        was = self.desk.assessment
        case = reopen(self.desk.case, learned.words, came_back=learned.came_back)
        kept = self.change(case, "reopened the case")
        if kept:
            self.before = was
            self.look_at("prove" if learned.came_back else "mend")
        return kept
