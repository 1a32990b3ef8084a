"""Learned numbers into a copy of the rule folder: only the numbers change, comments and order stay."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError, Spot
from vibdiag.files.shipped import shipped_folder
from vibdiag.files.strict_yaml import Document, parse
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.learn import Learned, RateChange, RowChange
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.reasoning.language import Name

__all__ = ["edited", "refuse_wrong_target", "write_copy"]

_NUMBER = r"[-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?"


@dataclass(frozen=True)
class _Edit:
    """The number that stands behind `key` at `spot` becomes `value`."""

    key: str
    spot: Spot
    value: float


def write_copy(base: RuleBase, learned: Learned, target: Path, facts: Mapping[str, Name]) -> None:
    """A copy of the rule folder at `target` with the learned numbers, read back and compared before it gets its name.

    Raises InputError when `target` exists, lies in a rule base, or a row is written so that its numbers cannot be
    replaced; OSError when it cannot be written. Then nothing is left behind.
    """
    refuse_wrong_target(target, base)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.") as scratch:
        copy = Path(scratch) / "rules"
        shutil.copytree(base.folder, copy)
        by_file: dict[str, list[RowChange | RateChange]] = defaultdict(list)
        every: list[RowChange | RateChange] = [*learned.rows, *learned.rates]
        for change in every:
            by_file[change.file].append(change)
        for name, changes in by_file.items():
            text = (copy / name).read_bytes().decode("utf-8-sig")
            write_atomically(copy / name, edited(text, changes, file=name))
        if load_rule_base(copy, facts).causes != learned.causes:
            raise InputError("the copy does not read back as it was learned; nothing was written", file=target)
        copy.rename(target)


def refuse_wrong_target(target: Path, base: RuleBase) -> None:
    """Raise InputError when `target` exists or lies in the shipped rule base or in `base`."""
    where = target.resolve()
    for folder in (base.folder.resolve(), shipped_folder("rules").resolve()):
        if where == folder or folder in where.parents:
            raise InputError("lies in a rule base that is in use; name a new folder elsewhere", file=target)
    if target.exists() or target.is_symlink():
        raise InputError("is there already; name a new folder, nothing is overwritten", file=target)


def edited(text: str, changes: list[RowChange | RateChange], *, file: str) -> str:
    """`text` of a cause's file with the numbers of `changes`, everything else as it was.

    Raises InputError where a number does not stand in the line of its word.
    """
    document = parse(text, file=file)
    lines = text.splitlines(keepends=True)
    edits = [edit for change in changes for edit in _edits(document, change)]
    for edit in sorted(edits, key=lambda one: (one.spot.line, one.spot.column), reverse=True):
        line = lines[edit.spot.line - 1]
        head, tail = line[: edit.spot.column - 1], line[edit.spot.column - 1 :]
        found = re.match(rf"""((["']?){re.escape(edit.key)}\2\s*:\s*){_NUMBER}(?![\w.])""", tail)
        if found is None:
            raise InputError(
                f"the number of '{edit.key}' must stand in the same line, as '{edit.key}: {edit.value:g}'",
                file=file,
                spot=edit.spot,
            )
        lines[edit.spot.line - 1] = f"{head}{found[1]}{edit.value:g}{tail[found.end() :]}"
    return "".join(lines)


def _edits(document: Document, change: RowChange | RateChange) -> list[_Edit]:
    if isinstance(change, RateChange):
        return [_Edit("base_rate", document.spots[("base_rate",)], change.after)]
    place = next(i for i, table in enumerate(document.data["tables"]) if table["sign"] == change.sign)
    return [
        _Edit(word, document.spots[("tables", place, change.row, word)], share)
        for word, share in change.after.items()
        if share != change.before[word]
    ]
