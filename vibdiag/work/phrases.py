"""How words of the case are written for a reader: plain, without hyphens, and what a step found in the step's words."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from vibdiag.case.model import GONE
from vibdiag.knowledge.forms import StepText

__all__ = [
    "EFFECT_WORDS",
    "answer_words",
    "change_words",
    "found_words",
    "place_words",
    "said",
    "telling",
    "value_words",
]

EFFECT_WORDS: Mapping[str, str] = {
    "cured": "cured: the shake is gone",
    "partly": "partly: less, still there",
    "none": "none: as before",
    "worse": "worse",
    "came-back": "came back later",
    "unknown": "not known yet",
}

# One field of a case as the merge names it, in parts: `history.repairs[wheel-seat-cleaned].effect`.
_PART = re.compile(r"([a-z_]+)(?:\[([^\]]*)\])?(?:\.|$)")
_FIELD = re.compile(rf"(?:{_PART.pattern})+")
# A word of the case's vocabulary or of the rule base, such as `wheel-1x`; what somebody typed looks otherwise.
_WORD = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
# Kept beside a value, and told in another way.
_BESIDE = frozenset({"at", "role"})


# Expected drop of uncertainty, in bits: an answer that halves what is possible is worth one (limits from memory).
_MUCH_BITS, _SOME_BITS = 0.25, 0.1


def telling(bits: float) -> str:
    """How much a step is expected to tell: much, some or little.

    >>> telling(0.52), telling(0.2), telling(0.03)
    ('much', 'some', 'little')
    """
    return "much" if bits >= _MUCH_BITS else "some" if bits >= _SOME_BITS else "little"


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
    name, colon, outcome = what.partition(": ")
    step = steps.get(name)
    return f"{place_words(name, steps)}{colon}{outcome}" if step is None else answer_words(step, outcome)


def place_words(field: str, steps: Mapping[str, StepText], names: Mapping[str, str] = {}) -> str:
    """Where in a case, as a reader says it; anything that is no field stays as it is. names: of causes, by id.

    >>> place_words("history.repairs[wheel-seat-cleaned].effect", {})
    'history: repairs, wheel seat cleaned: effect'
    """
    if not _FIELD.fullmatch(field):
        return field
    titles = {step.id: step.title for step in steps.values()}
    parts = []
    for name, which in _PART.findall(field):
        entry = [titles.get(one) or value_words(one, steps, names) for one in which.split(", ") if one]
        parts.append(", ".join([name.replace("_", " "), *entry]))
    return ": ".join(parts)


def value_words(value: object, steps: Mapping[str, StepText], names: Mapping[str, str] = {}) -> str:
    """A value of a case, whole, as a reader says it. names: of causes, by id.

    >>> value_words({"sign": "follows", "word": "wheel-1x", "trust": 0.9, "because": "at 12.8 Hz"}, {})
    'sign follows, word wheel 1x, trust 0.9, because at 12.8 Hz'
    """
    if value is None or value == []:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    if isinstance(value, list):
        return "; ".join(value_words(one, steps, names) for one in value)
    if isinstance(value, Mapping):
        return ", ".join(_part_words(value, steps, names))
    word = str(value)
    return names.get(word) or (said(word) if word == "unknown" or _WORD.fullmatch(word) else word)


def _part_words(part: Mapping[str, object], steps: Mapping[str, StepText], names: Mapping[str, str]) -> Iterator[str]:
    step = steps.get(str(part.get("step")))
    for name, value in part.items():
        if name in _BESIDE:
            continue
        if step is not None and name in ("step", "outcome"):
            yield step.title if name == "step" else found_words(step, str(value))
        else:
            yield f"{name.replace('_', ' ')} {value_words(value, steps, names)}"
