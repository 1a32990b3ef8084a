"""Strengths at held speeds live in a step's words and read back; other words are never touched."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from vibdiag.case.strengths import Held, read_words, write_words

SPEEDS = st.builds(Held, st.floats(1, 400).map(lambda value: round(value, 1)), st.sampled_from(["km/h", "mph"]))


def test_the_line_reads_like_a_sentence() -> None:
    noted = {Held(110.0, "km/h"): 7, Held(85.0, "km/h"): 2}
    assert write_words(noted, "wet road") == "Strength 0 to 10: 85 km/h 2, 110 km/h 7.\nwet road"


@given(st.dictionaries(SPEEDS, st.integers(0, 10), max_size=8), st.text())
def test_strengths_and_note_read_back(strengths: dict[Held, int], note: str) -> None:
    if not strengths and note.startswith("Strength 0 to 10: "):
        return
    assert read_words(write_words(strengths, note)) == (strengths, note)


@given(st.text().filter(lambda text: not text.startswith("Strength 0 to 10: ")))
def test_other_words_are_a_note(words: str) -> None:
    assert read_words(words) == ({}, words)


def test_a_line_that_only_begins_like_strengths_is_a_note() -> None:
    for words in (
        "Strength 0 to 10: well",
        "Strength 0 to 10: 80 km/h 11.",
        "Strength 0 to 10: 80 km/h 5, then nothing.",
    ):
        assert read_words(words) == ({}, words)


def test_slower_comes_first_whatever_the_unit() -> None:
    noted = {Held(60.0, "mph"): 3, Held(80.0, "km/h"): 1}
    assert list(read_words(write_words(noted, ""))[0]) == [Held(80.0, "km/h"), Held(60.0, "mph")]
