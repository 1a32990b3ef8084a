"""One case, one screen: the step in the middle, the causes and the trail beside it. The same from question to proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.events import Resize
from textual.widgets import Footer, Static

from vibdiag.advice.interview import questions_left, summary
from vibdiag.advice.next_step import Shop, StepAdvice, for_car, next_steps, possible
from vibdiag.advice.overturn import overturns
from vibdiag.case.model import Case
from vibdiag.knowledge.forms import StepText
from vibdiag.reasoning.inquiry import gain_of
from vibdiag.screen.causes_panel import CausesPanel
from vibdiag.screen.closing import closing_lines
from vibdiag.screen.keys import CASE_KEYS
from vibdiag.screen.messages import Answered, DangerRead, EntryChosen, EntryWithdrawn
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.causes import CausesOverlay
from vibdiag.screen.overlays.help import HelpOverlay
from vibdiag.screen.overlays.note import NoteOverlay
from vibdiag.screen.overlays.proof import ProofOverlay
from vibdiag.screen.overlays.road import RoadOverlay
from vibdiag.screen.overlays.steps import StepsOverlay
from vibdiag.screen.overlays.summary import SummaryOverlay
from vibdiag.screen.overlays.vehicle import VehicleOverlay
from vibdiag.screen.overlays.words import WordsOverlay
from vibdiag.screen.preferences import ROLES, Preferences
from vibdiag.screen.saving import SavingScreen
from vibdiag.screen.step_panel import Now, StepPanel
from vibdiag.screen.top_line import top_line
from vibdiag.screen.trail_panel import TrailPanel
from vibdiag.work.desk import Desk
from vibdiag.work.words_form import speeds_said

__all__ = ["WIDE", "CaseScreen"]

# From this many columns on, causes and trail stand beside the step.
WIDE = 120
_TRAIL_FOLLOWS_S = 0.12
_ROLE_SHOP = {role: Shop(who=frozenset({role})) if role != "all" else Shop() for role in ROLES}


class CaseScreen(SavingScreen):
    """Owns the desk; every change goes through `apply`, which saves, re-ranks and redraws."""

    BINDINGS: ClassVar[list[BindingType]] = list(CASE_KEYS)

    def __init__(self, desk: Desk, preferences: Preferences) -> None:
        super().__init__(desk)
        self.preferences = preferences
        self.chosen: str | None = preferences.last_step or None
        # The step in hand when somebody else changed the case: it stays until it is answered or left.
        self.held: str | None = None
        self.skipped: set[str] = set()
        self.note = ""
        self.stop = ""
        self.trail_of: Case | None = None
        self.left: int | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="top", markup=False)
        with Horizontal(id="places"):
            yield CausesPanel(id="causes-side")
            with Vertical(id="middle"):
                yield CausesPanel(id="causes-strip")
                yield StepPanel(id="step")
            yield TrailPanel(id="trail")
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        super().on_mount()
        self.desk.set_shop(_ROLE_SHOP[self.preferences.role])
        self.desk.previous = None
        self.query_one("#step", StepPanel).focus()
        self.redraw()

    def on_resize(self, event: Resize) -> None:
        self.set_class(event.size.width >= WIDE, "wide")
        self.redraw()

    # -- what to show -------------------------------------------------------------------------------------------

    def advice(self) -> StepAdvice | None:
        return next((item for item in self.desk.assessment.next if item.step.id not in self.skipped), None)

    def now(self) -> Now:
        """A danger nobody has read, else the step somebody chose, else what does not fit, else the next step."""
        desk, base = self.desk, self.desk.adviser.base
        unread = desk.unread_dangers()
        if unread and desk.case.outcome is None:
            clearing = base.steps.get(unread[0].clear_with or "")
            return Now(danger=unread[0], clears=clearing.title if clearing else None)
        if self.stop:
            return Now(plain=("STOP AND TELL THE CUSTOMER", "", self.stop, "", "Enter: it has been said; go on."))
        assessment = desk.assessment
        if desk.case.outcome is not None and self.chosen is None:
            return Now(plain=tuple(closing_lines(desk.case, base)))
        if self.chosen is not None and self.chosen in base.steps:
            return self.now_for(base.steps[self.chosen])
        if self.held is not None and self.held in base.steps:
            now = self.now_for(base.steps[self.held])
            return replace(now, meanwhile=now.answered is not None)
        for clash in assessment.clashes:
            if clash.ask and self.may_ask(base.steps[clash.ask]) and clash.ask not in self.skipped:
                return self.now_for(base.steps[clash.ask])
        advice = self.advice()
        if advice is None:
            return Now(repair=assessment.repair)
        return Now(
            step=advice.step,
            outcomes=advice.outcomes,
            gain_bits=advice.worth_bits,
            clears=advice.clears,
            repair=assessment.repair,
            questions_left=self.left,
        )

    def may_ask(self, step: StepText) -> bool:
        return step.id not in self.desk.assessment.findings.results and self.desk.shop.can(step)

    def now_for(self, step: StepText) -> Now:
        """`step` as it would be shown, with its former answer when it has one."""
        desk = self.desk
        step = for_car(step, desk.assessment.findings)
        given = next((one.outcome for one in desk.case.steps if one.step == step.id and one.taken == "before"), None)
        clash = next((clash for clash in desk.assessment.clashes if clash.ask == step.id), None)
        gain = gain_of(desk.assessment.belief, step.sign).worth(desk.adviser.base.settings.axle_worth) * step.answered
        return Now(step=step, clash=clash, gain_bits=0.0 if given else gain, questions_left=self.left, answered=given)

    def redraw(self) -> None:
        """Everything from the desk; called after every change."""
        if not self.is_mounted:
            return
        desk, wide = self.desk, self.has_class("wide")
        names = {cause.id: cause.short for cause in desk.adviser.base.causes.values()}
        self.query_one("#causes-side").display = wide
        self.query_one("#causes-strip").display = not wide
        panel = self.query_one("#causes-side" if wide else "#causes-strip", CausesPanel)
        panel.show(desk.assessment, desk.previous, tall=wide)
        trail = self.query_one("#trail", TrailPanel)
        trail.display = wide or self.has_class("trail-open")
        if trail.display and self.trail_of is not desk.case:
            # The answer's effect is painted first; the longest list follows when nothing else waits.
            if self.trail_of is None or not wide:
                self.show_trail()
            else:
                self.set_timer(_TRAIL_FOLLOWS_S, self.show_trail)
        self.query_one("#step", StepPanel).show(self.now(), names, signer=self.preferences.name)
        top = top_line(desk.case, desk.assessment, self.preferences, note=bool(self.note), columns=self.app.size.width)
        self.query_one("#top", Static).update(top)
        self.refresh_bindings()
        self.count_questions()

    def show_trail(self) -> None:
        if self.is_mounted and self.trail_of is not self.desk.case:
            self.trail_of = self.desk.case
            self.query_one("#trail", TrailPanel).show(self.desk.case, self.desk.adviser.base)

    @work(thread=True, exclusive=True)
    def count_questions(self) -> None:
        """How many questions are likely left; counted aside so that no key waits for it."""
        left = questions_left(self.desk.assessment, self.desk.adviser)
        if left != self.left:
            self.app.call_from_thread(self.show_left, left)

    def show_left(self, left: int) -> None:
        self.left = left
        if self.is_mounted and self.is_current and not self.desk.unread_dangers():
            names = {cause.id: cause.short for cause in self.desk.adviser.base.causes.values()}
            self.query_one("#step", StepPanel).show(self.now(), names, signer=self.preferences.name)

    # -- changes ------------------------------------------------------------------------------------------------

    def in_hand(self) -> str | None:
        step = self.now().step
        return None if step is None else step.id

    def keep_in_hand(self, step: str | None) -> None:
        self.held = step

    @on(Answered)
    def answer(self, message: Answered) -> None:
        step = self.desk.adviser.base.steps[message.step_id]
        role = self.preferences.role if self.preferences.role != "all" else step.who[0]
        self.record(step, message.outcome, "measured", role=role, then=self.answered)

    def answered(self) -> None:
        self.chosen = None
        self.remember_place()

    def record(
        self,
        step: StepText,
        outcome: str,
        how: str,
        *,
        role: str = "bay",
        then: Callable[[], None] = lambda: None,
    ) -> bool:
        """Keep a result with the note in hand; says what is wrong, and whether it went."""
        words = self.note

        def kept() -> None:
            self.note, self.held = "", None
            if flag := step.red_flag.get(outcome):
                self.stop = flag
                if self.app.screen is not self:  # a sheet lies over it
                    self.notify(flag, title="Tell the customer now", severity="error", timeout=30)
            then()
            self.redraw()

        return self.attempt(
            lambda insist: self.desk.answer(step, outcome, words=words, how=how, role=role, insist=insist), kept
        )

    @on(DangerRead)
    def danger_read(self, message: DangerRead) -> None:
        danger = next((one for one in self.desk.unread_dangers() if one.cause == message.cause), None)
        if danger is None:  # somebody else signed for it in this moment
            return

        def kept() -> None:
            self.preferences.name = message.name
            self.remember_place()
            self.redraw()
            self.query_one("#step", StepPanel).focus()

        self.attempt(lambda insist: self.desk.acknowledge(danger, message.name, insist=insist), kept)

    @on(EntryChosen)
    def entry_chosen(self, message: EntryChosen) -> None:
        self.chosen, self.held = message.step_id, None
        self.remove_class("trail-open")
        self.redraw()
        self.query_one("#step", StepPanel).focus()

    @on(EntryWithdrawn)
    def entry_withdrawn(self, message: EntryWithdrawn) -> None:
        self.attempt(lambda insist: self.desk.withdraw(message.step_id, insist=insist), self.redraw)

    def remember_place(self) -> None:
        """Keep where one is, so that the next start goes on there."""
        self.preferences.last_case = self.desk.hand.key
        self.preferences.last_step = self.chosen or ""
        try:
            self.preferences.save()
        except OSError as error:
            self.notify(f"the place is not remembered: {error.strerror}", severity="warning")

    # -- keys ---------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Digits live only where the step they answer is in sight, signing only with a danger; the footer says so."""
        if action == "sign" and self.is_mounted:
            return self.query_one("#step", StepPanel).now.danger is not None
        if action != "choose" or not self.is_mounted:
            return True
        hidden = self.has_class("trail-open") and not self.has_class("wide")
        return self.query_one("#step", StepPanel).now.step is not None and not hidden

    def action_choose(self, number: int) -> None:
        self.query_one("#step", StepPanel).choose(number)

    def action_sign(self) -> None:
        self.query_one("#step", StepPanel).sign()

    def action_go_on(self) -> None:
        """The red flag has been said; the interview goes on."""
        if self.stop and not self.desk.unread_dangers():
            self.stop = ""
            self.redraw()

    def action_skip(self) -> None:
        step = self.now().step
        if step is not None:
            self.skipped.add(step.id)
            self.chosen = self.held = None
            self.redraw()
            if self.advice() is None:
                self.skipped.clear()
                self.notify("That was the last one; skipped steps are back.")
                self.redraw()

    def action_back(self) -> None:
        before = [one.step for one in self.desk.case.steps if one.taken == "before"]
        if before:
            self.chosen = before[-1]
            self.redraw()
        else:
            self.notify("Nothing has been answered yet.")

    def action_undo(self) -> None:
        self.chosen = self.held = None
        self.travel("undo")

    def action_redo(self) -> None:
        self.chosen = self.held = None
        self.travel("redo")

    def action_role(self) -> None:
        place = (ROLES.index(self.preferences.role) + 1) % len(ROLES)
        self.preferences.role = ROLES[place]
        self.desk.set_shop(_ROLE_SHOP[self.preferences.role])
        self.chosen = None
        self.remember_place()
        self.notify(f"Steps for: {self.preferences.role}")
        self.redraw()

    def action_trail(self) -> None:
        if not self.has_class("wide"):
            self.toggle_class("trail-open")
        self.redraw()
        self.show_trail()
        trail = self.query_one("#trail", TrailPanel)
        if trail.display:
            trail.focus()
        else:
            self.query_one("#step", StepPanel).focus()

    def action_causes(self) -> None:
        desk = self.desk
        turns = overturns(desk.assessment.belief, desk.assessment.findings, desk.adviser.base)
        self.app.push_screen(CausesOverlay(desk.assessment, desk.previous, turns, desk.adviser.base))

    def action_steps(self) -> None:
        desk, base = self.desk, self.desk.adviser.base
        found = desk.assessment
        still = found.stands_still
        advised = next_steps(found.belief, found.findings, found.dangers, base, shop=desk.shop, count=200, still=still)
        shown = {item.step.id for item in advised}
        others = tuple(
            step
            for step in base.steps.values()
            if step.id not in shown and desk.shop.can(step) and possible(step, found.findings)
        )
        self.app.push_screen(StepsOverlay(advised, others), self.step_chosen)

    def step_chosen(self, step_id: str | None) -> None:
        if step_id:
            self.chosen, self.held = step_id, None
            self.remember_place()
            self.redraw()

    def action_note(self) -> None:
        self.app.push_screen(NoteOverlay(self.note), self.note_kept)

    def note_kept(self, text: str | None) -> None:
        if text is not None:
            self.note = text
            self.redraw()

    def note_put_away(self) -> bool:
        """A note that no answer took with it goes to the case's notes; whether nothing is in hand any more."""
        words = self.note.strip()
        return not words or self.attempt(lambda sure: self.desk.note(words, insist=sure), lambda: self.note_kept(""))

    def action_words(self) -> None:
        self.app.push_screen(WordsOverlay(self.desk.case).kept_by(lambda case: self.apply(case, "words and speeds")))

    def action_vehicle(self) -> None:
        form = VehicleOverlay(self.desk.case, self.preferences).kept_by(lambda case: self.apply(case, "vehicle"))
        self.app.push_screen(form)

    def action_road(self) -> None:
        self.app.push_screen(RoadOverlay(self.desk, self.apply, self.preferences))

    def action_proof(self) -> None:
        self.app.push_screen(ProofOverlay(self.desk, self.apply, self.preferences))

    def action_bay(self) -> None:
        self.app.push_screen(BayOverlay(self.desk, self.preferences, self.apply, self.record))

    def action_summary(self) -> None:
        told = self.desk.case.complaint
        lines = list(summary(self.desk.assessment, self.desk.adviser))
        if speeds := speeds_said(told.speed):
            lines.insert(1 if told.words else 0, speeds)
        self.app.push_screen(SummaryOverlay(lines))

    def action_help(self) -> None:
        self.app.push_screen(HelpOverlay("case"))

    def action_leave(self) -> None:
        if self.has_class("trail-open") and not self.has_class("wide"):
            self.action_trail()
        elif self.chosen is not None:
            self.chosen = None
            self.redraw()
        elif self.note_put_away():
            self.dismiss(None)
