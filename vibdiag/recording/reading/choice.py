"""What one column was taken for, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.roles import Role

__all__ = ["AS_SAID", "Choice", "UnsettledError"]

AS_SAID: Final = "as you said"


@dataclass(frozen=True, slots=True)
class Choice:
    """One column's role. name: as in the file, or "column 3". why: what speaks for it. doubt: what may be wrong."""

    index: int
    name: str
    role: Role
    why: str
    doubt: str = ""


class UnsettledError(InputError):
    """Some columns were understood, but not enough of them. choices: as far as they go."""

    def __init__(self, message: str, *, file: str, choices: Sequence[Choice]) -> None:
        super().__init__(message, file=file)
        self.choices = tuple(choices)
