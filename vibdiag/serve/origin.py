"""Is a request meant for us, and does it come from our own page?

A page of somebody else can make a browser send requests here, and can let its own name point at this machine's
address (DNS rebinding), also at 127.0.0.1. The Host header then carries the foreign name, the Origin header the
foreign page.
"""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Door", "door_for", "from_own_page"]

_HOST = re.compile(r"(?P<name>\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:\d{1,5})?")


@dataclass(frozen=True)
class Door:
    """Under which names this server may be called: `names` (lower case), and addresses.

    `any_address`: every numeric address; otherwise only loopback. A number cannot be rebound, a name can. The port is
    not looked at, so that a forwarded port works; `from_own_page` compares it.
    """

    names: frozenset[str]
    any_address: bool

    def answers_to(self, host: str | None) -> bool:
        """Whether a Host header names us."""
        found = _HOST.fullmatch(host or "")
        if found is None:
            return False
        name = found["name"].strip("[]").rstrip(".").lower()
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return name in self.names
        return self.any_address or address.is_loopback


def door_for(host: str, *, loopback: bool, more_names: Iterable[str] = ()) -> Door:
    """The door of a server that listens at `host`; with more than loopback also under the machine's own names."""
    names = {"localhost", host, *more_names}
    if not loopback:
        names |= {socket.gethostname(), f"{socket.gethostname()}.local", socket.getfqdn()}
    return Door(frozenset(name.rstrip(".").lower() for name in names if name), any_address=not loopback)


def from_own_page(origin: str | None, host: str | None) -> bool:
    """Whether an Origin header is the very host and port that the request was sent to."""
    if origin is None or host is None:
        return False
    return origin.lower() in (f"http://{host.lower()}", f"https://{host.lower()}")
