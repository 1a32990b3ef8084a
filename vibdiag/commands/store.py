"""`vibdiag store`: cases in a database, with their history; for one desk, or for several at once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibdiag.commands.summaries import WholeSummaries

if TYPE_CHECKING:
    from vibdiag.store.exchange import Exchanged
    from vibdiag.store.face import CaseLine
    from vibdiag.store.store import CaseStore

__all__ = ["store_app"]

store_app = typer.Typer(
    cls=WholeSummaries,
    help="Keep cases in a database with their history; VIBDIAG_STORE says where.",
    rich_markup_mode=None,
    no_args_is_help=True,
)

Place = Annotated[
    str | None, typer.Option("--store", metavar="FILE_OR_URL", help="This store instead of VIBDIAG_STORE.")
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON with stable keys instead of text.")]
By = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who does it; your login when left out.")]
CaseId = Annotated[str, typer.Argument(metavar="CASE", help="Id of the case.")]


@contextmanager
def _opened(place: str | None) -> Iterator[CaseStore]:
    from vibdiag.commands.output import input_errors

    with input_errors():
        from vibdiag.store.store import open_store

        with open_store(place) as store:
            yield store


def _exchanged(results: list[Exchanged], *, as_json: bool) -> None:
    from vibdiag.commands.output import fail, print_json, say
    from vibdiag.store.told import exchanged_json

    refused = [one for one in results if one.problem]
    if as_json:
        print_json([exchanged_json(one) for one in results])
    else:
        counted = {one.outcome: sum(other.outcome == one.outcome for other in results) for one in results}
        say(", ".join(f"{number} {outcome}" for outcome, number in counted.items()) or "nothing to do")
        for one in refused[1:]:
            say(f"  refused: {one.problem}")
    if refused:
        fail(str(refused[0].problem))


def _listed(lines: tuple[CaseLine, ...], *, as_json: bool) -> None:
    from vibdiag.commands.output import paragraph, print_json, say
    from vibdiag.store.told import line_json

    if as_json:
        print_json([line_json(one) for one in lines])
        return
    for one in lines:
        when = one.changed_at.astimezone().strftime("%Y-%m-%d %H:%M")
        say(paragraph(f"{when}  {one.id}: {one.title} ({one.changed_by})", indent="    ", first=""))
    if not lines:
        say("no case")


@store_app.command("import")
def import_(
    paths: Annotated[list[Path], typer.Argument(metavar="FOLDER_OR_FILE...", help="Case files (YAML).")],
    place: Place = None,
    by: By = None,
    as_json: Json = False,
) -> None:
    """Take case files into the store, with the recordings beside them."""
    with _opened(place) as store:
        from vibdiag.store.exchange import import_files
        from vibdiag.store.typed import signature_of

        _exchanged(list(import_files(store, paths, signature_of(by, "import"))), as_json=as_json)


@store_app.command()
def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the case files go.")],
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Write every case as a case file, with its recordings."""
    with _opened(place) as store:
        from vibdiag.store.exchange import export_folder

        _exchanged(list(export_folder(store, folder)), as_json=as_json)


@store_app.command("list")
def list_(
    place: Place = None,
    limit: Annotated[int | None, typer.Option(min=1, help="At most so many.")] = None,
    as_json: Json = False,
) -> None:
    """List the cases, the most recently changed first."""
    with _opened(place) as store:
        _listed(store.lines(limit=limit), as_json=as_json)


@store_app.command()
def search(
    words: Annotated[list[str], typer.Argument(metavar="WORDS", help="Beginnings of words, all to be found.")],
    place: Place = None,
    limit: Annotated[int, typer.Option(min=1, max=1000, help="At most so many.")] = 50,
    as_json: Json = False,
) -> None:
    """Find cases by words, the newest case first."""
    with _opened(place) as store:
        from vibdiag.store.search import search as find

        _listed(find(store, " ".join(words), limit=limit), as_json=as_json)


@store_app.command()
def history(case: CaseId, place: Place = None, as_json: Json = False) -> None:
    """Who changed what, when and from where, oldest first."""
    from vibdiag.commands.output import paragraph, print_json, say

    with _opened(place) as store:
        from vibdiag.store.told import entry_json

        found = store.history(case)
    if as_json:
        print_json([entry_json(entry) for entry in found])
        return
    for entry in found:
        when = entry.at.astimezone().strftime("%Y-%m-%d %H:%M:%S")
        say(paragraph(f"{entry.revision}  {when}  {entry.who}, {entry.source}: {entry.what}", indent="    ", first=""))
        for change in entry.changes if entry.revision > 1 else ():
            say(paragraph(change.sentence(), indent="        ", first="    "))


