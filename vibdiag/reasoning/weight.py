"""Why: the weight of evidence for and against a cause, in decibans.

I. J. Good's weight of evidence is 10*log10 of the factor by which a piece of evidence multiplies the odds of a
hypothesis. Which factor that is depends on what else is known; here it is the last step: the odds with all evidence
over the odds with all but this one. It is exact, and it does not depend on the order of the answers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibdiag.reasoning.belief import Belief, Evidence

__all__ = ["Weight", "decibans", "weight_matrix", "weights_for"]

Array = NDArray[np.float64]

# 20 decibans are odds of 100 to 1; beyond 60 a number says nothing to a person, and an infinite one breaks sums.
_LIMIT = 60.0
# Below this a sum of numbers has lost digits to underflow.
_TINY = 1e-290


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


def weight_matrix(belief: Belief) -> Array:
    """Decibans of every piece of evidence for every cause, shape (evidence, causes), kept within +/- 60.

    In logarithms throughout: a posterior may be so small that it is zero as a number, and its odds are still odds.
    """
    model = belief.model
    log_all = np.where(model.banned(belief.excluded), -np.inf, model.log_prior) + belief.log_columns.sum(axis=0)
    odds = _log_odds(np.vstack([log_all, log_all - belief.log_columns]), model.membership)
    decibans_: Array = np.clip((odds[0] - odds[1:]) * (10.0 / math.log(10.0)), -_LIMIT, _LIMIT)
    return decibans_


def weights_for(belief: Belief, cause: str, matrix: Array | None = None) -> tuple[Weight, ...]:
    """The weight of every piece of evidence for `cause`, strongest for first; empty when the cause is excluded.

    `matrix` is `weight_matrix(belief)`, for a caller that asks for several causes.
    """
    if cause in belief.excluded or not belief.evidence:
        return ()
    column = (weight_matrix(belief) if matrix is None else matrix)[:, belief.model.causes.index(cause)]
    found = [Weight(item, value) for item, value in zip(belief.evidence, column.tolist(), strict=True)]
    return tuple(sorted(found, key=lambda weight: (-weight.decibans, weight.evidence.sign)))


def _log_odds(log_joint: Array, membership: Array) -> Array:
    """Natural logarithm of the odds that each cause is at work; shape (rows, causes).

    `log_joint` has shape (rows, hypotheses), `membership` (causes, hypotheses). What is outside is summed, not found by
    subtraction, so that nothing is lost. Where all others are excluded there are no odds to move; they are taken as
    even.
    """
    inside, outside = _log_sum(log_joint, membership), _log_sum(log_joint, 1.0 - membership)
    with np.errstate(invalid="ignore"):
        return np.where(np.isneginf(outside) | np.isneginf(inside), 0.0, inside - outside)


def _log_sum(log_joint: Array, chosen: Array) -> Array:
    """log of the sum of exp(log_joint) over the chosen hypotheses, shape (rows, causes); -inf for an empty sum."""
    top = log_joint.max(axis=1, keepdims=True)
    summed = np.exp(log_joint - top) @ chosen.T
    with np.errstate(divide="ignore"):
        found: Array = np.log(summed) + top
    # Smaller beside the largest than a number can be: those few again, each beside its own largest.
    for row, cause in zip(*np.nonzero(summed < _TINY), strict=True):
        found[row, cause] = np.logaddexp.reduce(log_joint[row, chosen[cause] > 0.0], initial=-np.inf)
    return found
