"""What a rule set concludes from one set of facts: the result, and the check of the facts that go in.

A rule engine only has to say which rules hold; everything a reader wants to know follows from that and from
the rules themselves, and is put together here, the same way for every engine.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from numbers import Real
from types import MappingProxyType

from vibdiag.reasoning.language import Fact, LanguageError, Name, RuleSet, scaled

__all__ = ["GIVEN", "NOTHING", "Conflict", "Derivation", "FactError", "checked", "derivation"]

GIVEN = "given"
NOTHING: Mapping[str, str] = MappingProxyType({})


class FactError(ValueError):
    """A fact that no rule can use: an unknown name, a word outside its list, something that is no number."""


@dataclass(frozen=True)
class Conflict:
    """A sign with two or more words at once: at least one rule, or one given outcome, is wrong.

    `reasons` says for each of the `words` which rules concluded it, sorted by id; GIVEN stands first when it
    was given.
    """

    name: str
    words: tuple[str, ...]
    reasons: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Derivation:
    """Everything that holds.

    `signs` has every sign that got a word, given or concluded, with all its words; `fired` the ids of the
    rules that hold, sorted; `because_of` for each concluded (name, word) the ids of the rules that concluded
    it, sorted; `conflicts` the signs with two or more words, sorted by name.
    """

    signs: Mapping[str, frozenset[str]]
    fired: tuple[str, ...]
    because_of: Mapping[tuple[str, str], tuple[str, ...]]
    conflicts: tuple[Conflict, ...]

    def value(self, name: str) -> str | None:
        """The one word of a sign; None when it is unknown or in conflict."""
        words = self.signs.get(name, frozenset())
        return next(iter(words)) if len(words) == 1 else None


def derivation(ruleset: RuleSet, fired: Iterable[str], given: Mapping[str, str] = NOTHING) -> Derivation:
    """What follows when exactly the rules with the ids `fired` hold and the `given` signs are known."""
    ids = frozenset(fired)
    reasons: dict[str, dict[str, set[str]]] = {name: {word: set()} for name, word in given.items()}
    for rule in ruleset.rules:
        if rule.id in ids:
            for conclusion in rule.conclusions:
                reasons.setdefault(conclusion.name, {}).setdefault(conclusion.word, set()).add(rule.id)
    because_of = {
        (name, word): tuple(sorted(rules)) for name, words in reasons.items() for word, rules in words.items() if rules
    }
    conflicts = tuple(
        _conflict(ruleset.names[name], words, given.get(name))
        for name, words in sorted(reasons.items())
        if len(words) > 1
    )
    signs = {name: frozenset(words) for name, words in reasons.items()}
    return Derivation(signs, tuple(sorted(ids)), because_of, conflicts)


def _conflict(name: Name, words: Mapping[str, set[str]], given: str | None) -> Conflict:
    present = tuple(word for word in name.words if word in words)
    reasons = {word: ((GIVEN,) if word == given else ()) + tuple(sorted(words[word])) for word in present}
    return Conflict(name.name, present, reasons)


def checked(ruleset: RuleSet, facts: Mapping[str, Fact], given: Mapping[str, str]) -> dict[str, str | int]:
    """The facts with numbers as scaled integers, after both mappings are checked against the declared names.

    Raises FactError for a name that is not declared, a sign among the facts or a fact among the given signs,
    a word outside its name's list, and a number that is not finite, does not fit 31 bits or is none at all.
    """
    for name, word in given.items():
        declared = _declared(ruleset, name)
        if not declared.derived:
            raise FactError(f"'{name}' is a fact, not a sign; hand it over with the facts")
        _check_word(declared, word)
    return {name: _encoded(_declared(ruleset, name), value) for name, value in facts.items()}


def _declared(ruleset: RuleSet, name: str) -> Name:
    if name not in ruleset.names:
        raise FactError(f"'{name}' is neither a fact nor a sign of the rule base; its name must be declared first")
    return ruleset.names[name]


def _check_word(name: Name, word: object) -> None:
    if not isinstance(word, str) or word not in name.words:
        raise FactError(f"'{name.name}' cannot be {word!r}; it can be {', '.join(name.words)}")


def _encoded(name: Name, value: Fact) -> str | int:
    if name.derived:
        raise FactError(f"'{name.name}' is a sign, which rules conclude; hand it over as given if it is known directly")
    if not name.is_number:
        _check_word(name, value)
        return name.words[name.words.index(str.__str__(value))]
    # bool is a Real to Python, but "true" is not a measurement
    if isinstance(value, bool) or not isinstance(value, Real):
        raise FactError(f"'{name.name}' is {value!r}, which is not a number; it needs one")
    try:
        return scaled(float(value), name.scale)
    except (LanguageError, OverflowError) as error:
        raise FactError(f"'{name.name}' is {value!r}, which is too large or not a finite number") from error
