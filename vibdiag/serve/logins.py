"""Who is logged in, and how long somebody who guesses has to wait."""

from __future__ import annotations

import hashlib
import ipaddress
import math
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable

__all__ = ["LOGIN_HOURS", "Logins", "Slowdown"]

LOGIN_HOURS = 12.0
_MOST_LOGINS = 1000
_MOST_ADDRESSES = 1000
_LONGEST_WAIT_S = 60.0
# So long after the last failure an address starts afresh.
_FORGET_S = 15 * 60.0


class Logins:
    """Opaque random identities of those who gave the token; kept in memory only, as digests, for `LOGIN_HOURS`."""

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._until: OrderedDict[bytes, float] = OrderedDict()

    def open(self) -> str:
        """A new identity for a cookie: 256 random bits."""
        identity = secrets.token_urlsafe(32)
        self._until[_digest(identity)] = self._clock() + LOGIN_HOURS * 3600
        while len(self._until) > _MOST_LOGINS:
            self._until.popitem(last=False)
        return identity

    def knows(self, identity: str | None) -> bool:
        """Whether `identity` was given out here and has not run out."""
        return identity is not None and self._clock() < self._until.get(_digest(identity), -math.inf)


class Slowdown:
    """After the n-th failure of an address its next try is looked at only after 2^(n-1) seconds, a minute at most."""

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._failures: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait_s(self, address: str) -> float:
        """Seconds until the next try from `address` will be looked at; 0 when it may try now."""
        count, last = self._failures.get(_neighbourhood(address), (0, 0.0))
        return max(0.0, last + _wait_after(count) - self._clock()) if count else 0.0

    def failed(self, address: str) -> None:
        """Count a failure."""
        key, now = _neighbourhood(address), self._clock()
        count, last = self._failures.pop(key, (0, now))
        self._failures[key] = (1 if now - last > _FORGET_S else count + 1, now)
        while len(self._failures) > _MOST_ADDRESSES:
            self._failures.popitem(last=False)

    def succeeded(self, address: str) -> None:
        """Forget the failures of `address`."""
        self._failures.pop(_neighbourhood(address), None)


def _wait_after(count: int) -> float:
    return min(_LONGEST_WAIT_S, 2.0 ** min(count - 1, 10))


def _digest(identity: str) -> bytes:
    return hashlib.sha256(identity.encode("utf-8", "surrogatepass")).digest()


def _neighbourhood(address: str) -> str:
    """The address, or for IPv6 its /64: that is what one machine may choose from freely."""
    try:
        parsed = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return address
    return str(ipaddress.ip_network((parsed, 64), strict=False)) if parsed.version == 6 else address
