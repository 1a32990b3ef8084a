"""What a merge tells: a field that changed, and a field that two people changed differently."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from vibdiag.files.errors import InputError

__all__ = ["Conflict", "ConflictError", "FieldChange", "shown"]

_LONGEST_SHOWN = 60


@dataclass(frozen=True)
class FieldChange:
    """One field, before and after, as plain data; None where it was or is not given."""

    field: str
    before: Any
    after: Any

    def sentence(self) -> str:
        """The change in words, one line."""
        if self.before is None:
            return f"{self.field}: {shown(self.after)}"
        if self.after is None:
            return f"{self.field}: {shown(self.before)} taken out"
        return f"{self.field}: {shown(self.before)} -> {shown(self.after)}"


@dataclass(frozen=True)
class Conflict:
    """One field that two people changed differently: both values, and who had changed it before you saved."""

    field: str
    base: Any
    yours: Any
    theirs: Any
    who: str = "unknown"
    at: datetime | None = None

    def sentence(self) -> str:
        """Both values and the other person's name, one line."""
        return f"{self.field}: {self.who} has {shown(self.theirs)}, you have {shown(self.yours)}"


class ConflictError(InputError):
    """Two people changed the same field differently; nothing was overwritten and nothing was saved."""

    def __init__(self, case_id: str, conflicts: tuple[Conflict, ...]) -> None:
        self.case_id = case_id
        self.conflicts = conflicts
        more = f", and {len(conflicts) - 1} more" if len(conflicts) > 1 else ""
        super().__init__(
            f"somebody else changed the same thing meanwhile, nothing was saved: {conflicts[0].sentence()}{more}; "
            "look at both and enter the right one again",
            file=case_id,
        )


def shown(value: Any) -> str:
    """A value short enough for a sentence."""
    if isinstance(value, dict):
        # Who and when stand beside every change already.
        value = ", ".join(f"{key} {part}" for key, part in value.items() if key not in ("at", "by", "role"))
    text = "nothing" if value is None else value if isinstance(value, str) else repr(value)
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."