@store_app.command()
def show(
    case: CaseId,
    as_of: Annotated[str | None, typer.Option("--as-of", metavar="TIME", help="As it was known then.")] = None,
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Print a case as a case file, as it stands or as it was known at a time."""
    from vibdiag.case.storage import case_to_text
    from vibdiag.commands.output import input_errors, print_json

    with input_errors():
        from vibdiag.store.typed import moment_of

        moment = moment_of(as_of) if as_of else None
    with _opened(place) as store:
        from vibdiag.merging.plain import plain

        found = store.read(case, as_of=moment)
    if as_json:
        told = {"revision": found.revision, "at": found.at.isoformat(), "who": found.who}
        print_json(told | {"case": plain(found.case)})
    else:
        print(case_to_text(found.case), end="")


@store_app.command()
def undo(case: CaseId, place: Place = None, by: By = None, as_json: Json = False) -> None:
    """Take the last change of a case back."""
    from vibdiag.commands.output import print_json, say

    with _opened(place) as store:
        from vibdiag.store.told import entry_json
        from vibdiag.store.typed import signature_of

        done = store.history(case, after=store.undo(case, signature_of(by, "undo")).version.revision - 1)[-1]
    if as_json:
        print_json(entry_json(done))
    else:
        say(done.what)


@store_app.command()
def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file.")],
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Write everything to one file, which opens as a store itself."""
    from vibdiag.commands.output import print_json, say

    with _opened(place) as store:
        from vibdiag.store.backup import backup as write

        number = write(store, file)
    if as_json:
        print_json({"written": str(file), "cases": number})
    else:
        say(f"written: {file}, {number} case{'s' if number != 1 else ''}")


@store_app.command()
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")], place: Place = None, as_json: Json = False
) -> None:
    """Fill an empty store from a backup."""
    from vibdiag.commands.output import print_json, say

    with _opened(place) as store:
        from vibdiag.store.backup import restore as fill

        number, where = fill(store, file), store.place
    if as_json:
        print_json({"restored": where, "cases": number})
    else:
        say(f"restored: {number} case{'s' if number != 1 else ''} in {where}")


@store_app.command()
def forget(
    case: CaseId,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; it cannot be undone.")] = False,
    recordings: Annotated[bool, typer.Option("--recordings", help="The recordings kept in the store too.")] = False,
    place: Place = None,
    by: By = None,
    as_json: Json = False,
) -> None:
    """Remove names and free text from a case and all its past; its evidence stays."""
    from vibdiag.commands.output import fail, paragraph, print_json, say

    if not yes:
        fail(f"this removes names and free text from '{case}' and all its past, for good; say --yes to do it")
    with _opened(place) as store:
        from vibdiag.store.forget import forget as remove
        from vibdiag.store.typed import signature_of

        done = remove(store, case, signature_of(by, "forget"), with_recordings=recordings)
    if as_json:
        print_json(asdict(done))
        return
    say(paragraph(f"removed from {case} and its {done.events} past versions; what speaks about the car stays"))
    if done.recordings_kept:
        say(paragraph(f"Kept, listen to them yourself: {', '.join(done.recordings_kept)}. --recordings removes them."))
    say(paragraph("The id stays. Backups and exported files still hold everything: delete those you do not need."))


@store_app.command()
def attach(
    case: CaseId,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A recording or picture.")],
    place: Place = None,
    by: By = None,
    as_json: Json = False,
) -> None:
    """Take a recording or picture into the store and the case."""
    from vibdiag.commands.output import print_json, say

    with _opened(place) as store:
        from vibdiag.store.recordings import attach_file
        from vibdiag.store.typed import signature_of

        _, kept = attach_file(store, case, file, signature_of(by, "attach"))
    if as_json:
        print_json({"case": case, "path": kept.path, "sha256": kept.sha256, "size_bytes": kept.size_bytes})
    else:
        say(f"attached: {kept.path}, {kept.size_bytes} bytes, {kept.sha256[:16]}")
