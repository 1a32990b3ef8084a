"""`vibdiag` without a command, and `vibdiag screens`: the screens in a terminal, or behind `vibdiag serve`."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from vibdiag.commands.output import fail
from vibdiag.screen.app import VibdiagApp
from vibdiag.work.casebook import Casebook

__all__ = ["run_screens"]


def run_screens(folder: Path | None, rules: Path | None) -> None:
    """Run the application on the cases in `folder`, or in the user's own data folder."""
    if "TEXTUAL_DRIVER" in os.environ:
        from vibdiag.serve.orphan import end_with_parent

        end_with_parent()
    elif not (sys.stdin.isatty() and sys.stdout.isatty()):
        fail("the screens need a terminal; the plain commands do not: vibdiag --help")
    VibdiagApp(Casebook(folder), rules=rules).run()
