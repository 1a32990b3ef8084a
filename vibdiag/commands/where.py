"""Where cases are kept, by what was typed: a folder of case files, or else the store."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from vibdiag.case.model import Case
from vibdiag.case.storage import spot_of
from vibdiag.files.errors import InputError
from vibdiag.work.case_file import CaseFile
from vibdiag.work.casebook import Casebook, chosen_folder, usual_folder

if TYPE_CHECKING:
    from vibdiag.work.shelf import CaseInHand, Shelf

__all__ = ["case_at", "faults_of_case", "hand_at", "opened_shelf", "preferences_path", "waiting_files"]


@contextmanager
def opened_shelf(folder: Path | None, store: str | None) -> Iterator[Shelf]:
    """The folder that was named, by `--cases` or VIBDIAG_CASES; else the store that was named, else the usual one.

    Raises InputError when both were named, or the store cannot be opened.
    """
    if folder is not None and store is not None:
        raise InputError("cases are in a folder or in a store; give --cases or --store, not both")
    named = folder if folder is not None or store is not None else chosen_folder()
    if named is not None:
        if named.exists() and not named.is_dir():
            raise InputError("is a file; give the folder that holds the cases", file=named)
        yield Casebook(named)
        return
    from vibdiag.store.shelf import StoreShelf
    from vibdiag.store.store import open_store

    with open_store(store) as opened:
        yield StoreShelf(opened)


def preferences_path(shelf: Shelf) -> Path:
    """Beside a folder of cases; those of the store are the person's own, wherever the store is."""
    if isinstance(shelf, Casebook):
        return shelf.folder.parent / "preferences.json"
    return usual_folder().parent / "preferences.json"


def waiting_files(shelf: Shelf) -> str | None:
    """A sentence when the store is empty and case files lie in the folder where they were kept before; else None."""
    folder = usual_folder()
    if isinstance(shelf, Casebook) or not folder.is_dir() or shelf.entries():
        return None
    count = len(list(folder.glob("*.yaml")))
    return (
        f"{count} case file{'s lie' if count != 1 else ' lies'} in {folder} and not in the store. "
        f"Take them in: vibdiag store import {folder}"
        if count
        else None
    )


@contextmanager
def hand_at(given: Path) -> Iterator[CaseInHand]:
    """The case in the file `given`, or of that id in the store, in hand, so that it can be saved.

    Raises InputError when there is neither.
    """
    if given.exists() or given.suffix in (".yaml", ".yml") or given.parent != Path():
        yield CaseFile(given)
        return
    with opened_shelf(None, None) as shelf:
        key = str(shelf.folder / f"{given}.yaml") if isinstance(shelf, Casebook) else str(given)
        if not shelf.holds(key):
            raise InputError(f"there is no such file, and no case of this id in {shelf.place}", file=given)
        yield shelf.open(key)


@contextmanager
def faults_of_case(given: Path | str) -> Iterator[None]:
    """Faults found in a case after reading it, told by the file it is in and, where that can be said, by the line."""
    try:
        yield
    except InputError as error:
        spot = error.spot or spot_of(Path(given), error.field)
        raise InputError(error.message, file=error.file or given, spot=spot, field=error.field) from error


def case_at(given: Path) -> tuple[Case, Path]:
    """The case in the file `given`, or of that id in the store; and the path beside which a report of it may lie.

    Raises InputError when there is neither.
    """
    with hand_at(given) as hand:
        return hand.case, given
