"""The trail: everything known about the case, in order; stand on an entry to change or withdraw it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets.option_list import Option

from vibdiag.case.model import GONE, Case, StepResult
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.listing import Listing
from vibdiag.screen.messages import EntryChosen, EntryWithdrawn
from vibdiag.work.rounds import balance_words, name_of, see_round

__all__ = ["TrailPanel", "hanging"]


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


def hanging(line: str, columns: int, *, indent: int = 2) -> list[str]:
    """`line` folded at `columns`; what goes on stands `indent` cells further in.

    >>> hanging("  felt at: steering wheel", 16)
    ['  felt at:', '    steering', '    wheel']
    """
    further = " " * (len(line) - len(line.lstrip()) + indent)
    together = line.replace(" %", "\u00a0%")  # a number stays with its per cent sign
    folded = textwrap.wrap(together, columns, subsequent_indent=further, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in folded] or [""]


def _mark(result: StepResult) -> str:
    return {"measured": "", "looked": " (looked)", "told": " (told)"}[result.how]


def _entries(case: Case, base: RuleBase) -> Iterator[tuple[str | None, tuple[str, ...]]]:
    """Every entry in order: its key where it can be changed, and its lines."""
    for line in _told(case):
        yield None, (f"  {line}",)
    for place, result in enumerate(case.steps):
        step = base.steps[result.step]
        gone = result.taken == "after" and result.outcome == GONE
        says = "nothing is felt any more" if gone else "don't know"
        says = step.outcomes[result.outcome].says if result.outcome in step.outcomes else says
        if result.taken == "after":
            yield None, (f"after the repair: {step.title}", f"  {says}")
            continue
        who = f" · {result.by}" if result.by else ""
        when = f" {result.at:%d %b %H:%M}" if result.at else ""
        yield f"{place} {result.step}", (step.title, f"  {says}{_mark(result)}{when}{who}")
    for reading in case.measurements:
        wheel = "" if reading.wheel == "unknown" else f" {reading.wheel}"
        yield None, (f"{reading.quantity.replace('-', ' ')}{wheel}: {reading.value:g} {reading.unit}",)
    for one in case.readings:
        after = " after the repair" if one.taken == "after" else ""
        sign = see_round(one).sign.replace("-", " ")
        yield None, (f"{name_of(one)}{after}: {one.places} readings, {sign}",)
    for shown in case.balance_readings:
        after = " after the repair" if shown.taken == "after" else ""
        wheel = "" if shown.wheel == "unknown" else f" {shown.wheel.replace('-', ' ')}"
        yield None, (f"balance{wheel}{after}: {balance_words(case, shown)}",)
    for repair in case.history.repairs:
        yield None, (f"repair: {repair.what.replace('-', ' ')}: {repair.effect}",)


class TrailPanel(Listing):
    """Entries of the case; Enter changes one, Delete withdraws it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select", "Change", show=False),
        Binding("delete", "withdraw", "Withdraw", show=False),
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id, markup=False)
        self.shown: tuple[Case, RuleBase] | None = None
        self.folded_at = 0

    def hung(self, *lines: str) -> str:
        """Lines folded to the panel's width, each continued further in than it begins."""
        columns = max(20, self.scrollable_content_region.width - 2)
        return "\n".join(folded for line in lines for folded in hanging(line, columns))

    def on_resize(self) -> None:
        """Folded anew for another width."""
        if self.shown is not None and self.scrollable_content_region.width != self.folded_at:
            self.show(*self.shown)

    def show(self, case: Case, base: RuleBase) -> None:
        self.shown, self.folded_at = (case, base), self.scrollable_content_region.width
        kept = self.highlighted
        self.clear_options()
        self.add_option(Option("TRAIL  Enter changes, Del withdraws", disabled=True))
        for key, lines in _entries(case, base):
            self.add_option(Option(self.hung(*lines), id=key, disabled=key is None))
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
