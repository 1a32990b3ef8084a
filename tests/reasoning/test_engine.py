"""The rule engine does what the plain chainer does: worked examples, order, threads, limits at load."""

from __future__ import annotations

import itertools
import random
from concurrent.futures import ThreadPoolExecutor

import pytest

from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.derivation import GIVEN, Conflict, FactError
from vibdiag.reasoning.engine import (
    MOST_ALTERNATIVES,
    MOST_LIMITS_ON_ONE_NUMBER,
    MOST_RULES_ON_ONE_TEST,
    MOST_TESTS,
    MOST_TESTS_IN_A_RULE,
    Engine,
    EngineLimitError,
)
from vibdiag.reasoning.language import Conclusion, Condition, Fact, LanguageError, Name, Rule, RuleSet

NAMES = {
    name.name: name
    for name in (
        Name("rhythm", ("steady", "comes-and-goes", "once")),
        Name("drive", ("front", "rear", "all")),
        Name("speed_kmh", scale=10),
        Name("follows", ("wheel", "engine", "road"), derived=True),
        Name("beat", ("yes", "no"), derived=True),
        Name("advice", ("compare-wheels", "weigh-wheels"), derived=True),
    )
}

EXAMPLE = RuleSet(
    NAMES,
    (
        Rule(
            "window",
            ((Condition("speed_kmh", "above", (), 80), Condition("speed_kmh", "below", (), 120)),),
            (Conclusion("follows", "wheel"),),
        ),
        Rule("beating", ((Condition("rhythm", "is", ("comes-and-goes",)),),), (Conclusion("beat", "yes"),)),
        Rule(
            "not-beating",
            ((Condition("rhythm", "is not", ("comes-and-goes",)),),),
            (Conclusion("beat", "no"),),
        ),
        Rule(
            "unasked",
            ((Condition("drive", "not known"), Condition("speed_kmh", "not known")),),
            (Conclusion("follows", "road"),),
        ),
        Rule(
            "two-wheels",
            ((Condition("beat", "is", ("yes",)), Condition("follows", "is", ("wheel", "road"))),),
            (Conclusion("advice", "compare-wheels"),),
        ),
        Rule(
            "one-wheel",
            (
                (Condition("beat", "is", ("no",)), Condition("drive", "is", ("front", "rear"))),
                (Condition("follows", "is", ("engine",)),),
            ),
            (Conclusion("advice", "weigh-wheels"),),
        ),
    ),
)


@pytest.mark.parametrize(
    ("facts", "given", "fired"),
    [
        ({}, {}, ("unasked",)),
        ({"speed_kmh": 80.0}, {}, ()),
        ({"speed_kmh": 80.1}, {}, ("window",)),
        ({"speed_kmh": 120}, {}, ()),
        ({"rhythm": "comes-and-goes", "speed_kmh": 100}, {}, ("beating", "two-wheels", "window")),
        ({"rhythm": "comes-and-goes"}, {}, ("beating", "two-wheels", "unasked")),
        ({"rhythm": "once", "drive": "rear"}, {}, ("not-beating", "one-wheel")),
        ({"rhythm": "once", "drive": "all"}, {}, ("not-beating",)),
        ({"drive": "all"}, {"follows": "engine"}, ("one-wheel",)),
        ({"drive": "all"}, {"follows": "wheel", "beat": "yes"}, ("two-wheels",)),
        ({"rhythm": "comes-and-goes", "drive": "all"}, {"beat": "yes"}, ("beating",)),
    ],
)
def test_worked_examples(facts: dict[str, Fact], given: dict[str, str], fired: tuple[str, ...]) -> None:
    derived = Engine(EXAMPLE).evaluate(facts, given)
    assert derived.fired == fired
    assert derived == chain(EXAMPLE, facts, given)


