"""Why: the weight of evidence for and against a cause, in decibans.

I. J. Good's weight of evidence is 10*log10 of the factor by which a piece of evidence multiplies the odds of a
hypothesis. Which factor that is depends on what else is known; here it is the last step: the odds with all evidence
over the odds with all but this one. It is exact, and it does not depend on the order of the answers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from vibdiag.reasoning.belief import Belief, Evidence

__all__ = ["Weight", "decibans", "weights_for"]

# 20 decibans are odds of 100 to 1; beyond 60 a number says nothing to a person, and an infinite one breaks sums.
_LIMIT = 60.0


@dataclass(frozen=True)
class Weight:
    """One piece of evidence and how much it speaks for (positive) or against (negative) a cause."""

    evidence: Evidence
    decibans: float


def decibans(ratio: float) -> float:
    """10*log10 of a likelihood ratio, kept within +/- 60.

    >>> round(decibans(20), 2)
    13.01
    """
    if ratio <= 0:
        return -_LIMIT
    return max(-_LIMIT, min(_LIMIT, 10.0 * math.log10(ratio)))


def weights_for(belief: Belief, cause: str) -> tuple[Weight, ...]:
    """The weight of every piece of evidence for `cause`, strongest for first; empty when the cause is excluded."""
    group = belief.model.members(cause)
    if cause in belief.excluded or not belief.evidence:
        return ()
    with np.errstate(divide="ignore"):
        log_all = np.log(belief.posterior)
    # Belief without evidence i: take its column out again and normalise.
    without = log_all[None, :] - belief.log_columns
    without -= without.max(axis=1, keepdims=True)
    mass = np.exp(without)
    inside, outside = mass[:, group].sum(axis=1), mass[:, ~group].sum(axis=1)
    now_inside = float(belief.posterior[group].sum())
    now_outside = float(belief.posterior[~group].sum())
    found = []
    for item, before_in, before_out in zip(belief.evidence, inside, outside, strict=True):
        if now_outside <= 0.0 or before_in <= 0.0 or before_out <= 0.0 or now_inside <= 0.0:
            ratio = math.inf if now_outside <= 0.0 < before_out else 0.0
        else:
            ratio = (now_inside / now_outside) / (before_in / before_out)
        found.append(Weight(item, decibans(ratio) if math.isfinite(ratio) else _LIMIT))
    return tuple(sorted(found, key=lambda weight: (-weight.decibans, weight.evidence.sign)))
