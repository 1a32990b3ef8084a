"""Lists, histories and exchanged files as JSON with stable keys."""

from __future__ import annotations

from typing import Any

from vibdiag.store.exchange import Exchanged
from vibdiag.store.face import CaseLine, Entry

__all__ = ["entry_json", "exchanged_json", "line_json"]


def line_json(line: CaseLine) -> dict[str, Any]:
    """One case of a list."""
    return {
        "id": line.id,
        "title": line.title,
        "revision": line.revision,
        "changed_at": line.changed_at.isoformat(),
        "changed_by": line.changed_by,
        "personal_data_removed": line.forgotten,
    }


def entry_json(entry: Entry) -> dict[str, Any]:
    """One change of a case, field by field."""
    return {
        "revision": entry.revision,
        "at": entry.at.isoformat(),
        "who": entry.who,
        "source": entry.source,
        "kind": entry.kind,
        "what": entry.what,
        "undoes": entry.undoes,
        "changes": [{"field": one.field, "before": one.before, "after": one.after} for one in entry.changes],
    }


def exchanged_json(one: Exchanged) -> dict[str, Any]:
    """What became of one case file."""
    return {
        "file": str(one.file),
        "case": one.case_id,
        "outcome": one.outcome,
        "problem": one.problem,
        "recordings": one.recordings,
    }
