"""How surprising the evidence is, even under the cause that explains it best.

For each cause the surprise of what was seen (minus log2 of its probability) is compared with what that cause would
expect on average, in units of its spread. If even the best explanation is far off, the honest answer is that none fits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vibdiag.reasoning.belief import Belief

__all__ = ["Surprise", "surprise_of"]

# Under the right cause the figure is roughly a standard normal: beyond 1.6 in 5 %, beyond 2.6 in 0.5 % of cases.
_ODD, _NONE_FITS = 1.6, 2.6


@dataclass(frozen=True)
class Surprise:
    """`bits`: surprise under the best explanation; `expected_bits`: its average; `score`: the excess in spreads."""

    bits: float
    expected_bits: float
    score: float
    verdict: Literal["nothing known", "as expected", "odd", "nothing fits"]


def surprise_of(belief: Belief) -> Surprise:
    """The surprise under the hypothesis that is most probable now."""
    if not belief.evidence:
        return Surprise(0.0, 0.0, 0.0, "nothing known")
    best = int(np.argmax(belief.posterior))
    bits = expected = variance = 0.0
    for row, item in enumerate(belief.evidence):
        table = belief.model.tables[item.sign]
        noise = table.noise(item.word, item.named_wrongly)
        chances = item.trust * table.rows[best] + (1.0 - item.trust) * noise
        positive = chances[chances > 0.0]
        costs = -np.log2(positive)
        mean = float((positive * costs).sum())
        bits += -float(belief.log_columns[row, best]) / math.log(2.0)
        expected += mean
        variance += float((positive * (costs - mean) ** 2).sum())
    score = (bits - expected) / math.sqrt(variance) if variance > 0.0 else 0.0
    verdict: Literal["as expected", "odd", "nothing fits"] = "as expected"
    if score > _NONE_FITS:
        verdict = "nothing fits"
    elif score > _ODD:
        verdict = "odd"
    return Surprise(bits, expected, score, verdict)
