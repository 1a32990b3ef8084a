"""The rule engine: durable_rules behind one door.

The only file that knows durable_rules 2.0.28, and of it only the C module. Its Python layers are left alone:
they start threads, swallow exceptions and can free a state twice. What was measured to be sound is used here,
and nothing else:

- One lock, one live state, deleted after every evaluation. A state may only be deleted after an action has
  run in it (before, a pointer in it is not set), so each evaluation starts with a boot fact and its action.
- Nothing of ours reaches C but integers and short identifiers made here: no name, word or free text. The C
  code tells names apart by a 32-bit hash alone; identifiers are made so that no two of them share it.
- Every fact is a message. A test of one word is an equality; a test of several words ("is a or b", "is not
  c") is a message of its own, sent with each word that fulfils it; an unanswered name sends an explicit
  "unknown". So all tests are positive, each is met by at most one message, and each rule fires at most once.
  An answer that no rule tests is not sent, so every message must be taken up, or the engine is at fault.
- `dist` is 0 in every rule: otherwise two tests of one number ("above 80", "below 120") never hold together.

The engine says which rules hold. What they conclude is read from the rules, here and in `derivation`.
"""

from __future__ import annotations

import itertools
import json
import threading
import weakref
from collections import Counter, deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Literal, Protocol, cast

from vibdiag.reasoning.derivation import NOTHING, Derivation, checked, derivation
from vibdiag.reasoning.language import Condition, Fact, LanguageError, Rule, RuleSet, scaled

__all__ = ["Engine", "EngineFault", "EngineLimitError", "fnv1a_32"]

# What the C code can bear, from its source, and what is let through.
MOST_TESTS_IN_A_RULE = 12  # 16 messages in a frame
MOST_RULES_ON_ONE_TEST = 128  # 255 entries in a list that is overrun, not checked
MOST_LIMITS_ON_ONE_NUMBER = 48  # 64 tests met by one message
MOST_TESTS = 440  # 511 entries in a table that is searched for ever when full
MOST_ALTERNATIVES = 3000  # 4,096 actions

_SPLIT_THE_RULE = (
    "{count} conditions that must hold together are more than {most}; "
    "let another rule conclude a sign from some of them, and test that sign"
)
_FEWER_TESTS = "with it the rules have {count} different conditions, more than {most}; use fewer words and numbers"
_FEWER_ALTERNATIVES = (
    "with it the rules have {count} alternatives, more than {most}; conclude a sign from what several share"
)
_FEWER_USES = (
    "its condition on '{name}' now stands in {count} places, more than {most}; "
    "let one rule conclude a sign from it together with what these places share, and test that sign"
)
_FEWER_LIMITS = (
    "'{name}' is compared with {count} different numbers, more than {most}; "
    "let a rule conclude a sign for each range, and test that sign"
)

_OK, _NOT_TESTED = 0, 1
_STATE = "c"
_RESERVED = (
    "all any pri count cap dist name id sid sid-c $s $m $i $l $r $forward $lt $lte $gt $gte $eq $neq "
    "$mt $imt $iall $iany $ex $nex $or $and $add $sub $mul $div"
)


class EngineLimitError(LanguageError):
    """A rule that is more than the engine can carry; the sentence says how to write it instead."""


class EngineFault(RuntimeError):
    """The engine itself misbehaved; neither the facts nor the rules are to blame."""


class _RulesModule(Protocol):
    error: type[Exception]

    def create_ruleset(self, name: str, definition: str, /) -> int: ...
    def delete_ruleset(self, handle: int, /) -> None: ...
    def assert_fact(self, handle: int, message: str, /) -> tuple[int, int]: ...
    def start_action_for_state(self, handle: int, offset: int, /) -> tuple[str, str] | None: ...
    def complete_and_start_action(self, handle: int, offset: int, /) -> str | None: ...
    def delete_state(self, handle: int, sid: str, /) -> None: ...


_rules = cast(_RulesModule, import_module("durable_rules_engine"))
_lock = threading.Lock()
_retired: deque[int] = deque()


def fnv1a_32(text: str) -> int:
    """The 32-bit FNV-1a hash of an ASCII text, by which the C code tells names apart (`json.c`)."""
    value = 0x811C9DC5
    for byte in text.encode("ascii"):
        value = (value ^ byte) * 0x01000193 & 0xFFFFFFFF
    return value


def _identifiers() -> Iterator[str]:
    taken = {fnv1a_32(word) for word in _RESERVED.split()}
    for number in itertools.count():
        identifier = f"x{number}"
        if fnv1a_32(identifier) not in taken:
            taken.add(fnv1a_32(identifier))
            yield identifier


