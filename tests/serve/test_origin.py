"""Which Host and Origin headers are ours; the cases of DNS rebinding among them."""

from __future__ import annotations

import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.serve.origin import door_for, from_own_page

LOCAL = door_for("127.0.0.1", loopback=True)
OPEN = door_for("0.0.0.0", loopback=False, more_names=["Desk.Shop.Example"])


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1:8765", "127.0.0.1", "localhost:8765", "LOCALHOST:1", "localhost.", "[::1]:8765", "127.5.5.5:8765"],
)
def test_on_this_machine_its_loopback_names_are_ours(host: str) -> None:
    assert LOCAL.answers_to(host)


@pytest.mark.parametrize(
    "host",
    [
        None,
        "",
        "attacker.example:8765",
        "localhost.attacker.example",
        "127.0.0.1.attacker.example",
        "192.0.2.7:8765",
        "0.0.0.0:8765",
        "[::]:8765",
        "user@localhost",
        "localhost:8765/x",
        "localhost:8765, attacker.example",
        "localhost:123456",
        "localhost\r\nX: y",
        " localhost",
        "[::1",
        "2130706433",
        "127.1",
    ],
)
def test_on_this_machine_every_other_name_is_foreign(host: str | None) -> None:
    assert not LOCAL.answers_to(host)


@pytest.mark.parametrize(
    "host", ["192.0.2.7:8765", "[2001:db8::1]:8765", "localhost", "desk.shop.example", socket.gethostname()]
)
def test_in_the_network_addresses_and_own_names_are_ours(host: str) -> None:
    assert OPEN.answers_to(host)


@pytest.mark.parametrize("host", ["attacker.example", "desk.shop.example.attacker.example", "shop.example", ""])
def test_in_the_network_foreign_names_stay_foreign(host: str) -> None:
    assert not OPEN.answers_to(host)


@pytest.mark.parametrize("origin", ["http://127.0.0.1:8765", "HTTP://127.0.0.1:8765", "https://127.0.0.1:8765"])
def test_our_own_page(origin: str) -> None:
    assert from_own_page(origin, "127.0.0.1:8765")


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "",
        "null",
        "http://127.0.0.1:8766",
        "http://127.0.0.1",
        "http://localhost:8765",
        "http://attacker.example",
        "http://127.0.0.1:8765.attacker.example",
        "http://attacker.example#127.0.0.1:8765",
        "file://127.0.0.1:8765",
        "127.0.0.1:8765",
    ],
)
def test_a_page_of_somebody_else(origin: str | None) -> None:
    assert not from_own_page(origin, "127.0.0.1:8765")


@given(st.text(max_size=60))
def test_no_header_makes_the_check_fail(text: str) -> None:
    """What is taken for ours is so harmless that it may stand in our own headers."""
    assert from_own_page(text, text) is False
    if OPEN.answers_to(text):
        assert all(letter.isalnum() or letter in ".:-_[]" for letter in text)
