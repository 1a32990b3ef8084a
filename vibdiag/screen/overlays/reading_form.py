"""What every way of taking a reading shares: it is shown a case, and says what it made of it."""

from __future__ import annotations

from typing import ClassVar

from textual.containers import Vertical
from textual.message import Message

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.vocabulary import Quantity
from vibdiag.screen.preferences import Preferences

__all__ = ["ReadingForm"]


class ReadingForm(Vertical):
    """A form for readings. Subclasses give `title`, compose their fields, and post `Kept` from `keep`."""

    title: ClassVar[str] = ""
    # Whether it takes the whole sheet while it is in use: no list of checks beside it, no corners below.
    roomy: ClassVar[bool] = False

    class Kept(Message):
        """The case with the new readings, and what they are, for the undo; every one counts."""

        def __init__(self, case: Case, what: str) -> None:
            super().__init__()
            self.case = case
            self.what = what

    class Quantified(Message):
        """The four corners are to show the readings of this quantity; a newer message replaces an older one."""

        def __init__(self, quantity: Quantity) -> None:
            super().__init__()
            self.quantity = quantity

    def __init__(self, case: Case, adviser: Adviser, preferences: Preferences) -> None:
        super().__init__(classes="reading-form form")
        self.case = case
        self.adviser = adviser
        self.preferences = preferences

    def show(self, case: Case) -> None:
        """Draw anew for a case that has changed, or for other units; nothing typed is lost."""
        self.case = case

    def begin(self) -> None:
        """Put the cursor where the next reading is typed."""
        raise NotImplementedError

    def unkept(self) -> bool:
        """Whether a reading is typed that is not kept."""
        raise NotImplementedError

    def keep(self) -> None:
        """Post `Kept`, or say in one sentence inside the form what is wrong."""
        raise NotImplementedError
