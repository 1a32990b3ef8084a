"""The token that opens the door: made here or given by the environment, compared in constant time."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import MutableMapping

from vibdiag.files.errors import InputError

__all__ = ["MINIMUM_LENGTH", "VARIABLE", "Token", "new_token", "token_from"]

VARIABLE = "VIBDIAG_TOKEN"
MINIMUM_LENGTH = 16
# To be read from one screen and typed at another: no letter or digit that looks like a second one.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
_GROUPS, _GROUP_LENGTH = 5, 5


class Token:
    """Holds only a digest, so that the token itself stands in no message and no dump."""

    def __init__(self, text: str) -> None:
        self._digest = _digest(text)

    def matches(self, offered: str) -> bool:
        """Whether `offered` is the token; takes the same time wherever the two differ. Outer blanks do not count."""
        return hmac.compare_digest(self._digest, _digest(offered))


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.strip().encode("utf-8", "surrogatepass")).digest()


def new_token() -> str:
    """A random token: 25 characters of 31 in groups of five, 123 bits.

    >>> len(new_token().replace("-", ""))
    25
    """
    return "-".join("".join(secrets.choice(_ALPHABET) for _ in range(_GROUP_LENGTH)) for _ in range(_GROUPS))


def token_from(environment: MutableMapping[str, str]) -> str | None:
    """Take the token out of the environment, so that no process started later inherits it; None when there is none.

    Raises InputError when it is too short.
    """
    given = environment.pop(VARIABLE, None)
    if given is None:
        return None
    if len(given.strip()) < MINIMUM_LENGTH:
        raise InputError(
            f"has {len(given.strip())} characters; a token needs at least {MINIMUM_LENGTH}, best made at random",
            field=VARIABLE,
        )
    return given.strip()