@dataclass(frozen=True)
class _Test:
    """A condition so that equal tests are equal: "is not" becomes the other words, numbers are scaled."""

    name: str
    operator: Literal["one of", "above", "below", "not known"]
    words: frozenset[str] = frozenset()
    number: int = 0


@dataclass(frozen=True)
class _Message:
    text: str
    always_tested: bool = True


@dataclass
class _Encoding:
    """A rule set in the engine's terms: its rules by engine rule, and the messages that each answer sends."""

    definition: str = ""
    boot: str = ""
    rules: dict[str, Rule] = field(default_factory=dict)
    answers: dict[tuple[str, str | None], list[_Message]] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)

    def messages(self, name: str, value: str | int | None) -> Iterable[_Message]:
        if not isinstance(value, int):
            return self.answers.get((name, value), ())
        if name not in self.numbers:
            return ()
        return (_Message(_message(self.numbers[name], self.numbers[name], value), always_tested=False),)


def _message(message_id: str, attribute: str, value: int) -> str:
    return f'{{"id":"{message_id}","sid":"{_STATE}","{attribute}":{value}}}'


def _test(ruleset: RuleSet, rule: Rule, condition: Condition) -> _Test:
    name = ruleset.names[condition.name]
    match condition.operator:
        case "is":
            return _Test(condition.name, "one of", frozenset(condition.words))
        case "is not":
            return _Test(condition.name, "one of", frozenset(name.words) - frozenset(condition.words))
        case "not known":
            return _Test(condition.name, "not known")
        case "above" | "below":
            try:
                return _Test(condition.name, condition.operator, number=scaled(condition.number, name.scale))
            except (LanguageError, OverflowError) as error:
                raise EngineLimitError(
                    f"rule '{rule.id}' compares '{condition.name}' with {condition.number}, which is too "
                    f"large; it must stay below {2**31 // name.scale}"
                ) from error


def _tested(ruleset: RuleSet) -> list[tuple[Rule, list[_Test]]]:
    """Every alternative of every rule with its different tests, within the limits of the C code."""
    alternatives: list[tuple[Rule, list[_Test]]] = []
    used: Counter[_Test] = Counter()
    limits: Counter[str] = Counter()
    for rule in ruleset.rules:
        for alternative in rule.alternatives:
            tests = list(dict.fromkeys(_test(ruleset, rule, condition) for condition in alternative))
            alternatives.append((rule, tests))
            limits.update(test.name for test in tests if test not in used and test.operator in ("above", "below"))
            used.update(tests)
            _at_most(MOST_TESTS_IN_A_RULE, len(tests), _SPLIT_THE_RULE, rule)
            _at_most(MOST_TESTS, len(used), _FEWER_TESTS, rule)
            _at_most(MOST_ALTERNATIVES, len(alternatives), _FEWER_ALTERNATIVES, rule)
            for test in tests:
                _at_most(MOST_RULES_ON_ONE_TEST, used[test], _FEWER_USES, rule, test.name)
                _at_most(MOST_LIMITS_ON_ONE_NUMBER, limits[test.name], _FEWER_LIMITS, rule, test.name)
    return alternatives


def _at_most(most: int, count: int, sentence: str, rule: Rule, name: str = "") -> None:
    if count > most:
        raise EngineLimitError(f"rule '{rule.id}': " + sentence.format(count=count, most=most, name=name))


def _encode(ruleset: RuleSet) -> _Encoding:
    made = _Encoding()
    identifiers = _identifiers()
    attributes: dict[str, str] = {}
    patterns: dict[_Test, object] = {}

    def pattern(test: _Test) -> object:
        name = ruleset.names[test.name]
        if test.operator in ("above", "below"):
            attribute = made.numbers.setdefault(test.name, next(identifiers))
            return {"$gt" if test.operator == "above" else "$lt": {attribute: test.number}}
        words: Iterable[str | None] = sorted(test.words) if test.operator == "one of" else (None,)
        if len(test.words) == 1:
            attribute = attributes.setdefault(test.name, next(identifiers))
            value = 1 + name.words.index(next(iter(test.words)))
        else:
            attribute, value = next(identifiers), 1
        message = _Message(_message(next(identifiers), attribute, value))
        for word in words:
            made.answers.setdefault((test.name, word), []).append(message)
        return {attribute: value}

    boot = next(identifiers)
    made.boot = _message(boot, boot, 1)
    definition: dict[str, object] = {"boot": {"all": [{"c0": {boot: 1}}], "dist": 0}}
    for number, (rule, tests) in enumerate(_tested(ruleset)):
        for test in tests:
            if test not in patterns:
                patterns[test] = pattern(test)
        made.rules[f"r{number}"] = rule
        definition[f"r{number}"] = {
            "all": [{f"c{place}": patterns[test]} for place, test in enumerate(tests)],
            "dist": 0,
        }
    made.definition = json.dumps(definition, separators=(",", ":"))
    return made


