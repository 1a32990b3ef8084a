"""Whatever a page sends: understood, or refused by one known error."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.serve.messages import Focus, Ping, Resize, Typed, UnknownMessageError, clamp_size, read_message


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ('["stdin", "n"]', Typed("n")),
        ('["stdin", "\\u001b[<0;1;1M"]', Typed("\x1b[<0;1;1M")),
        ('["resize", {"width": 120, "height": 40}]', Resize(120, 40)),
        ('["resize", {"width": 1000000, "height": -3}]', Resize(400, 8)),
        ('["resize", {"width": true, "height": 40}]', Resize(80, 40)),
        ('["ping", "1764000000000"]', Ping("1764000000000")),
        ('["focus"]', Focus(True)),
        ('["blur"]', Focus(False)),
    ],
)
def test_what_the_terminal_widget_sends(text: str, meant: object) -> None:
    assert read_message(text) == meant


@pytest.mark.parametrize(
    "text",
    [
        "",
        "nonsense",
        "{}",
        "[]",
        "null",
        '["stdin"]',
        '["stdin", 3]',
        '["stdin", "a", "b"]',
        '["resize", {"width": 120}]',
        '["resize", {"width": 1.5, "height": 2}]',
        '["ping", 3]',
        f'["ping", "{"x" * 99}"]',
        '["quit"]',
        "[" * 5000,
        "9" * 5000,
    ],
)
def test_what_it_does_not_send_is_refused(text: str) -> None:
    with pytest.raises(UnknownMessageError):
        read_message(text)


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["width", "height", "x"]), inner),
    max_leaves=8,
)


@given(st.text(max_size=40) | st.tuples(st.sampled_from(["stdin", "resize", "ping", "focus"]), _JSON).map(json.dumps))
def test_nothing_else_can_happen(text: str) -> None:
    try:
        said = read_message(text)
    except UnknownMessageError:
        return
    if isinstance(said, Resize):
        assert 20 <= said.width <= 400
        assert 8 <= said.height <= 150


@pytest.mark.parametrize(
    ("asked", "given"),
    [
        (("100", "30"), (100, 30)),
        ((None, None), (80, 24)),
        (("", "x"), (80, 24)),
        (("9" * 5000, "-1"), (80, 24)),
        (("²", "٣"), (80, 24)),
        (("1", "999"), (20, 150)),
    ],
)
def test_the_first_size_comes_from_the_address(asked: tuple[str | None, str | None], given: tuple[int, int]) -> None:
    assert clamp_size(*asked) == given
