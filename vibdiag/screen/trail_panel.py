"""The trail: everything known about the case, in order; stand on an entry to change or withdraw it."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets.option_list import Option

from vibdiag.case.model import GONE, Case, StepResult
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.listing import Listing
from vibdiag.screen.messages import EntryChosen, EntryWithdrawn
from vibdiag.work.rounds import balance_words, name_of, see_round

__all__ = ["TrailPanel"]


def _told(case: Case) -> list[str]:
    """What the complaint itself says, before any step."""
    told, speed = case.complaint, case.complaint.speed
    lines = []
    if told.words:
        lines.append(f"“{told.words.strip().splitlines()[0]}”")
    named = [f"{name} {value:g}" for name in ("starts", "worst", "fades") if (value := getattr(speed, name))]
    if named:
        lines.append(f"{', '.join(named)} {speed.unit} ({speed.read_from})")
    if told.felt_at:
        lines.append("felt at: " + ", ".join(told.felt_at))
    for field, effect in told.conditions.model_dump().items():
        if effect != "unknown":
            lines.append(f"{field.replace('_', ' ')}: {effect}")
    lines += [f"before: {event.what}" for event in case.history.events]
    return lines


def _mark(result: StepResult) -> str:
    return {"measured": "", "looked": " (looked)", "told": " (told)"}[result.how]


class TrailPanel(Listing):
    """Entries of the case; Enter changes one, Delete withdraws it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select", "Change", show=False),
        Binding("delete", "withdraw", "Withdraw", show=False),
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id, markup=False)

    def show(self, case: Case, base: RuleBase) -> None:
        kept = self.highlighted
        self.clear_options()
        self.add_option(Option("TRAIL  Enter changes, Del withdraws", disabled=True))
        for line in _told(case):
            self.add_option(Option(f"  {line}", disabled=True))
        for place, result in enumerate(case.steps):
            step = base.steps[result.step]
            if result.taken == "after":
                says = "nothing is felt any more" if result.outcome == GONE else result.outcome.replace("-", " ")
                says = step.outcomes[result.outcome].says if result.outcome in step.outcomes else says
                self.add_option(Option(f"after the repair: {step.title}\n  {says}", disabled=True))
                continue
            says = step.outcomes[result.outcome].says if result.outcome in step.outcomes else "don't know"
            who = f" · {result.by}" if result.by else ""
            when = f" {result.at:%d %b %H:%M}" if result.at else ""
            self.add_option(Option(f"{step.title}\n  {says}{_mark(result)}{when}{who}", id=f"{place} {result.step}"))
        for reading in case.measurements:
            wheel = "" if reading.wheel == "unknown" else f" {reading.wheel}"
            self.add_option(
                Option(f"{reading.quantity.replace('-', ' ')}{wheel}: {reading.value:g} {reading.unit}", disabled=True)
            )
        for one in case.readings:
            after = " after the repair" if one.taken == "after" else ""
            sign = see_round(one).sign.replace("-", " ")
            self.add_option(Option(f"{name_of(one)}{after}: {one.places} readings, {sign}", disabled=True))
        for shown in case.balance_readings:
            after = " after the repair" if shown.taken == "after" else ""
            wheel = "" if shown.wheel == "unknown" else f" {shown.wheel.replace('-', ' ')}"
            self.add_option(Option(f"balance{wheel}{after}: {balance_words(case, shown)}", disabled=True))
        for repair in case.history.repairs:
            self.add_option(Option(f"repair: {repair.what.replace('-', ' ')}: {repair.effect}", disabled=True))

        places = [place for place in range(self.option_count) if not self.get_option_at_index(place).disabled]
        self.can_focus = bool(places)
        if kept is not None and places:
            self.highlighted = min(places, key=lambda place: abs(place - kept))

    def on_focus(self) -> None:
        """Stand on an entry at once, so that it is seen where the keys go."""
        if self.highlighted is None:
            self.action_first()

    def action_select(self) -> None:
        if self.highlighted is not None:
            option = self.get_option_at_index(self.highlighted)
            if option.id:
                self.post_message(EntryChosen(option.id.split()[1]))

    def action_withdraw(self) -> None:
        if self.highlighted is not None:
            option = self.get_option_at_index(self.highlighted)
            if option.id:
                self.post_message(EntryWithdrawn(option.id.split()[1]))
