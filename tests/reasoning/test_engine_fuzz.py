"""Invented rule sets and answers: the rule engine and the plain chainer must agree on everything.

Set VIBDIAG_LONG_FUZZ to a factor (10, 100) for a longer run.
"""

from __future__ import annotations

import os
import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.engine import Engine
from vibdiag.reasoning.language import Conclusion, Condition, Fact, Name, Rule, RuleSet

FACTOR = max(1, int(os.environ.get("VIBDIAG_LONG_FUZZ", "1") or 1))
ANSWERS_PER_RULE_SET = 12
THOROUGH = settings(
    max_examples=140 * FACTOR,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

FACTS = [
    Name("rhythm", ("steady", "comes-and-goes", "once")),
    Name("drive", ("front", "rear", "all", "none")),
    Name("wet", ("yes", "no")),
    Name("alone", ("only",)),
    Name("speed_kmh", scale=10),
    Name("runout_mm", scale=1000),
    Name("tilt_deg"),
]
SIGNS = [Name(f"sign{number}", ("a", "b", "c")[: 1 + number % 3], derived=True) for number in range(6)]
NAMES = {name.name: name for name in FACTS + SIGNS}
WORDS = [name for name in FACTS if name.words]
NUMBERS = [name for name in FACTS if name.is_number]

# Limits and measurements share a few values, so that "exactly at the limit" is met often.
AMOUNTS = st.one_of(
    st.sampled_from([-1.0, -0.05, 0.0, 1e-5, 0.0005, 0.05, 0.1, 1.0, 79.95, 80.0, 80.04, 2e5]),
    st.floats(-1e5, 1e5),
    st.integers(-1000, 1000).map(float),
)


def some_words(name: Name) -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(st.sampled_from(name.words), min_size=1, max_size=len(name.words), unique=True).map(tuple)


def word_test(name: Name) -> st.SearchStrategy[Condition]:
    positive = st.builds(Condition, st.just(name.name), st.just("is"), some_words(name))
    if name.derived:
        return positive
    negative = st.builds(Condition, st.just(name.name), st.just("is not"), some_words(name))
    return st.one_of(positive, negative, st.just(Condition(name.name, "not known")))


def number_test(name: Name) -> st.SearchStrategy[Condition]:
    compared = st.builds(Condition, st.just(name.name), st.sampled_from(["above", "below"]), st.just(()), AMOUNTS)
    return st.one_of(compared, compared, st.just(Condition(name.name, "not known")))


CONDITIONS = st.one_of(
    st.sampled_from(SIGNS).flatmap(word_test),
    st.sampled_from(WORDS).flatmap(word_test),
    st.sampled_from(NUMBERS).flatmap(number_test),
)
CONCLUSIONS = st.sampled_from([Conclusion(name.name, word) for name in SIGNS for word in name.words])
BODIES = st.tuples(
    st.lists(st.lists(CONDITIONS, min_size=1, max_size=5).map(tuple), min_size=1, max_size=3).map(tuple),
    st.lists(CONCLUSIONS, min_size=1, max_size=3).map(tuple),
)
RULES = st.lists(BODIES, max_size=14).map(
    lambda bodies: tuple(Rule(f"rule{number}", *body) for number, body in enumerate(bodies))
)
ANSWERS = st.fixed_dictionaries(
    {},
    optional={
        name.name: st.sampled_from(name.words) if name.words else AMOUNTS.filter(lambda amount: abs(amount) < 2e5)
        for name in FACTS
    },
)
GIVEN: st.SearchStrategy[dict[str, str]] = st.one_of(
    st.just({}),
    st.fixed_dictionaries({}, optional={name.name: st.sampled_from(name.words) for name in SIGNS}),
)


@THOROUGH
@given(RULES, st.lists(st.tuples(ANSWERS, GIVEN), min_size=ANSWERS_PER_RULE_SET, max_size=ANSWERS_PER_RULE_SET))
def test_the_engine_agrees_with_the_chainer(
    rules: tuple[Rule, ...], cases: list[tuple[dict[str, Fact], dict[str, str]]]
) -> None:
    ruleset = RuleSet(NAMES, rules)
    engine = Engine(ruleset)
    for facts, known in cases:
        assert engine.evaluate(facts, known) == chain(ruleset, facts, known)


@settings(THOROUGH, max_examples=30 * FACTOR)
@given(RULES, ANSWERS, GIVEN, st.randoms(use_true_random=False))
def test_no_order_matters(
    rules: tuple[Rule, ...], facts: dict[str, Fact], known: dict[str, str], order: random.Random
) -> None:
    expected = chain(RuleSet(NAMES, rules), facts, known)
    for _ in range(5):
        shuffled = tuple(reordered(rule, order) for rule in order.sample(rules, len(rules)))
        answered = dict(order.sample(list(facts.items()), len(facts)))
        assert Engine(RuleSet(NAMES, shuffled)).evaluate(answered, known) == expected


def reordered(rule: Rule, order: random.Random) -> Rule:
    alternatives = tuple(
        tuple(order.sample(alternative, len(alternative)))
        for alternative in order.sample(rule.alternatives, len(rule.alternatives))
    )
    return Rule(rule.id, alternatives, tuple(order.sample(rule.conclusions, len(rule.conclusions))))


def test_large_rule_sets_agree_too() -> None:
    """Rule bases of the size of a real one: 100 rules in four layers, 60 facts, 40 signs."""
    dice = random.Random(20)
    for _ in range(10 * FACTOR):
        ruleset = large_rule_set(dice)
        engine = Engine(ruleset)
        fired = 0
        for _ in range(250):
            facts = {
                name.name: dice.choice(name.words) if name.words else dice.uniform(0, 100)
                for name in ruleset.names.values()
                if not name.derived and dice.random() < 0.8
            }
            derived = engine.evaluate(facts)
            fired += len(derived.fired)
            assert derived == chain(ruleset, facts)
        assert fired > 1000, "a comparison of silent rules proves nothing"


def large_rule_set(dice: random.Random) -> RuleSet:
    words = [Name(f"word{number}", tuple("abcde"[: dice.randint(2, 5)])) for number in range(40)]
    numbers = [Name(f"number{number}", scale=10) for number in range(20)]
    signs = [Name(f"sign{number}", ("p", "q", "r"), derived=True) for number in range(40)]

    def condition(layer: int) -> Condition:
        kind = dice.random()
        if layer and kind < 0.3:
            chosen = dice.sample(("p", "q", "r"), dice.randint(1, 2))
            return Condition(dice.choice(signs[: 10 * layer]).name, "is", tuple(chosen))
        if kind < 0.7:
            name = dice.choice(words)
            if kind < 0.35:
                return Condition(name.name, "not known")
            some = tuple(dice.sample(name.words, dice.randint(1, len(name.words) - 1)))
            return Condition(name.name, dice.choice(["is", "is not"]), some)
        limit = float(dice.randrange(0, 100, 10))
        return Condition(dice.choice(numbers).name, dice.choice(["above", "below"]), (), limit)

    rules = tuple(
        Rule(
            f"rule{number}",
            tuple(
                tuple(condition(number // 25) for _ in range(dice.randint(1, 4)))
                for _ in range(dice.choice((1, 1, 1, 2)))
            ),
            (Conclusion(dice.choice(signs[number // 25 * 10 :][:10]).name, dice.choice("pqr")),),
        )
        for number in range(100)
    )
    return RuleSet({name.name: name for name in words + numbers + signs}, rules)
