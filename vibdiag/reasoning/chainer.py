"""A plain forward chainer: the definition of what a rule set means, and the permanent oracle for the engine.

It goes round all rules until nothing new is concluded. Slow and obvious is its purpose; a rule base is
monotone, so the result does not depend on the order of the rounds.
"""

from __future__ import annotations

from collections.abc import Mapping

from vibdiag.reasoning.derivation import NOTHING, Derivation, checked, derivation
from vibdiag.reasoning.language import Condition, Fact, Rule, RuleSet, scaled

__all__ = ["chain"]


def chain(ruleset: RuleSet, facts: Mapping[str, Fact], given: Mapping[str, str] = NOTHING) -> Derivation:
    """All that `ruleset` concludes from `facts` (name to word or number; absent: unknown) and `given` signs.

    Raises FactError for facts or given signs that the rule set does not declare so.
    """
    known = checked(ruleset, facts, given)
    signs = {name: {word} for name, word in given.items()}
    fired: set[str] = set()
    news = True
    while news:
        news = False
        for rule in ruleset.rules:
            if rule.id not in fired and _holds(rule, ruleset, known, signs):
                news = True
                fired.add(rule.id)
                for conclusion in rule.conclusions:
                    signs.setdefault(conclusion.name, set()).add(conclusion.word)
    return derivation(ruleset, fired, given)


def _holds(rule: Rule, ruleset: RuleSet, known: Mapping[str, str | int], signs: Mapping[str, set[str]]) -> bool:
    return any(
        all(_fulfilled(condition, ruleset, known, signs) for condition in alternative)
        for alternative in rule.alternatives
    )


def _fulfilled(
    condition: Condition, ruleset: RuleSet, known: Mapping[str, str | int], signs: Mapping[str, set[str]]
) -> bool:
    name = ruleset.names[condition.name]
    if name.derived:
        return any(word in condition.words for word in signs.get(condition.name, ()))
    value = known.get(condition.name)
    if value is None:
        return condition.operator == "not known"
    match condition.operator:
        case "is":
            return value in condition.words
        case "is not":
            return value not in condition.words
        case "above":
            return int(value) > scaled(condition.number, name.scale)
        case "below":
            return int(value) < scaled(condition.number, name.scale)
        case "not known":
            return False