class Engine:
    """A rule set compiled once and evaluated from scratch as often as wanted, from any thread.

    Raises EngineLimitError when a rule is more than the C code can carry. A compiled rule set takes some
    kilobytes for each condition of each rule; it is freed when another Engine is made after this one is gone.
    """

    def __init__(self, ruleset: RuleSet) -> None:
        self._ruleset = ruleset
        self._facts = sorted(name for name in ruleset.used if not ruleset.names[name].derived)
        self._encoding = _encode(ruleset)
        # At most one handle: absent while an evaluation runs, and for good when its state cannot be deleted.
        self._handles: list[int] = []
        weakref.finalize(self, _retired.extend, self._handles).atexit = False
        with _lock:
            self._handles.append(_created(self._encoding.definition))

    def evaluate(self, facts: Mapping[str, Fact], given: Mapping[str, str] = NOTHING) -> Derivation:
        """All that follows from `facts` (name to word or number; absent is unknown) and `given` signs.

        Raises FactError for facts or given signs that the rule set does not declare so, and EngineFault when
        the engine misbehaves; the next evaluation then starts clean.
        """
        known = checked(self._ruleset, facts, given)
        messages = [
            message
            for names, values in ((self._facts, known), (sorted(given), given))
            for name in names
            for message in self._encoding.messages(name, values.get(name))
        ]
        with _lock:
            try:
                fired = self._run(messages)
            except _rules.error as error:
                raise EngineFault(f"the rule engine refused a call: {error}") from error
        return derivation(self._ruleset, fired, given)

    def _run(self, messages: Iterable[_Message]) -> set[str]:
        handle = self._handles.pop() if self._handles else _created(self._encoding.definition)
        offset = _booted(handle, self._encoding.boot)
        try:
            return self._fire(handle, offset, messages)
        finally:
            _rules.delete_state(handle, _STATE)
            self._handles.append(handle)

    def _fire(self, handle: int, offset: int, messages: Iterable[_Message]) -> set[str]:
        """The ids of the rules that hold: send the facts, then let each firing rule send its conclusions."""
        sent: set[str] = set()
        waiting = dict(self._encoding.rules)
        self._send(handle, offset, messages, sent)
        action = _rules.start_action_for_state(handle, offset)
        firing = None if action is None else action[1]
        while firing is not None:
            engine_rule = next(iter(json.loads(firing)))
            rule = waiting.pop(engine_rule, None)
            if rule is None:
                raise EngineFault(f"the rule engine fired '{engine_rule}' a second time; it may fire once")
            for conclusion in rule.conclusions:
                self._send(handle, offset, self._encoding.messages(conclusion.name, conclusion.word), sent)
            firing = _rules.complete_and_start_action(handle, offset)
        return {rule.id for engine_rule, rule in self._encoding.rules.items() if engine_rule not in waiting}

    def _send(self, handle: int, offset: int, messages: Iterable[_Message], sent: set[str]) -> None:
        for message in messages:
            if message.text in sent:
                continue
            sent.add(message.text)
            code, state = _rules.assert_fact(handle, message.text)
            if state != offset or not (code == _OK or (code == _NOT_TESTED and not message.always_tested)):
                raise EngineFault(f"the rule engine answered {code} in state {state} to {message.text}")


def _created(definition: str) -> int:
    """A compiled rule set; first frees those whose Engine is gone. The lock must be held."""
    while _retired:
        _rules.delete_ruleset(_retired.popleft())
    try:
        return _rules.create_ruleset("rules", definition)
    except _rules.error as error:
        raise EngineFault(f"the rule engine refused a checked rule base: {error}") from error


def _booted(handle: int, boot: str) -> int:
    """A new state in which one action has run, so that it may be deleted: its offset."""
    code, offset = _rules.assert_fact(handle, boot)
    if code != _OK or _rules.start_action_for_state(handle, offset) is None:
        raise EngineFault(f"the rule engine did not start: it answered {code} to its first fact")
    if _rules.complete_and_start_action(handle, offset) is not None:
        _rules.delete_state(handle, _STATE)
        raise EngineFault("the rule engine fired a rule before it had any fact")
    return offset
