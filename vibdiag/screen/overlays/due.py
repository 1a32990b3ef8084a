"""What is to be done after a case was closed; Enter marks one as done."""

from __future__ import annotations

from datetime import date

from textual.app import ComposeResult
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from vibdiag.case.model import Case, FollowUp
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.shelf import DUE_NAMES

__all__ = ["DueOverlay"]


class DueOverlay(Overlay[FollowUp]):
    """Returns the follow-up that was done."""

    heading = "AFTERWARDS    Enter marks the one in hand as done"
    help_topic = "start"

    def __init__(self, case: Case, today: date) -> None:
        super().__init__()
        self.case, self.today = case, today

    def body(self) -> ComposeResult:
        yield Listing(
            *(
                Option(
                    f"{DUE_NAMES[item.what]}: {'DUE since' if item.due <= self.today else 'due on'} {item.due:%d %b %Y}"
                    f"{f'{chr(10)}   {item.note}' if item.note else ''}",
                    id=str(place),
                )
                for place, item in enumerate(self.case.follow_ups)
                if not item.done
            ),
            id="due",
            markup=False,
        )

    def on_mount(self) -> None:
        self.query_one("#due", OptionList).focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self.case.follow_ups[int(event.option.id or 0)])
