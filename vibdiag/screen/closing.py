"""How a closed case ended, in words for the middle of the screen."""

from __future__ import annotations

from collections.abc import Iterator

from vibdiag.case.model import Case
from vibdiag.knowledge.base import RuleBase

__all__ = ["closing_lines"]


def closing_lines(case: Case, base: RuleBase) -> Iterator[str]:
    """How a closed case ended, and what is still to do."""
    outcome = case.outcome
    if outcome is None:
        return
    yield "CLOSED"
    yield ""
    axle = "" if outcome.axle in ("unknown", "none") else f", {outcome.axle}"
    place = f": {outcome.place}" if outcome.place else ""
    yield f"{base.causes[outcome.confirmed_cause].name}{axle}{place}"
    if outcome.proof:
        yield ""
        yield f"Proof: {outcome.proof}"
    for item in case.follow_ups:
        yield ""
        state = "Done" if item.done else "Due"
        yield f"{state} {item.due:%d %b %Y}: {item.what.replace('-', ' ')}. {item.note or ''}".rstrip()
    yield ""
    yield "Key p: reopen it with what was learned. Key c: how the causes stood. Key t: the trail."
