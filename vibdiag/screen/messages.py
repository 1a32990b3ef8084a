"""What widgets tell the screen. Widgets do not reach into each other; the screen changes the case, then redraws."""

from __future__ import annotations

from textual.message import Message

__all__ = ["Answered", "DangerRead", "EntryChosen", "EntryWithdrawn"]


class Answered(Message):
    """The step in hand got an outcome, or unknown; every answer counts, none replaces another."""

    def __init__(self, step_id: str, outcome: str) -> None:
        super().__init__()
        self.step_id = step_id
        self.outcome = outcome


class DangerRead(Message):
    """Somebody signed for having read the danger in hand."""

    def __init__(self, cause: str, name: str) -> None:
        super().__init__()
        self.cause = cause
        self.name = name


class EntryChosen(Message):
    """An entry of the trail is to be changed: bring its step back."""

    def __init__(self, step_id: str) -> None:
        super().__init__()
        self.step_id = step_id


class EntryWithdrawn(Message):
    """An entry of the trail is to be taken out."""

    def __init__(self, step_id: str) -> None:
        super().__init__()
        self.step_id = step_id
