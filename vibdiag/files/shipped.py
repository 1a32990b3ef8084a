"""Where the rule base and the demo cases lie: in a checkout beside the package, in a wheel inside it."""

from __future__ import annotations

from pathlib import Path

from vibdiag.files.errors import InputError

__all__ = ["shipped_folder"]


def shipped_folder(name: str) -> Path:
    """The folder `rules` or `cases` as shipped with this program.

    Raises InputError when neither place has it, which means a damaged installation.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "shipped" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise InputError(f"the shipped folder '{name}' is missing; install vibdiag again")
