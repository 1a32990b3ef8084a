"""What a person types at a command, taken as it is meant: a moment, a name."""

from __future__ import annotations

import getpass
import socket
from datetime import datetime, time

from vibdiag.files.errors import InputError
from vibdiag.store.face import Signature

__all__ = ["login", "moment_of", "signature_of"]


def moment_of(text: str) -> datetime:
    """A moment: local time when no zone is given, the end of the day when only a date is; raises InputError."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"'{text}' is no time; write 2026-03-09 or 2026-03-09T14:30", field="--as-of") from error
    if len(text) <= len("2026-03-09"):
        moment = datetime.combine(moment.date(), time.max)
    return moment.astimezone()


def login() -> str:
    """Who is at this machine, for changes that nobody put a name to."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        # A login without a name, as in a bare container.
        return "unknown"


def signature_of(by: str | None, command: str) -> Signature:
    """Who, or the login when no name is given, and from where: the command and the machine."""
    return Signature(by or login(), f"vibdiag store {command}, {socket.gethostname()}")
