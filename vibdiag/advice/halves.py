"""Which confirmed cases may be studied, and which are only ever scored.

The half follows from the source's address alone, so nobody chooses it, and a case found later falls into its half by
the same rule. Whoever mends the rule base looks at single cases of the half to study only.
"""

from __future__ import annotations

import hashlib
from typing import Literal

__all__ = ["HALVES", "Half", "half_of"]

Half = Literal["study", "score"]
HALVES: tuple[Half, ...] = ("study", "score")


def half_of(source: str) -> Half:
    """The half of a case by its source, such as the address it was found at; spaces around it do not matter.

    >>> half_of("https://example.org/a"), half_of("https://example.org/b")
    ('score', 'study')
    """
    digest = hashlib.sha256(source.strip().encode()).digest()
    return "study" if digest[-1] % 2 else "score"
