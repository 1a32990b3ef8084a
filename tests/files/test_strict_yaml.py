"""Strict YAML: whatever comes in, a document or one sentence goes out; what goes out, comes in again unchanged.

Which plain scalars are numbers follows the core schema of YAML 1.2.2, section 10.3.2, without its octal and
hexadecimal forms: nobody measures a wheel in octal, and part numbers look like that.
"""

from __future__ import annotations

import time
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from vibdiag.files.errors import InputError
from vibdiag.files.strict_yaml import MAX_BYTES, MAX_DEPTH, Document, dump, parse

SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(10**250), 10**250)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text()
    | st.sampled_from(
        ["yes", "no", "null", "~", "", "1e3", "007", "- a", "a: b", "#", "&a", "*a", "!x", "<<", "=", "|"]
    )
)
DATA = st.recursive(SCALARS, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=25)

# Pieces of YAML, so that random texts come near the interesting places.
SIGNS = [*":-?[]{},'|>#", '"', ": ", "- ", "? ", " #", "&x", "*x", "!t ", "! ", "%YAML 1.2\n", "---\n", "...\n", "\\x"]
TEXTS = [
    "a",
    "b",
    "1",
    "1e3",
    ".5",
    "no",
    "~",
    "\n",
    "\n  ",
    "\t",
    "\r",
    "\x85",
    "\ufeff",
    "\x00",
    "\x07",
    "\u2028",
    "\ud800",
]
PIECES = st.lists(st.sampled_from([*SIGNS, *TEXTS, "ü", "🚗"]), max_size=40).map("".join)
ENCODED = PIECES.map(lambda text: text.encode("utf-16", "replace")) | PIECES.map(lambda t: t.encode("utf-8", "replace"))


def outcome(text: str | bytes) -> Document | InputError:
    try:
        return parse(text, file="some.yaml")
    except InputError as error:
        return error


def refused(text: str | bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        parse(text, file="some.yaml")
    return caught.value


@settings(max_examples=300, deadline=None)
@given(DATA)
@example({"": "", "a\nb": "c\n d", "x" * 200: " lead", "tab\t": "\r\n", "nel\x85": "\u2028"})
@example({"k": "line\n\n  indented\n", "l": "trailing \nspace", "m": "\n", "n": " \n"})
@example(["yes", "on", "1e3", "1.", "-0", "+.5e+7", "0x1f", "True", "TRUE", "null", "~", "2026-01-01", "12:30"])
def test_what_is_written_is_read_back(data: Any) -> None:
    again = parse(dump(data)).data
    assert again == data
    # 1 == 1.0 == True for Python; here they are different things
    assert repr(again) == repr(data)


@settings(max_examples=300, deadline=None)
@given(st.text(st.characters()) | PIECES)
def test_any_text_is_a_document_or_one_sentence(text: str) -> None:
    found = outcome(text)
    assert isinstance(found, Document) or str(found).startswith("some.yaml")


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=60) | ENCODED)
def test_any_bytes_are_a_document_or_one_sentence(content: bytes) -> None:
    found = outcome(content)
    assert isinstance(found, Document) or str(found).startswith("some.yaml")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        *((word, word) for word in ("yes", "no", "on", "off", "Yes", "NO", "y", "n", "none", "=", "<<")),
        *((text, text) for text in ("0o17", "0x1f", "1_000", "1,5", "12:30:00", "2026-01-01", "1.2.3", ".inf", ".nan")),
        ("017", 17),
        ("-12", -12),
        ("+1", 1),
        ("1e3", 1000.0),
        ("1E-3", 0.001),
        (".5", 0.5),
        ("5.", 5.0),
        ("-0.25", -0.25),
        ("true", True),
        ("False", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("'1'", "1"),
        ('"true"', "true"),
        ("9" * 299, int("9" * 299)),
        ("9" * 300, "9" * 300),
    ],
)
def test_plain_words_mean_what_people_mean(written: str, meant: object) -> None:
    found = parse(f"key: {written}").data["key"]
    assert found == meant
    assert type(found) is type(meant)


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, "'a' stands here and already in line 1"),
        ("a:\n  b: 1\n  'b': 2\n", 3, "already in line 2"),
        ("1: a\n'1': b\n", 2, "already in line 1"),
        ("a: &x 1\n", 1, "anchors"),
        ("a: 1\nb: *x\n", 2, "anchors"),
        ("a: &x [1]\nb: *x\n", 1, "anchors"),
        ("a: 1\nb: !!python/object:os.system {}\n", 2, "tag"),
        ("a: !!str 1\n", 1, "tag"),
        ("a: ! 1\n", 1, "tag"),
        ("a: 1\n---\nb: 2\n", 2, "second document"),
        ("a: 1\n? [b]\n: 2\n", 2, "key must be a word"),
        ("a: 1\nb: [1, 2\nc: 3\n", 3, "not readable as YAML"),
        ("a: 'open\n", 2, "not readable as YAML"),
        ("a: 1\nb: 1e999\n", 2, "too large a number"),
        ("a: 1\nb: x\x07\n", 2, "U+0007"),
        ("a: 1\n\nb: \x00\n", 3, "U+0000"),
        ("a: 1\nb: \ud800\n", 2, "U+D800"),
        ("a: 1\n\tb: 2\n", 2, "not readable as YAML"),
        ("%YAML 9.9\n---\na: 1\n", 1, "not readable as YAML"),
    ],
)
def test_a_refusal_says_what_and_in_which_line(text: str, line: int, says: str) -> None:
    error = refused(text)
    assert says in error.message
    assert error.spot is not None
    assert error.spot.line == line
    assert str(error).startswith(f"some.yaml:{line}:{error.spot.column}: ")


