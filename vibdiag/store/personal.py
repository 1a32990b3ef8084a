"""What in a case may tell who somebody is: names and free text. What speaks about the car stays.

Every text field of the form stands in one of the two lists below; a test compares them with the form, so that a new
field cannot be forgotten.
"""

from __future__ import annotations

from typing import Any

from vibdiag.case.strengths import read_words, write_words
from vibdiag.merging.plain import Data

__all__ = ["EVIDENCE", "PERSONAL", "REMOVED", "without_personal"]

REMOVED = "removed"

# Free text and names, by the name of the field, wherever in the form it stands.
PERSONAL = frozenset(
    {"because", "by", "description", "note", "notes", "opened_by", "path", "place", "proof", "source", "title", "words"}
)
# Texts that are ids or markings, or name a column; times say when something was measured.
EVIDENCE = frozenset(
    {
        "at",
        "axis",
        "confirming_step",
        "due",
        "front",
        "id",
        "opened_at",
        "order",
        "outcome",
        "part",
        "rear",
        "rotation_doubt",
        "sign",
        "step",
        "unit",
        "unit_doubt",
        "word",
    }
)


def without_personal(data: Data) -> Data:
    """The same case without names and free text; it fits the form, and weighs as much as before."""
    cleaned: Data = _cleaned(data)
    for number, item in enumerate(cleaned.get("attachments", []), 1):
        item["path"] = f"recording-{number}{_ending(data['attachments'][number - 1]['path'])}"
    return cleaned


def _ending(path: str) -> str:
    """The file's ending, so that a reader still knows what it is; nothing when it is no ordinary one."""
    _, dot, ending = path.rpartition(".")
    return f".{ending.lower()}" if dot and ending.isalnum() and len(ending) <= 5 else ""


def _cleaned(value: Any) -> Any:
    if isinstance(value, list):
        return [_cleaned(item) for item in value]
    if not isinstance(value, dict):
        return value
    found = {}
    for key, part in value.items():
        if key not in PERSONAL or not isinstance(part, str):
            found[key] = _cleaned(part)
        elif key == "words" and "step" in value:
            # Strengths at held speeds are noted in a step's words, and they are evidence.
            kept = write_words(read_words(part)[0], "")
            if kept:
                found[key] = kept
        elif key == "by" and "danger" in value:
            # That somebody has signed for a danger must stay; who, need not.
            found[key] = REMOVED
        elif key == "path":
            found[key] = REMOVED
    return found
