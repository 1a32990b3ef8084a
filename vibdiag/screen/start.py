"""The first screen: every case with where it stands, what is due on top, search, and a new case in one key."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from datetime import date
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import Screen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option
from textual.worker import get_current_worker

from vibdiag.case.model import FollowUp
from vibdiag.files.errors import InputError
from vibdiag.screen.keys import START_KEYS
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.call import Called, CallOverlay
from vibdiag.screen.overlays.due import DueOverlay
from vibdiag.screen.overlays.help import HelpOverlay
from vibdiag.work.shelf import CaseEntry, Shelf

__all__ = ["StartScreen"]

# How often the shelf is looked at while the list is in sight: somebody else may have opened a case.
_LOOK_S = 3.0


def _line(entry: CaseEntry, today: date, columns: int) -> str:
    due = entry.due(today)
    mark = "* " if due else "  "
    told = f"\n    DUE: {', '.join(due)}" if due else ""
    invented = " (invented)" if entry.case is not None and entry.case.invented else ""
    problem = f"\n    {entry.problem}" if entry.problem else ""
    head = f"{mark}{entry.changed.astimezone():%d %b %H:%M}  {entry.stands:22} "
    room = max(16, columns - len(head) - len(invented) - 4)
    title = entry.title if len(entry.title) <= room else entry.title[: room - 1] + "…"
    return f"{head}{title}{invented}{told}{problem}"


class StartScreen(Screen[None]):
    """Reads the shelf in a thread, and again when a case was changed; what cannot be read stands in the list with its
    reason."""

    BINDINGS: ClassVar[list[BindingType]] = list(START_KEYS)

    def __init__(self, shelf: Shelf, mark: Callable[[str, FollowUp, str], bool]) -> None:
        super().__init__()
        self.mark = mark
        self.shelf = shelf
        self.entries: Sequence[CaseEntry] = ()
        self.stamp: Hashable = None
        self.problem = ""

    def compose(self) -> ComposeResult:
        yield Static(" vibdiag    why does it shake, and is it gone?", id="top", markup=False)
        yield Input(placeholder="search: words of the title, the complaint or the car", id="search")
        yield Listing(id="cases", markup=False)
        yield Static("", id="empty", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        self.query_one("#search").display = False
        self.query_one("#cases").focus()
        self.read()
        self.set_interval(_LOOK_S, self.read_changed)

    def on_screen_resume(self) -> None:
        self.read()

    def read_changed(self) -> None:
        if self.is_current:
            self.read(always=False)

    def read(self, *, always: bool = True) -> None:
        self.read_aside(self.query_one("#search", Input).value, always=always)

    @work(thread=True, exclusive=True)
    def read_aside(self, words: str, *, always: bool) -> None:
        try:
            stamp = self.shelf.stamp()
            if not always and stamp == self.stamp:
                return
            entries, problem = self.shelf.entries(words), ""
        except (InputError, OSError) as error:
            stamp, entries, problem = None, (), str(error)
        if not get_current_worker().is_cancelled:
            self.app.call_from_thread(self.show_entries, stamp, entries, problem)

    def show_entries(self, stamp: Hashable, entries: Sequence[CaseEntry], problem: str) -> None:
        self.stamp, self.entries, self.problem = stamp, entries, problem
        self.fill()

    def fill(self) -> None:
        """The list anew; the case in hand stays in hand wherever it now stands."""
        box, today = self.query_one("#cases", OptionList), date.today()
        place = box.highlighted
        kept = None if place is None else box.get_option_at_index(place).id
        box.clear_options()
        box.add_options(Option(_line(entry, today, self.app.size.width), id=entry.key) for entry in self.entries)
        if self.entries:
            keys = [entry.key for entry in self.entries]
            box.highlighted = keys.index(kept) if kept in keys else min(place or 0, len(keys) - 1)
        empty = self.query_one("#empty", Static)
        empty.display = not self.entries
        searched = self.query_one("#search", Input).value.strip()
        empty.update(
            f"  ! {self.problem}"
            if self.problem
            else "  No case fits these words. Esc ends the search."
            if searched
            else f"  No case yet. Press n for the first one.\n  Cases are kept in {self.shelf.place}"
        )

    def on_input_changed(self) -> None:
        self.read()

    def on_input_submitted(self) -> None:
        self.query_one("#cases").focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option.id:
            self.app.call_later(self.app.run_action, f"open_case({event.option.id!r})")

    def key_escape(self) -> None:
        search = self.query_one("#search", Input)
        if search.display:
            search.value = ""
            search.display = False
            self.query_one("#cases").focus()
            self.read()

    def action_due(self) -> None:
        """What is to be done after the highlighted case; one of it can be marked as done."""
        box = self.query_one("#cases", OptionList)
        chosen = None if box.highlighted is None else box.get_option_at_index(box.highlighted).id
        case = next((entry.case for entry in self.entries if entry.key == chosen), None)
        if case is None or chosen is None or all(item.done for item in case.follow_ups):
            self.notify("Nothing is due for this case.")
            return

        def done(item: FollowUp | None) -> None:
            if item is not None and item.what == "call-back":
                self.app.push_screen(CallOverlay(case).kept_by(lambda called: self.called(chosen, item, called)))
            elif item is not None:
                self.mark(chosen, item, "")
                self.read()

        self.app.push_screen(DueOverlay(case, date.today()), done)

    def called(self, key: str, item: FollowUp, called: Called) -> bool:
        """The call was made; a car that must come back is opened where its case is reopened."""
        marked = self.mark(key, item, called.said)
        if marked and called.come_back:
            self.app.call_later(self.app.run_action, f"reopen({key!r})")
        self.read()
        return marked

    def action_search(self) -> None:
        search = self.query_one("#search", Input)
        search.display = True
        search.focus()

    def action_open(self) -> None:
        self.query_one("#cases", OptionList).action_select()

    async def action_new(self) -> None:
        await self.app.run_action("new_case")

    async def action_quit(self) -> None:
        self.app.exit()

    def action_help(self) -> None:
        self.app.push_screen(HelpOverlay("start"))
