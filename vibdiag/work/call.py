"""The call after a repair: three questions, their answers in the case, and when the car must come back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from vibdiag.work.figures import CALL_QUESTIONS

__all__ = ["CALL_CAUTION", "Answer", "answers_in_words", "must_come_back"]

Answer = Literal["yes", "no", "not asked"]

CALL_CAUTION = (
    "Back again, a new noise, a burning smell, or fasteners not checked: ask for the car before it is driven further, "
    "and reopen its case. The vehicle maker's torque and sequence and local law rule; a qualified person decides."
)
_SHORT = ("Still gone", "Anything new", "Fasteners checked again")
# The answer to each question with which nothing more is to be done.
_WELL: tuple[Answer, ...] = ("yes", "no", "yes")


def answers_in_words(answers: Sequence[Answer], note: str = "") -> str:
    """What was said on the telephone, a sentence each, as it is kept with the follow-up.

    >>> answers_in_words(["yes", "no", "not asked"], "on holiday with it")
    'Still gone: yes. Anything new: no. Fasteners checked again: not asked. On the telephone: on holiday with it'
    """
    said = " ".join(f"{short}: {answer}." for short, answer in zip(_SHORT, answers, strict=True))
    return f"{said} On the telephone: {note.strip()}" if note.strip() else said


def must_come_back(answers: Sequence[Answer]) -> tuple[str, ...]:
    """The questions whose answer asks for the car: it shakes again, something is new, fasteners were not checked."""
    return tuple(
        question
        for question, answer, well in zip(CALL_QUESTIONS, answers, _WELL, strict=True)
        if answer not in (well, "not asked")
    )