def test_two_words_for_one_sign_are_reported_with_their_rules_and_both_go_on() -> None:
    derived = Engine(EXAMPLE).evaluate({"rhythm": "comes-and-goes", "drive": "rear"}, {"beat": "no"})
    assert derived.conflicts == (Conflict("beat", ("yes", "no"), {"yes": ("beating",), "no": (GIVEN,)}),)
    assert derived.value("beat") is None
    assert derived.fired == ("beating", "one-wheel")


def test_a_given_sign_that_no_rule_tests_is_still_known() -> None:
    assert Engine(EXAMPLE).evaluate({}, {"advice": "weigh-wheels"}).value("advice") == "weigh-wheels"


def test_is_not_with_several_words_excludes_each_of_them_and_an_unanswered_name() -> None:
    odd = Condition("drive", "is not", ("front", "rear"))
    engine = Engine(RuleSet(NAMES, (Rule("odd", ((odd,),), (Conclusion("beat", "yes"),)),)))
    assert engine.evaluate({"drive": "all"}).fired == ("odd",)
    for facts in ({"drive": "front"}, {"drive": "rear"}, {}):
        assert engine.evaluate(facts).fired == ()


def test_an_empty_rule_set_concludes_nothing() -> None:
    derived = Engine(RuleSet(NAMES, ())).evaluate({"rhythm": "once"}, {"beat": "yes"})
    assert derived.fired == ()
    assert derived.signs == {"beat": {"yes"}}


def test_each_evaluation_starts_from_nothing() -> None:
    engine = Engine(EXAMPLE)
    first = engine.evaluate({"rhythm": "comes-and-goes", "speed_kmh": 100})
    assert engine.evaluate({}).fired == ("unasked",)
    assert engine.evaluate({"rhythm": "comes-and-goes", "speed_kmh": 100}) == first


def test_the_order_of_facts_does_not_matter() -> None:
    facts: dict[str, Fact] = {"rhythm": "once", "drive": "rear", "speed_kmh": 100.0}
    engine = Engine(EXAMPLE)
    results = [engine.evaluate(dict(order)) for order in itertools.permutations(facts.items())]
    assert results[0].fired == ("not-beating", "one-wheel", "window")
    assert all(result == results[0] for result in results)


def test_the_order_of_rules_does_not_matter() -> None:
    facts: dict[str, Fact] = {"rhythm": "comes-and-goes", "drive": "rear", "speed_kmh": 100.0}
    expected = chain(EXAMPLE, facts, {"beat": "no"})
    assert len(expected.fired) == 4
    for order in random.Random(1).sample(list(itertools.permutations(EXAMPLE.rules)), 100):
        assert Engine(RuleSet(NAMES, order)).evaluate(facts, {"beat": "no"}) == expected


def test_eight_threads_at_once() -> None:
    engines = [Engine(EXAMPLE), Engine(EXAMPLE)]
    cases: list[dict[str, Fact]] = [
        {"rhythm": rhythm, "drive": drive, "speed_kmh": speed}
        for rhythm in NAMES["rhythm"].words
        for drive in NAMES["drive"].words
        for speed in (50.0, 100.0, 150.0)
    ]
    expected = [chain(EXAMPLE, case) for case in cases]

    def work(number: int) -> int:
        turn = random.Random(number).choices(range(len(cases)), k=250)
        return sum(engines[number % 2].evaluate(cases[case]) == expected[case] for case in turn)

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(work, range(8))) == [250] * 8


def test_a_wrong_fact_is_refused_and_the_engine_goes_on() -> None:
    engine = Engine(EXAMPLE)
    with pytest.raises(FactError, match="'rhythm' cannot be 'twice'"):
        engine.evaluate({"rhythm": "twice"})
    with pytest.raises(FactError, match="'beat' is a sign"):
        engine.evaluate({"beat": "yes"})
    with pytest.raises(FactError, match="'speed_kmh' is inf"):
        engine.evaluate({"speed_kmh": float("inf")})
    assert engine.evaluate({}).fired == ("unasked",)


# What the engine cannot carry is refused at load, and what it is said to carry works.


def flags(count: int) -> dict[str, Name]:
    made = [Name(f"f{number}", ("yes", "no")) for number in range(count)]
    return {name.name: name for name in [*made, NAMES["speed_kmh"], NAMES["beat"]]}