def test_a_file_that_is_not_utf_8_is_told_with_its_line() -> None:
    error = refused(b"a: 1\nb: caf\xe9\n")
    assert "UTF-8" in error.message
    assert error.spot is not None
    assert (error.spot.line, error.spot.column) == (2, 7)


@pytest.mark.parametrize("text", ["\ufeffa: ä\n", "\ufeffa: ä\n".encode(), "a: ä\r\n".encode()])
def test_what_other_editors_leave_behind_does_no_harm(text: str | bytes) -> None:
    assert parse(text).data == {"a": "ä"}


@pytest.mark.parametrize(("opening", "closing"), [("[", "]"), ("{a: ", "}")])
def test_depth_has_a_limit_and_it_is_not_the_stack(opening: str, closing: str) -> None:
    def nested(levels: int) -> str:
        return opening * levels + "1" + closing * levels

    parse(nested(MAX_DEPTH))
    assert f"deeper than {MAX_DEPTH}" in refused(nested(MAX_DEPTH + 1)).message


# Shapes that have sent other readers into quadratic time or through the stack.
@pytest.mark.parametrize(
    "text",
    [
        "[" * 1_000_000,
        "{" * 1_000_000,
        "- " * 1_000_000,
        "? " * 1_000_000,
        "\n".join(" " * level + "a:" for level in range(1500)),
        '"' + "a" * 3_000_000,
        '"' + "\n" * 3_000_000 + '"',
        "#" * 3_000_000,
        "[a: " * 100_000,
        "&a " * 100_000,
    ],
    ids=lambda text: repr(text[:6]),
)
def test_a_hostile_file_is_answered_at_once(text: str) -> None:
    start = time.process_time()
    outcome(text)
    assert time.process_time() - start < 3.0


def test_a_huge_file_is_refused_before_it_is_read() -> None:
    assert "longer than" in refused(b"a" * (MAX_BYTES + 1)).message
    assert "longer than" in refused("a" * (MAX_BYTES + 1)).message


def test_an_empty_document_is_nothing() -> None:
    assert parse("").data is None
    assert parse("# only a comment\n").data is None


def test_spots_point_at_keys_and_at_the_items_of_lists() -> None:
    document = parse("one: 1\ntwo:\n  three: {four: 4}\n  list:\n    - a\n    - five: 5\n")
    assert {path: (spot.line, spot.column) for path, spot in document.spots.items()} == {
        (): (1, 1),
        ("one",): (1, 1),
        ("two",): (2, 1),
        ("two", "three"): (3, 3),
        ("two", "three", "four"): (3, 11),
        ("two", "list"): (4, 3),
        ("two", "list", 0): (5, 7),
        ("two", "list", 1): (6, 7),
        ("two", "list", 1, "five"): (6, 7),
    }


def test_the_spot_of_something_missing_is_that_of_what_holds_it() -> None:
    document = parse("a:\n  b: 1\n")
    spot = document.spot(("a", "c", 3, "d"))
    assert spot is not None
    assert (spot.line, spot.column) == (1, 1)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.text(min_size=1), st.lists(SCALARS, max_size=3), min_size=1, max_size=6))
def test_every_part_of_a_document_has_its_spot(data: dict[str, Any]) -> None:
    text = dump(data)
    document = parse(text)
    lines = [document.spots[(key,)].line for key in data]
    assert lines == sorted(set(lines))
    for key, items in data.items():
        assert all((key, index) in document.spots for index in range(len(items)))
