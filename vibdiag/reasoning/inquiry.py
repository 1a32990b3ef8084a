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
    """Expected entropy drop, in bits: over causes and axle together (`all_bits`), and over the causes alone."""

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


def _foretold(belief: Belief, sign: str) -> Array:
    """P(hypothesis, true word of `sign`) as believed now, shape (hypotheses, words).

    A sign that was reported with doubt can still be checked: then the report counts for the word it names, too.
    """
    table = belief.model.tables[sign]
    reports = [item for item in belief.evidence if item.sign == sign]
    if not reports:
        return belief.posterior[:, None] * table.rows
    others = [item for item in belief.evidence if item.sign != sign]
    joint = belief.model.believe(others, excluded=belief.excluded).posterior[:, None] * table.rows
    for item in reports:
        said = table.words.index(item.word)
        channel = np.full(len(table.words), (1.0 - item.trust) * table.noise(item.word, item.named_wrongly)[said])
        channel[said] += item.trust
        joint = joint * channel
    whole: Array = joint / joint.sum()
    return whole


def gain_of(belief: Belief, sign: str) -> Gain:
    """What learning `sign` for certain is expected to tell; never negative."""
    joint = _foretold(belief, sign)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Gain(_information(joint), _information(belief.model.partition @ joint))


def prospects(belief: Belief, sign: str) -> tuple[Prospect, ...]:
    """Every outcome of `sign` with its probability now and the belief after it."""
    chances = _foretold(belief, sign).sum(axis=0)
    return tuple(
        Prospect(word, float(chance), belief.with_more([Evidence(sign, word)]))
        for word, chance in zip(belief.model.tables[sign].words, chances, strict=True)
    )
