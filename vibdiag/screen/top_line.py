"""The one line on top of a case: what it is, whether a danger is open, and for whom steps are shown."""

from __future__ import annotations

from vibdiag.advice.assess import Assessment
from vibdiag.case.model import Case
from vibdiag.screen.preferences import Preferences

__all__ = ["top_line"]


def top_line(case: Case, assessment: Assessment, preferences: Preferences, *, note: bool, columns: int) -> str:
    """The line, exactly `columns` wide where the title leaves room."""
    title = case.title or case.complaint.words.strip().split("\n")[0] or case.id
    invented = " (invented)" if case.invented else ""
    dangers = [danger for danger in assessment.dangers if danger.status == "open"]
    warning = f"  !! {len(dangers)} open danger{'s' if len(dangers) > 1 else ''}" if dangers else ""
    added = "  + note" if note else ""
    right = f"{preferences.role}  ·  {preferences.units.speed}"
    room = max(10, columns - len(right) - len(warning) - len(added) - 4)
    left = f"{title}{invented}"
    left = left if len(left) <= room else left[: room - 1] + "…"
    return f" {left}{warning}{added}".ljust(columns - len(right) - 2) + right
