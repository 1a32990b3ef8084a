"""How words of the case are written for a reader: plain, without hyphens, and an unknown said as such."""

from __future__ import annotations

__all__ = ["said"]


def said(word: str) -> str:
    """`front-left` as front left, `unknown` as not known."""
    return "not known" if word == "unknown" else word.replace("-", " ")
