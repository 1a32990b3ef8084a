"""Worked examples for the plain chainer, each small enough to be checked by reading."""

from __future__ import annotations

import math

import pytest

from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.derivation import GIVEN, Conflict, FactError
from vibdiag.reasoning.language import Conclusion, Condition, Fact, Name, Operator, Rule, RuleSet

RHYTHM = Name("rhythm", ("steady", "comes-and-goes", "once"))
SPEED = Name("speed_kmh", scale=10)
BEAT = Name("beat", ("yes", "no"), derived=True)
ADVICE = Name("advice", ("compare-wheels", "weigh-wheels"), derived=True)


def rules(*made: Rule) -> RuleSet:
    return RuleSet({name.name: name for name in (RHYTHM, SPEED, BEAT, ADVICE)}, made)


def rule(identifier: str, *when: Condition, then: tuple[str, str] = ("beat", "yes")) -> Rule:
    return Rule(identifier, (when,), (Conclusion(*then),))


def test_a_rule_holds_when_all_its_conditions_hold() -> None:
    both = rules(
        rule(
            "fast-beat",
            Condition("rhythm", "is", ("comes-and-goes",)),
            Condition("speed_kmh", "above", (), 80),
        )
    )
    assert chain(both, {"rhythm": "comes-and-goes", "speed_kmh": 90}).value("beat") == "yes"
    assert chain(both, {"rhythm": "comes-and-goes", "speed_kmh": 70}).fired == ()
    assert chain(both, {"rhythm": "comes-and-goes"}).fired == ()


def test_one_alternative_is_enough_and_the_rule_counts_once() -> None:
    either = rules(
        Rule(
            "either",
            ((Condition("rhythm", "is", ("once",)),), (Condition("speed_kmh", "below", (), 30),)),
            (Conclusion("beat", "no"),),
        )
    )
    assert chain(either, {"rhythm": "once"}).fired == ("either",)
    assert chain(either, {"speed_kmh": 20.0}).fired == ("either",)
    assert chain(either, {"rhythm": "once", "speed_kmh": 20.0}).because_of == {("beat", "no"): ("either",)}
    assert chain(either, {"rhythm": "steady", "speed_kmh": 30.0}).fired == ()


@pytest.mark.parametrize(
    ("operator", "words", "facts", "holds"),
    [
        ("is", ("once", "steady"), {"rhythm": "steady"}, True),
        ("is", ("once", "steady"), {"rhythm": "comes-and-goes"}, False),
        ("is", ("once",), {}, False),
        ("is not", ("once",), {"rhythm": "steady"}, True),
        ("is not", ("once", "steady"), {"rhythm": "steady"}, False),
        ("is not", ("once",), {}, False),  # an unanswered question has no other word
        ("is not", RHYTHM.words, {"rhythm": "once"}, False),
        ("not known", (), {}, True),
        ("not known", (), {"rhythm": "once"}, False),
    ],
)
def test_words(operator: Operator, words: tuple[str, ...], facts: dict[str, Fact], holds: bool) -> None:
    made = rules(rule("tested", Condition("rhythm", operator, words)))
    assert (chain(made, facts).fired == ("tested",)) is holds


@pytest.mark.parametrize(
    ("operator", "limit", "value", "holds"),
    [
        ("above", 80.0, 80.0, False),
        ("above", 80.0, 80.04, False),  # 0.1 km/h is the resolution of this name
        ("above", 80.0, 80.05, True),
        ("below", 80.0, 79.96, False),
        ("below", 80.0, 79.94, True),
        ("below", 0.0, -0.1, True),
        ("above", -1e-5, 0.0, False),
    ],
)
def test_numbers_are_compared_at_the_resolution_of_their_name(
    operator: Operator, limit: float, value: float, holds: bool
) -> None:
    made = rules(rule("tested", Condition("speed_kmh", operator, (), limit)))
    assert (chain(made, {"speed_kmh": value}).fired == ("tested",)) is holds


