"""Strengths felt at held speeds, 0 to 10: the first line of a step's words, so that a person can read it in the file.

The case form's `shake-level` is for instruments, in m/s2; what a passenger feels has no unit and stays with the words.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from vibdiag.case.vocabulary import SpeedUnit
from vibdiag.units import to_kmh

__all__ = ["STRONGEST", "Held", "read_words", "write_words"]

STRONGEST = 10
_HEAD = "Strength 0 to 10: "
_ENTRY = re.compile(r"(\d+(?:\.\d+)?) (km/h|mph) (\d|10)")


@dataclass(frozen=True)
class Held:
    """A speed that is held, in its own unit."""

    speed: float
    unit: SpeedUnit

    def __str__(self) -> str:
        return f"{self.speed:g} {self.unit}"

    @property
    def kmh(self) -> float:
        """The speed in km/h, to put speeds in order."""
        return to_kmh(self.speed, self.unit)


def read_words(words: str | None) -> tuple[dict[Held, int], str]:
    """The strengths in a step's words, slowest speed first, and the rest of the words."""
    first, _, rest = (words or "").partition("\n")
    entries = first.removeprefix(_HEAD).removesuffix(".").split(", ")
    found = [_ENTRY.fullmatch(entry) for entry in entries]
    if not first.startswith(_HEAD) or not all(found):
        return {}, words or ""
    strengths = {_held(match[1], match[2]): int(match[3]) for match in found if match}
    return _in_order(strengths), rest


def _held(speed: str, unit: str) -> Held:
    return Held(float(speed), "mph" if unit == "mph" else "km/h")


def _in_order(strengths: Mapping[Held, int]) -> dict[Held, int]:
    return dict(sorted(strengths.items(), key=lambda item: item[0].kmh))


def write_words(strengths: Mapping[Held, int], rest: str) -> str | None:
    """Words that read back to `strengths` and `rest`; None when there is nothing to say."""
    if not strengths:
        return rest or None
    line = _HEAD + ", ".join(f"{held} {strength}" for held, strength in _in_order(strengths).items()) + "."
    return f"{line}\n{rest}" if rest else line
