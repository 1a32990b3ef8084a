"""Dangers: what must be said before anything else.

A danger is raised by a rule, or by a cause that has become probable. No probability, however low, takes a raised danger
away; only the check that clears it does, done as the step says, and then it is shown as cleared.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from vibdiag.advice.evidence import Findings
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Belief

__all__ = ["Danger", "find_dangers"]


@dataclass(frozen=True)
class Danger:
    """`because`: the reasons; `clear_with`: the step that would clear it; `status`: open or cleared."""

    cause: str
    says: str
    because: tuple[str, ...]
    probability: float
    clear_with: str | None
    status: Literal["open", "cleared"]


def find_dangers(findings: Findings, belief: Belief, base: RuleBase) -> tuple[Danger, ...]:
    """Open dangers first, the more probable first among them."""
    found = []
    for cause in base.causes.values():
        text = cause.danger
        if text is None:
            continue
        probability = belief.of_cause(cause.id)
        because = findings.raised.get(cause.id, ())
        if not because and probability >= text.raise_above:
            because = (f"{cause.name} has become probable ({probability:.0%}).",)
        if not because:
            continue
        result = findings.results.get(text.cleared_by or "")
        cleared = result is not None and result.how == "measured" and result.outcome == text.clear_outcome
        status: Literal["open", "cleared"] = "cleared" if cleared else "open"
        found.append(Danger(cause.id, text.says, because, probability, text.cleared_by, status))
    return tuple(sorted(found, key=lambda danger: (danger.status == "cleared", -danger.probability, danger.cause)))
