"""Saving from a case's screen: what goes wrong is said, what others did is told, and nobody's work is overwritten."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from textual import work
from textual.screen import Screen

from vibdiag.case.model import Case
from vibdiag.files.errors import InputError
from vibdiag.merging.conflict import ConflictError
from vibdiag.screen.overlays.base import Overlay
from vibdiag.screen.overlays.conflict import ConflictOverlay
from vibdiag.work.desk import Desk
from vibdiag.work.phrases import change_words
from vibdiag.work.shelf import Done

__all__ = ["SavingScreen"]

# How often others are looked for: soon enough to talk about it on the telephone, seldom enough to cost nothing.
_LOOK_S = 2.0
_SHOWN = 3

# Makes a change, over somebody else's when told so; returns what others had changed meanwhile.
Make = Callable[[bool], Sequence[Done]]


class SavingScreen(Screen[None]):
    """Makes changes through `desk`, and takes in those of others while nothing is being typed."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.trouble = ""

    def redraw(self) -> None:
        """Everything from the desk; called after every change."""
        raise NotImplementedError

    def in_hand(self) -> str | None:
        """The step somebody is about to answer."""
        raise NotImplementedError

    def keep_in_hand(self, step: str | None) -> None:
        """That step stays in sight, whatever others changed: no key lands in another question."""
        raise NotImplementedError

    def on_mount(self) -> None:
        self.set_interval(_LOOK_S, self.look_for_others)

    # -- saving -------------------------------------------------------------------------------------------------

    def apply(self, case: Case, what: str) -> bool:
        """Make `case` the present one; says what is wrong and keeps everything as it was when that fails."""
        return self.attempt(lambda insist: self.desk.change(case, what, insist=insist), self.redraw)

    def attempt(self, make: Make, then: Callable[[], None], *, insist: bool = False, may_insist: bool = True) -> bool:
        """Make a change; `then` follows when it went, also when it goes only after somebody has seen a conflict."""
        try:
            others = make(insist)
        except ConflictError as error:
            self.close_form()
            self.call_next(self.show_conflict, error, make, then, may_insist)
            return False
        except InputError as error:
            self.notify(str(error), title="Not saved", severity="error", timeout=15)
            return False
        except OSError as error:
            self.notify(f"not saved: {error.strerror}", title="The disk refused", severity="error", timeout=15)
            return False
        self.app.clear_notifications()  # what was said of the case as it stood is old now
        self.tell(others)
        then()
        return True

    def close_form(self) -> None:
        """What was typed in it stands in the sheet that comes next, beside what somebody else wrote."""
        top = self.app.screen
        if isinstance(top, Overlay) and not top.live:
            top.dismiss(None)

    def show_conflict(self, error: ConflictError, make: Make, then: Callable[[], None], may_insist: bool) -> None:
        def seen(mine: bool | None) -> None:
            if not mine:
                self.take_in()
            self.follow()

        sheet = ConflictOverlay(error.conflicts, self.desk.adviser.base, may_insist=may_insist)
        sheet.kept_by(lambda _: self.attempt(make, then, insist=True, may_insist=False))
        self.app.push_screen(sheet, seen)

    def travel(self, way: str) -> None:
        """Undo or redo."""
        told: list[str | None] = []

        def make(_: bool) -> Sequence[Done]:
            told.append(self.desk.undo() if way == "undo" else self.desk.redo())
            return ()

        def then() -> None:
            what = told[-1]
            self.notify(f"{'Undone' if way == 'undo' else 'Done again'}: {what}" if what else f"Nothing to {way}.")
            self.redraw()

        self.attempt(make, then, may_insist=False)
        self.follow()

    # -- others -------------------------------------------------------------------------------------------------

    def may_take_in(self) -> bool:
        """Not while a form lies over the case: what is typed there belongs to the case as it was."""
        top = self.app.screen
        return self.is_mounted and (top is self or (isinstance(top, Overlay) and top.live))

    def look_for_others(self) -> None:
        if self.may_take_in():
            self.ask()

    @work(thread=True, exclusive=True, group="others")
    def ask(self) -> None:
        """Aside, so that a server that is slow holds up no key."""
        try:
            changed, trouble = self.desk.hand.changed(), ""
        except (InputError, OSError) as error:
            changed, trouble = False, str(error)
        if changed or trouble != self.trouble:
            self.app.call_from_thread(self.heard, changed, trouble)

    def heard(self, changed: bool, trouble: str) -> None:
        if trouble and trouble != self.trouble:
            self.notify(trouble, title="Others' changes cannot be seen", severity="warning", timeout=15)
        self.trouble = trouble
        if changed and self.may_take_in():
            self.take_in()

    def take_in(self) -> None:
        """What others changed into sight, and who it was."""
        step = self.in_hand()
        try:
            others = self.desk.look()
        except (InputError, OSError) as error:
            self.heard(False, str(error))
            return
        if others:
            self.keep_in_hand(step)
            self.tell(others)
            self.redraw()
            self.follow()

    def tell(self, others: Sequence[Done]) -> None:
        if not others:
            return
        steps = self.desk.adviser.base.steps
        told = [replace(one, what=change_words(one.what, steps)).sentence() for one in others[-_SHOWN:]]
        if len(others) > _SHOWN:
            told.insert(0, f"{len(others) - _SHOWN} earlier changes")
        self.notify("; ".join(told), title="Changed meanwhile", timeout=10)

    def follow(self) -> None:
        """A sheet that shows the case as it stands is drawn anew."""
        top = self.app.screen
        if isinstance(top, Overlay) and top.live:
            top.follow()
