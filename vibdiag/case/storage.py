"""A case as a YAML file: read with one clear error, written atomically, nothing lost."""

from __future__ import annotations

from pathlib import Path

from vibdiag.case.migrate import migrate
from vibdiag.case.model import Case
from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError, Spot
from vibdiag.files.strict_yaml import dump, parse
from vibdiag.files.validate import validate

__all__ = ["case_from_text", "case_to_text", "load_case", "load_folder", "save_case", "spot_of"]


def case_from_text(text: str | bytes, *, file: str | None = None) -> Case:
    """The case in `text`; raises InputError with the place of the first fault."""
    document = parse(text, file=file)
    if isinstance(document.data, dict):
        document.data = migrate(document.data, file=file, spot=document.spot(("vibdiag_case",)))
    return validate(Case, document, file=file)


def case_to_text(case: Case) -> str:
    """YAML that reads back to an equal case. What was left at its default is left out."""
    data = case.model_dump(mode="json", exclude_defaults=True)
    return dump({"vibdiag_case": case.vibdiag_case, "id": case.id} | data)


def load_case(path: Path) -> Case:
    """Read one case file; raises InputError, also when the file cannot be opened."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=path) from error
    return case_from_text(content, file=str(path))


def spot_of(path: Path, field: str | None) -> Spot | None:
    """Where `field` (such as steps.0.outcome) stands in a case file, for a fault found only after reading; None where
    that cannot be said: no such field, or no file any more."""
    if field is None or not path.is_file():
        return None
    parts = tuple(int(part) if part.isdigit() else part for part in field.split("."))
    return parse(path.read_bytes(), file=str(path)).spot(parts)


def load_folder(folder: Path) -> list[tuple[Path, Case]]:
    """Every `*.yaml` case in `folder`, sorted by name; raises InputError when there is none."""
    if not folder.is_dir():
        raise InputError("is not a folder", file=folder)
    found = [(path, load_case(path)) for path in sorted(folder.glob("*.yaml"))]
    if not found:
        raise InputError("holds no case file (*.yaml)", file=folder)
    return found


def save_case(case: Case, path: Path) -> None:
    """Write `case` atomically; raises OSError when that is not possible (the old file stays)."""
    write_atomically(path, case_to_text(case))
