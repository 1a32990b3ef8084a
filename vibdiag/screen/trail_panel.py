"""The trail: everything known about the case, in order; stand on an entry to change or withdraw it."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets.option_list import Option

from vibdiag.case.model import Case
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.folding import fitted, hanging
from vibdiag.screen.listing import Listing
from vibdiag.screen.messages import EntryChosen, EntryWithdrawn
from vibdiag.screen.trail_lines import Entry, entries

__all__ = ["TrailPanel"]


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

    def hung(self, entry: Entry) -> str:
        """Its lines folded to the panel's width, each continued further in than it begins."""
        columns = max(20, self.scrollable_content_region.width - 2)
        folded = [part for line in entry.lines for part in hanging(line, columns)]
        if entry.most is not None and len(folded) > entry.most:
            folded = [*folded[: entry.most - 1], fitted(f"{folded[entry.most - 1]} …", columns)]
        return "\n".join(folded)

    def on_resize(self) -> None:
        """Folded anew for another width."""
        if self.shown is not None and self.scrollable_content_region.width != self.folded_at:
            self.show(*self.shown)

    def show(self, case: Case, base: RuleBase) -> None:
        self.shown, self.folded_at = (case, base), self.scrollable_content_region.width
        kept = self.highlighted
        self.clear_options()
        self.add_option(Option("TRAIL  Enter changes, Del withdraws", disabled=True))
        for place, entry in enumerate(entries(case, base)):
            key = None if entry.step is None else f"{place} {entry.step}"
            self.add_option(Option(self.hung(entry), id=key, disabled=key is None))
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
