"""From a host and a port to a socket, or to one sentence."""

from __future__ import annotations

import socket

import pytest

from vibdiag.files.errors import InputError
from vibdiag.serve.listen import address_to_open, listen, resolve


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "127.1", " 127.0.0.1 "])
def test_this_machine_only(host: str) -> None:
    assert resolve(host, 0).loopback


@pytest.mark.parametrize("host", ["0.0.0.0", "0", "192.0.2.7", "::", "::ffff:127.0.0.1"])
def test_what_others_may_reach(host: str) -> None:
    assert not resolve(host, 0).loopback


@pytest.mark.parametrize("host", ["", "  ", "no such host", "nobody.invalid", "a" * 300, "http://127.0.0.1"])
def test_no_host_is_one_sentence(host: str) -> None:
    with pytest.raises(InputError, match="no address or name of this machine") as refusal:
        resolve(host, 0)
    assert "\n" not in str(refusal.value)


def test_port_0_takes_a_free_one_and_a_taken_one_is_said() -> None:
    with listen(resolve("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        assert port > 0
        with pytest.raises(InputError, match=f"--port: {port} is taken"):
            listen(resolve("127.0.0.1", port))


def test_an_address_of_another_machine_is_said() -> None:
    # 203.0.113.0/24 is a documentation network (RFC 5737): no machine has an address in it.
    with pytest.raises(InputError, match=r"'203\.0\.113\.7' is not an address of this machine"):
        listen(resolve("203.0.113.7", 0))


def test_the_address_to_open() -> None:
    assert address_to_open(resolve("127.0.0.1", 0), 8765) == "http://127.0.0.1:8765/"
    assert address_to_open(resolve("::1", 0), 8765) == "http://[::1]:8765/"
    everywhere = address_to_open(resolve("0.0.0.0", 0), 8765)
    assert "0.0.0.0" not in everywhere
    assert everywhere.endswith(":8765/")


def test_only_what_was_said_listens() -> None:
    with listen(resolve("127.0.0.1", 0)) as server:
        assert server.getsockname()[0] == "127.0.0.1"
        assert server.family is socket.AF_INET
