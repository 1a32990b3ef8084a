"""`vibdiag` without a command, and `vibdiag screens`: the screens in a terminal, or behind `vibdiag serve`."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from vibdiag.commands.output import fail, input_errors
from vibdiag.commands.where import opened_shelf, preferences_path, waiting_files
from vibdiag.screen.app import VibdiagApp
from vibdiag.screen.preferences import Preferences

__all__ = ["run_screens"]

# Set by `vibdiag serve`: which browser tab this is.
_TAB = "VIBDIAG_TAB"


def run_screens(folder: Path | None, store: str | None, rules: Path | None) -> None:
    """Run the application on the cases in `folder`, or in the store."""
    if "TEXTUAL_DRIVER" in os.environ:
        from vibdiag.serve.orphan import end_with_parent

        end_with_parent()
    elif not (sys.stdin.isatty() and sys.stdout.isatty()):
        fail("the screens need a terminal; the plain commands do not: vibdiag --help")
    with input_errors(), opened_shelf(folder, store) as shelf:
        preferences = Preferences.load(preferences_path(shelf), tab=os.environ.get(_TAB, ""))
        VibdiagApp(shelf, preferences, rules=rules, hint=waiting_files(shelf)).run()