def test_a_conclusion_is_a_condition_of_the_next_rule() -> None:
    chained = rules(
        rule("second", Condition("beat", "is", ("yes",)), then=("advice", "compare-wheels")),
        rule("first", Condition("rhythm", "is", ("comes-and-goes",))),
    )
    derived = chain(chained, {"rhythm": "comes-and-goes"})
    assert derived.fired == ("first", "second")
    assert derived.because_of == {("beat", "yes"): ("first",), ("advice", "compare-wheels"): ("second",)}
    assert derived.signs == {"beat": {"yes"}, "advice": {"compare-wheels"}}


def test_a_given_sign_counts_like_a_concluded_one_but_has_no_rule() -> None:
    chained = rules(rule("second", Condition("beat", "is", ("yes",)), then=("advice", "compare-wheels")))
    derived = chain(chained, {}, {"beat": "yes"})
    assert derived.value("advice") == "compare-wheels"
    assert ("beat", "yes") not in derived.because_of
    assert derived.conflicts == ()


def test_two_words_for_one_sign_are_reported_and_both_go_on() -> None:
    torn = rules(
        rule("b", Condition("rhythm", "is", ("comes-and-goes",))),
        rule("a", Condition("rhythm", "is", ("comes-and-goes",))),
        rule("on-yes", Condition("beat", "is", ("yes",)), then=("advice", "compare-wheels")),
        rule("on-no", Condition("beat", "is", ("no",)), then=("advice", "weigh-wheels")),
    )
    derived = chain(torn, {"rhythm": "comes-and-goes"}, {"beat": "no"})
    assert derived.fired == ("a", "b", "on-no", "on-yes")
    assert derived.value("beat") is None
    assert derived.signs["beat"] == {"yes", "no"}
    assert derived.conflicts == (
        Conflict(
            "advice",
            ("compare-wheels", "weigh-wheels"),
            {"compare-wheels": ("on-yes",), "weigh-wheels": ("on-no",)},
        ),
        Conflict("beat", ("yes", "no"), {"yes": ("a", "b"), "no": (GIVEN,)}),
    )


def test_a_given_word_that_a_rule_concludes_too_is_no_conflict() -> None:
    made = rules(rule("first", Condition("rhythm", "is", ("once",))))
    derived = chain(made, {"rhythm": "once"}, {"beat": "yes"})
    assert derived.conflicts == ()
    assert derived.because_of == {("beat", "yes"): ("first",)}


def test_rules_in_a_ring_do_not_hold_themselves_up() -> None:
    ring = rules(
        rule("there", Condition("advice", "is", ("compare-wheels",))),
        rule("back", Condition("beat", "is", ("yes",)), then=("advice", "compare-wheels")),
    )
    assert chain(ring, {}).fired == ()
    assert chain(ring, {}, {"beat": "yes"}).fired == ("back", "there")


@pytest.mark.parametrize(
    ("facts", "given", "sentence"),
    [
        ({"colour": "red"}, {}, "'colour' is neither a fact nor a sign"),
        ({"rhythm": "twice"}, {}, "'rhythm' cannot be 'twice'; it can be steady, comes-and-goes, once"),
        ({"rhythm": 1.0}, {}, "'rhythm' cannot be 1.0"),
        ({"speed_kmh": "80"}, {}, "'speed_kmh' is '80', which is not a number"),
        ({"speed_kmh": True}, {}, "'speed_kmh' is True, which is not a number"),
        ({"speed_kmh": math.nan}, {}, "'speed_kmh' is nan, which is too large or not a finite number"),
        ({"speed_kmh": -math.inf}, {}, "not a finite number"),
        ({"speed_kmh": 1e16}, {}, "too large"),
        ({"speed_kmh": 1e308}, {}, "too large"),
        ({"speed_kmh": 10**400}, {}, "too large"),
        ({"beat": "yes"}, {}, "'beat' is a sign, which rules conclude"),
        ({}, {"rhythm": "once"}, "'rhythm' is a fact, not a sign"),
        ({}, {"beat": "perhaps"}, "'beat' cannot be 'perhaps'; it can be yes, no"),
        ({}, {"colour": "red"}, "'colour' is neither a fact nor a sign"),
    ],
)
def test_a_wrong_fact_is_refused_in_one_sentence(facts: dict[str, Fact], given: dict[str, str], sentence: str) -> None:
    with pytest.raises(FactError) as refused:
        chain(rules(rule("any", Condition("rhythm", "is", ("once",)))), facts, given)
    assert sentence in str(refused.value)
