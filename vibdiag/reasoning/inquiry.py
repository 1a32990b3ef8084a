"""What to ask or check next: the expected drop of uncertainty, per minute.

The gain of a step is the mutual information between its outcome and the hypothesis, in bits: the entropy now minus the
expected entropy after (de Kleer and Williams 1987 choose probes so). Gain per minute is a greedy rule: it is not
optimal, it is good, and it can be explained.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibdiag.reasoning.belief import Belief, Evidence

__all__ = ["Gain", "Prospect", "gain_of", "prospects"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Prospect:
    """One possible outcome of a step: how probable it is and the belief it would leave."""

    word: str
    probability: float
    after: Belief


@dataclass(frozen=True)
class Gain:
    """Expected entropy drop, in bits: over cause and axle together (`all_bits`), and over the cause alone."""

    all_bits: float
    cause_bits: float

    def worth(self, axle_worth: float) -> float:
        """What the step is worth when knowing the axle counts only `axle_worth` (0 to 1) of knowing the cause."""
        return self.cause_bits + axle_worth * (self.all_bits - self.cause_bits)


def _information(joint: Array) -> float:
    """Mutual information, in bits, of a joint distribution of shape (states, words)."""
    state, word = joint.sum(axis=1, keepdims=True), joint.sum(axis=0, keepdims=True)
    positive = joint > 0.0
    return max(0.0, float((joint[positive] * np.log2((joint / (state * word))[positive])).sum()))


def gain_of(belief: Belief, sign: str) -> Gain:
    """What learning `sign` is expected to tell; never negative."""
    joint = belief.posterior[:, None] * belief.model.tables[sign].rows
    with np.errstate(divide="ignore", invalid="ignore"):
        return Gain(_information(joint), _information(belief.model.membership @ joint))


def prospects(belief: Belief, sign: str) -> tuple[Prospect, ...]:
    """Every outcome of `sign` with its probability now and the belief after it."""
    table = belief.model.tables[sign]
    chance = belief.posterior @ table.rows
    return tuple(
        Prospect(word, float(p), belief.with_more([Evidence(sign, word)]))
        for word, p in zip(table.words, chance, strict=True)
    )
