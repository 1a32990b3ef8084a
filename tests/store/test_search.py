"""Search finds the same on both databases: every word must begin a word of the case."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.conftest import ADA, case_of, with_parts
from vibdiag.case.model import Case
from vibdiag.merging.plain import plain, texts
from vibdiag.store.search import search
from vibdiag.store.store import CaseStore
from vibdiag.store.words import folded


def ids(store: CaseStore, words: str) -> list[str]:
    return [line.id for line in search(store, words)]


@pytest.fixture
def filled(store: CaseStore) -> CaseStore:
    store.create(case_of(id="first", complaint={"words": "Vibração forte na autoestrada"}, title="Trembles"), ADA)
    store.create(case_of(id="second", vehicle={"tyres": {"front": "225/45R17 91W"}}, title="Trembling at 110"), ADA)
    return store


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("trembl", ["second", "first"]),
        ("TREMBLES", ["first"]),
        ("vibracao", ["first"]),
        ("VIBRAÇÃO autoestr", ["first"]),
        ("trembl vibracao", ["first"]),
        ("45r17", ["second"]),
        ("225/45R17", ["second"]),
        ("rembles", []),
        ("trembles 110", []),
        ("first", ["first"]),
        ("", []),
        ("- / !", []),
        ("' OR 1=1 --", []),
        ('trembles" OR "x', []),
        ("trembles*", ["first"]),
        ("NOT NEAR(", []),
        ("tremb:* & !x", []),
    ],
)
def test_what_is_found(filled: CaseStore, words: str, found: list[str]) -> None:
    assert ids(filled, words) == found


def test_a_changed_case_is_found_by_its_new_words_only(filled: CaseStore) -> None:
    version = filled.read("first")
    filled.save(with_parts(version, title="Hums"), version, ADA)
    assert ids(filled, "hums") == ["first"]
    assert ids(filled, "trembles") == []


def test_no_more_than_asked_for_and_the_newest_first(store: CaseStore) -> None:
    for number in range(20):
        store.create(case_of(id=f"case-{number}", title="shake"), ADA)
    assert [line.id for line in search(store, "shake", limit=3)] == ["case-19", "case-18", "case-17"]


def test_the_demos_by_their_confirmed_cause(store: CaseStore, demos: list[Case]) -> None:
    for case in demos:
        store.create(case, ADA)
    for case in demos:
        assert case.outcome is not None
        assert case.id in ids(store, case.outcome.confirmed_cause)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(words=st.text(max_size=80), asked=st.text(max_size=6))
def test_search_agrees_with_looking_word_by_word(store: CaseStore, words: str, asked: str) -> None:
    """Against the plainest way to search: fold both, look at every word."""
    case = case_of(id="any", notes=words)
    base = store.read("any") if store.revision("any") else store.create(case, ADA)
    store.save(case, base, ADA)
    there = [word for text in texts(plain(case)) for word in folded(text)]
    wanted = folded(asked)
    expected = bool(wanted) and all(any(word.startswith(one) for word in there) for one in wanted)
    assert bool(ids(store, asked)) == expected
