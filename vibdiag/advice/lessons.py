"""A confirmed case as a lesson: what was known before the cause was, and the cause."""

from __future__ import annotations

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.knowledge.learn import Lesson

__all__ = ["lesson_of"]


def lesson_of(case: Case, adviser: Adviser) -> Lesson | None:
    """The lesson of a case with a confirmed cause, else None. The outcome and the repair that cured are not evidence.

    Raises InputError for a case that names unknown steps or outcomes.
    """
    if case.outcome is None:
        return None
    tried = [repair for repair in case.history.repairs if repair.effect != "cured"]
    before = case.model_copy(
        update={"outcome": None, "history": case.history.model_copy(update={"repairs": tried})},
    )
    findings, _ = adviser.believe(before)
    axle = case.outcome.axle if case.outcome.axle in ("front", "rear") else None
    return Lesson(
        case.id,
        case.outcome.confirmed_cause,
        axle,
        findings.evidence,
        findings.excluded,
        frozenset(findings.raised),
    )
