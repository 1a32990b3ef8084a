"""The token: random, long enough, taken out of the environment, compared in constant time."""

from __future__ import annotations

import hmac

import pytest

from vibdiag.files.errors import InputError
from vibdiag.serve import token as module
from vibdiag.serve.token import VARIABLE, Token, new_token, token_from


def test_new_tokens_differ_and_are_long_enough() -> None:
    made = {new_token() for _ in range(200)}
    assert len(made) == 200
    assert all(token_from({VARIABLE: one}) == one for one in made)
    assert not set("".join(made)) & set("ilo01 ")


def test_a_token_leaves_the_environment_so_that_no_process_inherits_it() -> None:
    environment = {VARIABLE: "  sixteen-or-more-characters ", "HOME": "/x"}
    assert token_from(environment) == "sixteen-or-more-characters"
    assert environment == {"HOME": "/x"}
    assert token_from(environment) is None


@pytest.mark.parametrize("short", ["", "fifteen-letters", "  fifteen-letters  "])
def test_a_short_token_is_refused_in_one_sentence_that_does_not_show_it(short: str) -> None:
    with pytest.raises(InputError, match="at least 16") as refusal:
        token_from({VARIABLE: short})
    assert VARIABLE in str(refusal.value)
    assert "fifteen" not in str(refusal.value)


@pytest.mark.parametrize(
    ("offered", "right"),
    [
        ("an-invented-token", True),
        ("  an-invented-token\n", True),
        ("an-invented-tokeN", False),
        ("an-invented-toke", False),
        ("", False),
        ("an-invented-token\ud800", False),
    ],
)
def test_only_the_token_matches(offered: str, right: bool) -> None:
    assert Token("an-invented-token").matches(offered) is right


def test_the_comparison_is_that_of_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[bytes, bytes]] = []

    def compare(one: bytes, other: bytes) -> bool:
        seen.append((one, other))
        return hmac.compare_digest(one, other)

    class Spy:
        compare_digest = staticmethod(compare)

    monkeypatch.setattr(module, "hmac", Spy)
    assert not Token("an-invented-token").matches("x")
    assert [(len(one), len(other)) for one, other in seen] == [(32, 32)]


def test_the_token_does_not_show_in_a_dump() -> None:
    token = Token("an-invented-token")
    assert "invented" not in f"{token!r} {vars(token)}"
