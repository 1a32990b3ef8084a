"""From rules as written to rules as run: sentences become conditions, and every conclusion becomes a derived name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from vibdiag.files.errors import InputError
from vibdiag.knowledge.base import Place, RuleBaseError
from vibdiag.knowledge.forms import CauseFile, RuleText, StepText
from vibdiag.knowledge.sentences import SentenceError, parse_conclusion, parse_condition
from vibdiag.reasoning.language import Conclusion, Condition, LanguageError, Name, Rule, RuleSet

__all__ = ["YES", "compile_rules"]

YES = "yes"
_MOST_COMBINATIONS = 32


def compile_rules(
    names: Mapping[str, Name],
    rules: Mapping[str, RuleText],
    causes: Mapping[str, CauseFile],
    steps: Mapping[str, StepText],
    places: Mapping[tuple[str, str], Place],
) -> RuleSet:
    """The rule set for the engine; raises RuleBaseError with every rule that cannot mean anything."""
    declared = dict(names)
    compiled: list[Rule] = []
    faults: list[InputError] = []
    for rule in rules.values():
        place = places[("rule", rule.id)]
        try:
            conclusions = _conclusions(rule, place, causes, steps)
            for conclusion in conclusions:
                if conclusion.word == YES and conclusion.name not in declared:
                    declared[conclusion.name] = Name(conclusion.name, (YES,), derived=True)
            one = Rule(rule.id, tuple(_alternatives(rule)), conclusions)
            RuleSet(declared, (one,))
        except (SentenceError, LanguageError) as error:
            faults.append(place.error(str(error)))
        except InputError as error:
            faults.append(error)
        else:
            compiled.append(one)
    if faults:
        raise RuleBaseError(faults)
    return RuleSet(declared, tuple(compiled))


def _conclusions(
    rule: RuleText, place: Place, causes: Mapping[str, CauseFile], steps: Mapping[str, StepText]
) -> tuple[Conclusion, ...]:
    if rule.exclude:
        for cause in rule.exclude:
            if cause not in causes:
                raise place.error(f"there is no cause '{cause}' to exclude", "exclude")
        return tuple(Conclusion(f"exclude-{cause}", YES) for cause in rule.exclude)
    if rule.dangers:
        for cause in rule.dangers:
            threatened = causes.get(cause)
            if threatened is None or threatened.danger is None:
                raise place.error(f"the cause '{cause}' does not exist or has no danger text", "danger")
        return tuple(Conclusion(f"danger-{cause}", YES) for cause in rule.dangers)
    if rule.contradiction:
        if rule.contradiction.ask not in steps:
            raise place.error(f"there is no step '{rule.contradiction.ask}' to ask again", "contradiction.ask")
        return (Conclusion(f"contradiction-{rule.id}", YES),)
    sentences = [rule.then] if isinstance(rule.then, str) else rule.then or []
    return tuple(parse_conclusion(sentence) for sentence in sentences)


def _alternatives(rule: RuleText) -> Iterator[tuple[Condition, ...]]:
    """All conjunctions a rule stands for: the product of its `any` lists."""
    combined: list[tuple[Condition, ...]] = [()]
    for item in rule.when:
        sentences = [item] if isinstance(item, str) else item["any"]
        options = [parse_condition(sentence) for sentence in sentences]
        combined = [(*done, option) for done in combined for option in options]
        if len(combined) > _MOST_COMBINATIONS:
            raise SentenceError(f"rule '{rule.id}' has more than {_MOST_COMBINATIONS} combinations; make two of it")
    yield from combined
