"""The first screen: every case with where it stands, what is due on top, search, and a new case in one key."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import Screen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from vibdiag.screen.keys import START_KEYS
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.due import DueOverlay
from vibdiag.screen.overlays.help import HelpOverlay
from vibdiag.work.casebook import Casebook, CaseEntry

__all__ = ["StartScreen"]


def _line(entry: CaseEntry, today: date, columns: int) -> str:
    due = entry.due(today)
    mark = "* " if due else "  "
    told = f"\n    DUE: {', '.join(due)}" if due else ""
    invented = " (invented)" if entry.case is not None and entry.case.invented else ""
    problem = f"\n    {entry.problem.replace(str(entry.path), entry.path.name)}" if entry.problem else ""
    head = f"{mark}{entry.changed.astimezone():%d %b %H:%M}  {entry.stands:22} "
    room = max(16, columns - len(head) - len(invented) - 4)
    title = entry.title if len(entry.title) <= room else entry.title[: room - 1] + "…"
    return f"{head}{title}{invented}{told}{problem}"


class StartScreen(Screen[None]):
    """Reads the folder in a thread; a file that cannot be read stands in the list with its reason."""

    BINDINGS: ClassVar[list[BindingType]] = list(START_KEYS)

    def __init__(self, casebook: Casebook) -> None:
        super().__init__()
        self.casebook = casebook
        self.entries: list[CaseEntry] = []

    def compose(self) -> ComposeResult:
        yield Static(" vibdiag    why does it shake, and is it gone?", id="top", markup=False)
        yield Input(placeholder="search: words of the title, the complaint or the car", id="search")
        yield Listing(id="cases", markup=False)
        yield Static("", id="empty", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        self.query_one("#search").display = False
        self.query_one("#cases").focus()
        self.read_folder()

    def on_screen_resume(self) -> None:
        self.read_folder()

    @work(thread=True, exclusive=True)
    def read_folder(self) -> None:
        entries = self.casebook.entries()
        self.app.call_from_thread(self.show_entries, entries)

    def show_entries(self, entries: list[CaseEntry]) -> None:
        self.entries = entries
        self.fill()

    def fill(self) -> None:
        box, today = self.query_one("#cases", OptionList), date.today()
        kept = box.highlighted
        text = self.query_one("#search", Input).value
        found = [entry for entry in self.entries if entry.matches(text)]
        box.clear_options()
        box.add_options(Option(_line(entry, today, self.app.size.width), id=str(entry.path)) for entry in found)
        if found:
            box.highlighted = min(kept or 0, len(found) - 1)
        empty = self.query_one("#empty", Static)
        empty.display = not found
        empty.update(
            "  No case fits these words. Esc ends the search."
            if self.entries
            else f"  No case yet. Press n for the first one.\n  Cases are kept in {self.casebook.folder}"
        )

    def on_input_changed(self) -> None:
        self.fill()

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
            self.fill()

    def action_due(self) -> None:
        """What is to be done after the highlighted case; one of it can be marked as done."""
        box = self.query_one("#cases", OptionList)
        chosen = None if box.highlighted is None else box.get_option_at_index(box.highlighted).id
        case = next((entry.case for entry in self.entries if str(entry.path) == chosen), None)
        if case is None or all(item.done for item in case.follow_ups):
            self.notify("Nothing is due for this case.")
            return

        def done(place: int | None) -> None:
            if place is not None:
                self.app.call_later(self.app.run_action, f"follow_up_done({chosen!r}, {place})")
                self.app.call_later(self.read_folder)

        self.app.push_screen(DueOverlay(case, date.today()), done)

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
