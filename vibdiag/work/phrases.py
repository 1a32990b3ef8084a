"""How words of the case are written for a reader: plain, without hyphens, and what a step found in the step's words."""

from __future__ import annotations

from collections.abc import Mapping

from vibdiag.case.model import GONE
from vibdiag.knowledge.forms import StepText

__all__ = ["EFFECT_WORDS", "answer_words", "change_words", "found_words", "said"]

EFFECT_WORDS: Mapping[str, str] = {
    "cured": "cured: the shake is gone",
    "partly": "partly: less, still there",
    "none": "none: as before",
    "worse": "worse",
    "came-back": "came back later",
    "unknown": "not known yet",
}


def said(word: str) -> str:
    """`front-left` as front left, `unknown` as not known."""
    return "not known" if word == "unknown" else word.replace("-", " ")


def found_words(step: StepText, outcome: str) -> str:
    """What an answer to a step says: the outcome's own short text where the step has it."""
    if outcome in step.outcomes:
        return step.outcomes[outcome].says
    if outcome == GONE:
        return "nothing is felt any more"
    return "don't know" if outcome == "unknown" else said(outcome)


def answer_words(step: StepText, outcome: str) -> str:
    """A step with what it found, as one line."""
    return f"{step.title.removesuffix('?')}: {found_words(step, outcome)}"


def change_words(what: str, steps: Mapping[str, StepText]) -> str:
    """A change as a reader knows it: a file's own `ask-brake: brings` with the step's name and the outcome's text."""
    name, _, outcome = what.partition(": ")
    step = steps.get(name)
    return what if step is None else answer_words(step, outcome)
