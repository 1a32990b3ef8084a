"""The sentences of a rule: each shape means what it says, and nothing else is taken."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.knowledge.sentences import SentenceError, parse_conclusion, parse_condition
from vibdiag.reasoning.language import Conclusion, Condition


@pytest.mark.parametrize(
    ("sentence", "meant"),
    [
        ("starts-kmh is above 80", Condition("starts-kmh", "above", number=80.0)),
        ("starts-kmh is below 49.5", Condition("starts-kmh", "below", number=49.5)),
        ("tilt is above -2", Condition("tilt", "above", number=-2.0)),
        ("rhythm is steady", Condition("rhythm", "is", ("steady",))),
        ("follows is wheel-1x", Condition("follows", "is", ("wheel-1x",))),
        ("rhythm is not steady", Condition("rhythm", "is not", ("steady",))),
        ("rhythm is one of steady, bursts", Condition("rhythm", "is", ("steady", "bursts"))),
        ("rhythm is not one of steady, bursts", Condition("rhythm", "is not", ("steady", "bursts"))),
        ("rhythm is not known", Condition("rhythm", "not known")),
        ("  rhythm   is\n  steady ", Condition("rhythm", "is", ("steady",))),
        ("word is known", Condition("word", "is", ("known",))),
    ],
)
def test_each_shape_is_understood(sentence: str, meant: Condition) -> None:
    assert parse_condition(sentence) == meant


@pytest.mark.parametrize(
    "sentence",
    [
        "",
        "rhythm",
        "rhythm is",
        "rhythm steady",
        "rhythm = steady",
        "rhythm is above",
        "rhythm is above high",
        "speed is above 1e3",
        "speed is above 80 km/h",
        "speed is at least 80",
        "rhythm is one of",
        "rhythm is one of steady",
        "rhythm is one of steady bursts",
        "rhythm is one of steady,bursts",
        "rhythm is not",
        "rhythm is steady and rhythm is bursts",
        "Rhythm is steady",
        "rhythm is Steady",
        "rhythm isn't steady",
        "rhythm is not not steady",
        "-rhythm is steady",
        "rhythm- is steady",
        "rhythm is steady; import os",
        "__import__('os').system('true')",
        "rhythm is {steady}",
        "rhythm is stea\u0301dy",
    ],
)
def test_what_is_no_sentence_is_refused_with_examples(sentence: str) -> None:
    with pytest.raises(SentenceError, match="is not a condition; write for example"):
        parse_condition(sentence)


def test_a_conclusion_sets_one_word_of_one_sign() -> None:
    assert parse_conclusion(" rhythm is  steady ") == Conclusion("rhythm", "steady")


@pytest.mark.parametrize(
    "sentence", ["", "rhythm", "rhythm is not steady", "rhythm is one of a, b", "rhythm is above 3"]
)
def test_what_is_no_conclusion_is_refused(sentence: str) -> None:
    with pytest.raises(SentenceError, match="is not a conclusion"):
        parse_conclusion(sentence)


@settings(max_examples=300, deadline=None)
@given(
    st.text()
    | st.lists(
        st.sampled_from(
            ["rhythm", "is", "not", "one", "of", "steady", ",", "known", "above", "below", "80", "-1", "a-b"]
        )
    ).map(" ".join)
)
def test_any_text_is_a_sentence_or_refused(sentence: str) -> None:
    for parse in (parse_condition, parse_conclusion):
        try:
            parse(sentence)
        except SentenceError as error:
            assert str(error)  # noqa: PT017
