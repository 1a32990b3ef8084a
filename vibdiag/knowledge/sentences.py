"""The sentences of a rule, as a technician reads them aloud, and what they mean.

    starts-kmh is above 80          a number beyond a limit (strictly)
    starts-kmh is below 50
    rhythm is steady                a word; `is one of steady, bursts` for several
    told-growth is not stable       answered, and with another word
    told-growth is not known        not answered

Nothing here is evaluated as code: a sentence either has one of these shapes or it is refused.
"""

from __future__ import annotations

import re

from vibdiag.reasoning.language import Conclusion, Condition

__all__ = ["SentenceError", "parse_conclusion", "parse_condition"]

_NAME = r"(?P<name>[a-z0-9]+(?:-[a-z0-9]+)*)"
_WORD = r"[a-z0-9]+(?:-[a-z0-9]+)*"
_NUMBER = re.compile(rf"{_NAME} is (?P<side>above|below) (?P<number>-?[0-9]+(?:\.[0-9]+)?)")
_UNKNOWN = re.compile(rf"{_NAME} is not known")
_ONE_OF = re.compile(rf"{_NAME} is (?P<negated>not )?one of (?P<words>{_WORD}(?:, {_WORD})+)")
_IS = re.compile(rf"{_NAME} is (?P<negated>not )?(?P<word>{_WORD})")


class SentenceError(ValueError):
    """A sentence that has none of the shapes above."""


def parse_condition(sentence: str) -> Condition:
    """The condition a sentence states; raises SentenceError.

    >>> parse_condition("starts-kmh is above 80")
    Condition(name='starts-kmh', operator='above', words=(), number=80.0)
    """
    text = " ".join(sentence.split())
    if found := _NUMBER.fullmatch(text):
        side = "above" if found["side"] == "above" else "below"
        return Condition(found["name"], "above" if side == "above" else "below", number=float(found["number"]))
    if found := _UNKNOWN.fullmatch(text):
        return Condition(found["name"], "not known")
    if found := _ONE_OF.fullmatch(text):
        words = tuple(found["words"].split(", "))
        return Condition(found["name"], "is not" if found["negated"] else "is", words)
    if (found := _IS.fullmatch(text)) and found["word"] not in ("above", "below", "one", "not"):
        return Condition(found["name"], "is not" if found["negated"] else "is", (found["word"],))
    raise SentenceError(
        f"'{text}' is not a condition; write for example 'starts-kmh is above 80', 'rhythm is steady', "
        "'rhythm is one of steady, bursts', 'told-growth is not known'"
    )


def parse_conclusion(sentence: str) -> Conclusion:
    """The sign a sentence sets; raises SentenceError.

    >>> parse_conclusion("rhythm is steady")
    Conclusion(name='rhythm', word='steady')
    """
    found = _IS.fullmatch(" ".join(sentence.split()))
    if not found or found["negated"]:
        raise SentenceError(f"'{sentence}' is not a conclusion; write '<sign> is <word>'")
    return Conclusion(found["name"], found["word"])
