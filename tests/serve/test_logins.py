"""Logins run out; who guesses waits ever longer."""

from __future__ import annotations

import pytest

from vibdiag.serve.logins import LOGIN_HOURS, Logins, Slowdown


class Clock:
    """Time that passes when it is told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_a_login_is_known_until_it_runs_out(clock: Clock) -> None:
    logins = Logins(clock=clock)
    identity = logins.open()
    assert logins.knows(identity)
    clock.now += LOGIN_HOURS * 3600 - 1
    assert logins.knows(identity)
    clock.now += 2
    assert not logins.knows(identity)


@pytest.mark.parametrize("foreign", [None, "", "made up", "\ud800"])
def test_what_was_not_given_out_is_unknown(clock: Clock, foreign: str | None) -> None:
    logins = Logins(clock=clock)
    logins.open()
    assert not logins.knows(foreign)


def test_identities_differ_and_are_not_kept_readable(clock: Clock) -> None:
    logins = Logins(clock=clock)
    identities = {logins.open() for _ in range(100)}
    assert len(identities) == 100
    assert all(len(identity) >= 43 for identity in identities)
    assert not any(identity in str(vars(logins)) for identity in identities)


def test_a_flood_of_logins_drops_the_oldest(clock: Clock) -> None:
    logins = Logins(clock=clock)
    first = logins.open()
    last = [logins.open() for _ in range(1000)][-1]
    assert not logins.knows(first)
    assert logins.knows(last)


def test_the_wait_doubles_up_to_a_minute(clock: Clock) -> None:
    slowdown, waits = Slowdown(clock=clock), []
    for _ in range(9):
        assert slowdown.wait_s("192.0.2.7") == 0
        slowdown.failed("192.0.2.7")
        waits.append(slowdown.wait_s("192.0.2.7"))
        clock.now += waits[-1]
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60]


def test_a_day_of_guessing_is_less_than_1500_tries(clock: Clock) -> None:
    slowdown, tries, end = Slowdown(clock=clock), 0, clock.now + 86400
    while clock.now < end:
        slowdown.failed("192.0.2.7")
        tries += 1
        clock.now += slowdown.wait_s("192.0.2.7")
    assert tries < 1500


def test_others_do_not_wait_and_the_right_token_ends_it(clock: Clock) -> None:
    slowdown = Slowdown(clock=clock)
    slowdown.failed("192.0.2.7")
    assert slowdown.wait_s("192.0.2.8") == 0
    slowdown.succeeded("192.0.2.7")
    assert slowdown.wait_s("192.0.2.7") == 0


def test_after_a_quarter_of_an_hour_it_starts_afresh(clock: Clock) -> None:
    slowdown = Slowdown(clock=clock)
    for _ in range(10):
        slowdown.failed("192.0.2.7")
    clock.now += 15 * 60 + 1
    slowdown.failed("192.0.2.7")
    assert slowdown.wait_s("192.0.2.7") == 1


def test_one_ipv6_network_counts_as_one(clock: Clock) -> None:
    slowdown = Slowdown(clock=clock)
    slowdown.failed("2001:db8:0:1::1")
    assert slowdown.wait_s("2001:db8:0:1:ffff::2") == 1
    assert slowdown.wait_s("fe80::1%eth0") == 0
    assert slowdown.wait_s("2001:db8:0:2::1") == 0


def test_many_addresses_do_not_fill_the_memory(clock: Clock) -> None:
    slowdown = Slowdown(clock=clock)
    for number in range(3000):
        slowdown.failed(f"10.0.{number // 256}.{number % 256}")
    assert len(slowdown._failures) == 1000
