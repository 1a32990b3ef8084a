"""The interview: which question next, how many are likely left, and what to read back at the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.next_step import Shop, next_steps
from vibdiag.case.model import Case
from vibdiag.reasoning.belief import Evidence

__all__ = ["MOST_QUESTIONS", "PAYS_BITS", "asked", "questions_left", "summary"]

# Six minutes at half a minute a question (common practice at a service desk).
MOST_QUESTIONS = 12
# A question that is expected to tell less than this is not worth a customer's patience (common practice).
PAYS_BITS = 0.095
_DESK = Shop(who=frozenset({"desk"}))


def asked(case: Case, adviser: Adviser) -> int:
    """Questions that have been asked, answered or not."""
    return sum(1 for result in case.steps if adviser.base.steps[result.step].kind == "question")


def questions_left(assessment: Assessment, adviser: Adviser) -> int:
    """How many questions are likely left: follow the likeliest answers until a question no longer pays.

    An estimate, not a promise; at most what is left of `MOST_QUESTIONS`.
    """
    findings, belief = assessment.findings, assessment.belief
    budget = max(0, MOST_QUESTIONS - asked(assessment.case, adviser))
    for count in range(budget):
        best = next_steps(belief, findings, (), adviser.base, shop=_DESK, count=1)
        if not best or best[0].worth_bits < PAYS_BITS or best[0].step.kind != "question":
            return count
        likely = max(best[0].outcomes, key=lambda outcome: outcome.probability)
        belief = belief.with_more([Evidence(best[0].step.sign, likely.word, adviser.base.settings.trust.complaint)])
        findings = replace(findings, unanswered=findings.unanswered | {best[0].step.id})
    return budget


def summary(assessment: Assessment, adviser: Adviser) -> Iterator[str]:
    """What to read back to the customer, a sentence a line: their own words, every answer, and what happens next."""
    case, base = assessment.case, adviser.base
    if case.complaint.words:
        yield f"You told us: “{case.complaint.words.strip()}”"
    for result in case.steps:
        step = base.steps[result.step]
        if step.kind == "question" and result.outcome in step.outcomes:
            yield f"{step.title}: {step.outcomes[result.outcome].says}."
    for clash in assessment.clashes:
        yield f"I am not sure I have this right: {clash.says}"
    for danger in assessment.dangers:
        if danger.status == "open":
            yield f"Important: {danger.says}"
    if assessment.next:
        step = assessment.next[0].step
        yield f"The next thing we do: {step.title} (about {step.minutes:g} minutes)."
    yield "Did I get everything right, and is there anything you would add?"