def wide(count: int) -> RuleSet:
    return RuleSet(
        flags(count),
        (
            Rule(
                "wide",
                (tuple(Condition(f"f{number}", "is", ("yes",)) for number in range(count)),),
                (Conclusion("beat", "yes"),),
            ),
        ),
    )


def popular(count: int) -> RuleSet:
    return RuleSet(
        flags(1),
        tuple(
            Rule(f"r{number}", ((Condition("f0", "is", ("yes",)),),), (Conclusion("beat", "yes"),))
            for number in range(count)
        ),
    )


def graded(count: int) -> RuleSet:
    return RuleSet(
        flags(0),
        tuple(
            Rule(f"r{number}", ((Condition("speed_kmh", "above", (), number),),), (Conclusion("beat", "yes"),))
            for number in range(count)
        ),
    )


def varied(count: int) -> RuleSet:
    return RuleSet(
        flags(count),
        tuple(
            Rule(f"r{number}", ((Condition(f"f{number}", "is", ("yes",)),),), (Conclusion("beat", "yes"),))
            for number in range(count)
        ),
    )


def manifold(count: int) -> RuleSet:
    alternatives = itertools.combinations([f"f{number}" for number in range(100)], 2)
    return RuleSet(
        flags(100),
        tuple(
            Rule(
                f"r{number}",
                (tuple(Condition(name, "is", ("yes",)) for name in pair),),
                (Conclusion("beat", "yes"),),
            )
            for number, pair in enumerate(itertools.islice(alternatives, count))
        ),
    )


def answers(ruleset: RuleSet) -> dict[str, Fact]:
    return {name: 1000.0 if ruleset.names[name].is_number else "yes" for name in ruleset.used if name != "beat"}


@pytest.mark.parametrize(
    ("make", "most", "sentence"),
    [
        (
            wide,
            MOST_TESTS_IN_A_RULE,
            "rule 'wide': 13 conditions that must hold together are more than 12; let",
        ),
        (popular, MOST_RULES_ON_ONE_TEST, "rule 'r128': its condition on 'f0' now stands in 129 places"),
        (graded, MOST_LIMITS_ON_ONE_NUMBER, "rule 'r48': 'speed_kmh' is compared with 49 different numbers"),
        (varied, MOST_TESTS, "rule 'r440': with it the rules have 441 different conditions, more than 440"),
        (
            manifold,
            MOST_ALTERNATIVES,
            "rule 'r3000': with it the rules have 3001 alternatives, more than 3000",
        ),
    ],
)
def test_limits(make: object, most: int, sentence: str) -> None:
    assert callable(make)
    largest = make(most)
    facts = answers(largest)
    derived = Engine(largest).evaluate(facts)
    assert len(derived.fired) == len(largest.rules)
    assert derived == chain(largest, facts)
    with pytest.raises(EngineLimitError) as refused:
        Engine(make(most + 1))
    assert str(refused.value).startswith(sentence)
    assert isinstance(refused.value, LanguageError), "a limit is a wrong rule, not a wrong fact"


def test_equal_conditions_count_once() -> None:
    same = (Condition("f0", "is", ("yes",)), Condition("f0", "is not", ("no",))) * 10
    engine = Engine(RuleSet(flags(1), (Rule("same", (same,), (Conclusion("beat", "yes"),)),)))
    assert engine.evaluate({"f0": "yes"}).fired == ("same",)


@pytest.mark.parametrize("limit", [1e16, -1e16, 1e308, 2.0**31])
def test_a_rule_with_too_large_a_number_is_refused_by_name(limit: float) -> None:
    condition = Condition("speed_kmh", "below", (), limit)
    rules = RuleSet(NAMES, (Rule("huge", ((condition,),), (Conclusion("beat", "yes"),)),))
    with pytest.raises(EngineLimitError, match=r"rule 'huge' compares 'speed_kmh' with .* too large"):
        Engine(rules)
