"""The application: the shelf of cases, the rule base made ready, preferences, themes and units."""

from __future__ import annotations

import gc
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import ClassVar

from textual import work
from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.notifications import SeverityLevel
from textual.screen import Screen

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import FollowUp
from vibdiag.files.errors import InputError
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.folding import fitted
from vibdiag.screen.overlays.base import Overlay
from vibdiag.screen.preferences import Preferences
from vibdiag.screen.start import StartScreen
from vibdiag.screen.themes import DEFAULT_THEME, THEMES
from vibdiag.work.call import CALL_CAUTION
from vibdiag.work.desk import Desk
from vibdiag.work.shelf import DUE_NAMES, Shelf, with_done

__all__ = ["VibdiagApp", "collect_seldom"]


def collect_seldom() -> None:
    """Let Python's collector leave alone what was loaded for good, and run seldom: it holds every key up while it runs.

    Measured over 60 answers at 120x40: without this a full collection of 20 to 97 ms at every third answer.
    """
    gc.freeze()
    gc.set_threshold(10_000, 20, 50)


class VibdiagApp(App[None]):
    """One terminal application for desk, road and bay."""

    CSS_PATH = "vibdiag.tcss"
    TITLE = "vibdiag"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f2", "units", "Units", show=False),
        Binding("f3", "next_theme", "Theme", show=False),
        Binding("ctrl+q", "quit", "Quit", show=False),
    ]

    def __init__(
        self,
        shelf: Shelf,
        preferences: Preferences,
        *,
        rules: Path | None = None,
        adviser: Adviser | None = None,
        hint: str | None = None,
    ) -> None:
        super().__init__()
        self.hint = hint
        self.shelf = shelf
        self.rules = rules
        self.adviser = adviser
        self.preferences = preferences
        for theme in THEMES:
            self.register_theme(theme)
        known = {theme.name for theme in THEMES}
        self.theme = self.preferences.theme if self.preferences.theme in known else DEFAULT_THEME

    def on_mount(self) -> None:
        self.push_screen(StartScreen(self.shelf, self.follow_up_done))
        if self.preferences.problem:
            self.notify(self.preferences.problem, severity="warning")
        if self.hint:
            self.notify(self.hint, timeout=20)
        if self.adviser is None:
            self.make_ready()
        elif self.preferences.last_case:
            self.resume()

    @work(thread=True)
    def make_ready(self) -> None:
        """Load the rule base aside; the list of cases is there meanwhile."""
        try:
            adviser = Adviser.shipped(self.rules)
        except InputError as error:
            self.call_from_thread(
                self.notify, str(error), title="The rule base is not sound", severity="error", timeout=60
            )
            return
        collect_seldom()
        self.call_from_thread(self.ready, adviser)

    def ready(self, adviser: Adviser) -> None:
        self.adviser = adviser
        if self.preferences.last_case:
            self.resume()

    def resume(self) -> None:
        """Go on where one was."""
        key = self.preferences.last_case
        try:
            there = self.shelf.holds(key)
        except InputError as error:
            self.notify(str(error), title="The case in hand cannot be opened", severity="error", timeout=15)
            return
        if there:
            self.action_open_case(key)

    def action_open_case(self, key: str) -> None:
        if self.adviser is None:
            self.notify("The rule base is still being read; try again in a moment.")
            return
        try:
            desk = Desk(self.shelf.open(key), self.adviser, by=self.preferences.name or None)
        except InputError as error:
            self.notify(str(error), title="This case cannot be opened", severity="error", timeout=15)
            return
        if self.preferences.last_case != key:
            self.preferences.last_case, self.preferences.last_step = key, ""
        self.push_screen(CaseScreen(desk, self.preferences), self.case_left)

    def case_left(self, _: None) -> None:
        self.preferences.last_case, self.preferences.last_step = "", ""
        self.keep_preferences()

    def action_new_case(self) -> None:
        if self.adviser is None:
            self.notify("The rule base is still being read; try again in a moment.")
            return
        try:
            key = self.shelf.create(by=self.preferences.name or None)
        except OSError as error:
            self.notify(f"{self.shelf.place}: {error.strerror}", title="No case can be made there", severity="error")
            return
        except InputError as error:
            self.notify(str(error), title="No case can be made there", severity="error")
            return
        self.action_open_case(key)
        if isinstance(self.screen, CaseScreen) and self.screen.desk.hand.key == key:
            self.screen.action_words()

    def follow_up_done(self, key: str, seen: FollowUp, said: str) -> bool:
        """Mark something that was due as done, where the case is kept, at once; whether it went."""
        by = self.preferences.name or None
        try:
            hand = self.shelf.open(key)
            case = with_done(hand.case, seen, today=date.today(), by=by, said=said)
            hand.save(case, f"done: {DUE_NAMES[seen.what]}", by=by, sound=lambda _: None)
        except ValueError as error:
            self.notify(str(error), title="Not marked", severity="error", timeout=15)
        except OSError as error:
            self.notify(f"not saved: {error.strerror}", title="The disk refused", severity="error", timeout=15)
        else:
            self.notify(f"Done: {DUE_NAMES[seen.what]}")
            return True
        return False

    def action_reopen(self, key: str) -> None:
        """The case, on the sheet where it is reopened with what was learned."""
        self.action_open_case(key)
        if isinstance(self.screen, CaseScreen) and self.screen.desk.hand.key == key:
            self.screen.action_proof()
            self.notify(
                CALL_CAUTION, title="The car must come back: key o reopens the case", severity="error", timeout=30
            )

    def action_travel(self, way: str) -> None:
        """Undo or redo, from a sheet that lies over the case."""
        for screen in self.screen_stack:
            if isinstance(screen, CaseScreen):
                screen.travel(way)

    def action_units(self) -> None:
        self.preferences.units = self.preferences.units.next_set()
        self.keep_preferences()
        self.notify(f"Units: {self.preferences.units}")
        for screen in self.screen_stack:
            if isinstance(screen, CaseScreen):
                screen.redraw()

    def action_next_theme(self) -> None:
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)] if self.theme in names else names[0]
        self.preferences.theme = self.theme
        self.keep_preferences()

    async def action_quit(self) -> None:
        """Not over the head of a form: what is typed there is asked for first. A note in hand is kept."""
        if isinstance(self.screen, Overlay) and self.screen.unkept():
            self.screen.action_close()
        elif all(screen.note_put_away() for screen in self.screen_stack if isinstance(screen, CaseScreen)):
            await super().action_quit()

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = False,  # noqa: ARG002
    ) -> None:
        """Said below everything, in rows of its own, so that it lies over nothing: in one line, the latest alone,
        unless something went wrong, which is said whole. Never as markup: it may hold what a customer said."""
        plain = " ".join(f"{title}: {message}".split() if title else message.split())
        if severity == "information":
            for former in [one for one in self._notifications if one.severity == "information"]:
                self._unnotify(former)
            plain = fitted(plain, self.size.width - 2)
        super().notify(plain, severity=severity, timeout=timeout, markup=False)

    def keep_preferences(self) -> None:
        try:
            self.preferences.save()
        except OSError as error:
            self.notify(f"preferences are not kept: {error.strerror}", severity="warning")

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Everything by name in the palette; entries of a case only where there is one."""
        yield SystemCommand("Units", "metric, inch, or metric with kPa", self.action_units)
        yield SystemCommand("Theme", "paper, night, contrast", self.action_next_theme)
        yield SystemCommand("New case", "begin with the customer's words", self.action_new_case)
        if isinstance(screen, CaseScreen):
            for name, title, help_text in _CASE_COMMANDS:
                yield SystemCommand(title, help_text, getattr(screen, f"action_{name}"))
        yield SystemCommand("Quit", "everything is saved already", self.action_quit)


_CASE_COMMANDS = (
    ("steps", "Choose a step", "all that are possible, what pays first on top"),
    ("causes", "Causes", "for, against, and what would change it"),
    ("trail", "Trail", "everything known, to change or withdraw"),
    ("words", "Words and speeds", "as the customer tells them"),
    ("vehicle", "Vehicle", "tyres, ratios, pressures, and what turns how fast"),
    ("bay", "Bay", "checks, their results, and readings wheel by wheel"),
    ("road", "Road sheet", "which speeds to hold, what to try; for the passenger"),
    ("proof", "Repair and proof", "mend, drive the same road, finish or reopen"),
    ("summary", "Read back", "the answers, to read to the customer"),
    ("role", "Role", "desk, road, bay or all"),
    ("undo", "Undo", "take the last change back"),
    ("redo", "Redo", "make it again"),
    ("note", "Note", "word for word, with the next answer"),
    ("help", "Help", "the trade first, then the keys"),
)
