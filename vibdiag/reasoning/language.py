"""The small language in which rules speak: facts, signs, conditions, conclusions.

A rule says: when all of its conditions hold, then some signs have some words as value. Facts come from the case;
signs are derived, or given directly by a check's outcome. Both are *names* with a closed list of *words* or, for facts
alone, a number. The language has no negation of anything that can be derived, so a rule base is monotone: the order in
which facts arrive or rules stand cannot change what is concluded.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

__all__ = [
    "Conclusion",
    "Condition",
    "Fact",
    "LanguageError",
    "Name",
    "Operator",
    "Rule",
    "RuleSet",
    "scaled",
]

Operator = Literal["is", "is not", "above", "below", "not known"]
Fact = str | float


class LanguageError(ValueError):
    """A rule set that cannot mean anything: an unknown name, a word outside its list, a number where words belong."""


@dataclass(frozen=True)
class Name:
    """One thing that can be known.

    `words` is the closed list of its values; empty means the name carries a number, kept as an integer multiple of
    `1 / scale` (a name in km/h with scale 10 is resolved to 0.1 km/h). `derived` marks a sign: it may be set by rules,
    and rules may test it only positively.
    """

    name: str
    words: tuple[str, ...] = ()
    scale: int = 1
    derived: bool = False

    @property
    def is_number(self) -> bool:
        return not self.words


@dataclass(frozen=True)
class Condition:
    """One test of one name. `is` and `is not` carry one or more words; `above` and `below` one number (strict)."""

    name: str
    operator: Operator
    words: tuple[str, ...] = ()
    number: float = 0.0


@dataclass(frozen=True)
class Conclusion:
    """`name` has the value `word`; several rules may conclude the same."""

    name: str
    word: str


@dataclass(frozen=True)
class Rule:
    """`alternatives` are conjunctions; the rule holds when every condition of at least one of them holds."""

    id: str
    alternatives: tuple[tuple[Condition, ...], ...]
    conclusions: tuple[Conclusion, ...]


@dataclass(frozen=True)
class RuleSet:
    """Names and rules, checked against each other when made.

    Raises LanguageError when a rule speaks of an unknown name or word, tests a derived name negatively, concludes a
    name that is not derived, or has nothing to test or nothing to conclude.
    """

    names: Mapping[str, Name]
    rules: tuple[Rule, ...]
    used: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        seen: set[str] = set()
        used: set[str] = set()
        for rule in self.rules:
            if rule.id in seen:
                raise LanguageError(f"two rules have the id '{rule.id}'")
            seen.add(rule.id)
            if not rule.alternatives or not all(rule.alternatives):
                raise LanguageError(f"rule '{rule.id}' has no condition; a rule needs at least one")
            if not rule.conclusions:
                raise LanguageError(f"rule '{rule.id}' concludes nothing")
            for alternative in rule.alternatives:
                for condition in alternative:
                    self._check_condition(rule.id, condition)
                    used.add(condition.name)
            for conclusion in rule.conclusions:
                self._check_conclusion(rule.id, conclusion)
        object.__setattr__(self, "used", frozenset(used))

    def _name(self, rule_id: str, name: str) -> Name:
        if name not in self.names:
            raise LanguageError(f"rule '{rule_id}' speaks of '{name}', which is neither a fact nor a sign")
        return self.names[name]

    def _check_condition(self, rule_id: str, condition: Condition) -> None:
        name = self._name(rule_id, condition.name)
        if name.derived and condition.operator != "is":
            raise LanguageError(
                f"rule '{rule_id}' tests the sign '{name.name}' with '{condition.operator}'; "
                "a sign may only be tested with 'is', or the order of rules would matter"
            )
        if condition.operator in ("above", "below"):
            if not name.is_number:
                raise LanguageError(f"rule '{rule_id}' compares '{name.name}', which is a word, not a number")
            if not math.isfinite(condition.number):
                raise LanguageError(f"rule '{rule_id}' compares '{name.name}' with {condition.number}")
        elif condition.operator in ("is", "is not"):
            if name.is_number:
                raise LanguageError(f"rule '{rule_id}' asks whether the number '{name.name}' is a word")
            if not condition.words:
                raise LanguageError(f"rule '{rule_id}' tests '{name.name}' against no word")
            for word in condition.words:
                if word not in name.words:
                    raise LanguageError(
                        f"rule '{rule_id}': '{name.name}' cannot be '{word}'; it can be {', '.join(name.words)}"
                    )

    def _check_conclusion(self, rule_id: str, conclusion: Conclusion) -> None:
        name = self._name(rule_id, conclusion.name)
        if not name.derived:
            raise LanguageError(f"rule '{rule_id}' concludes the fact '{name.name}'; only signs can be concluded")
        if conclusion.word not in name.words:
            raise LanguageError(
                f"rule '{rule_id}': '{name.name}' cannot be '{conclusion.word}'; it can be {', '.join(name.words)}"
            )


def scaled(value: float, scale: int) -> int:
    """The integer that stands for `value` at `scale`, rounding halves up so that 0.25 at scale 10 is 3.

    Raises LanguageError when the value is not finite or does not fit 31 bits.

    >>> scaled(80.04, 10)
    800
    """
    if not math.isfinite(value):
        raise LanguageError(f"{value} is not a number that can be compared")
    if abs(value * scale) + 0.5 >= 2**31:
        raise LanguageError(f"{value} is too large to be compared")
    return math.floor(value * scale + 0.5)
