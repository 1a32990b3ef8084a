"""Words as the search knows them: folded to small letters without accents, so that both databases find the same."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

__all__ = ["folded", "search_text"]

_WORD = re.compile(r"[^\W_]+")
_LONGEST_WORD = 60
# A case form cannot hold so many different words by hand; PostgreSQL takes at most 1 MB of them.
_MOST_WORDS = 10_000


def folded(text: str) -> list[str]:
    """The words of `text`, in order.

    >>> folded("Vibração at 110 km/h, 225/45R17")
    ['vibracao', 'at', '110', 'km', 'h', '225', '45r17']
    """
    plain = unicodedata.normalize("NFKD", text).casefold()
    bare = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return [word[:_LONGEST_WORD] for word in _WORD.findall(bare)]


def search_text(texts: Iterable[str]) -> str:
    """Every different word of `texts` once, in alphabetical order."""
    found: set[str] = set()
    for text in texts:
        found.update(folded(text))
    return " ".join(sorted(found)[:_MOST_WORDS])
