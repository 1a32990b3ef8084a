"""Exact belief over causes and axles, from base rates and tables.

One hypothesis is one cause at one place (front or rear axle, or the car as a whole). Given a hypothesis, signs are
taken as independent (naive Bayes), so the posterior is exact and cheap: a sum of logarithms. A sign that is not known
adds nothing. A sign whose report may be wrong is a noisy channel: with probability `trust` the report is true,
otherwise it is a word drawn from the sign's background.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

__all__ = ["Belief", "BeliefModel", "Evidence", "Hypothesis", "SignTable", "entropy_bits"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hypothesis:
    """`axle` is front, rear, or None for a cause that belongs to no axle."""

    cause: str
    axle: str | None


@dataclass(frozen=True)
class SignTable:
    """P(word | hypothesis): `rows` has shape (hypotheses, words), each row summing to one."""

    sign: str
    words: tuple[str, ...]
    background: Array
    rows: Array

    def column(self, word: str, *, trust: float = 1.0) -> Array:
        """P(report of `word` | hypothesis), shape (hypotheses,). Raises ValueError for a word the sign has not."""
        index = self.words.index(word)
        if trust >= 1.0:
            return self.rows[:, index]
        mixed: Array = trust * self.rows[:, index] + (1.0 - trust) * self.background[index]
        return mixed


@dataclass(frozen=True)
class Evidence:
    """One known sign; `trust` in (0, 1] is the probability that the report is not just noise."""

    sign: str
    word: str
    trust: float = 1.0


def entropy_bits(probabilities: Array) -> float:
    """Shannon entropy in bits of a distribution; zero probabilities contribute nothing.

    >>> entropy_bits(np.array([0.5, 0.5]))
    1.0
    """
    positive = probabilities[probabilities > 0.0]
    return float(-(positive * np.log2(positive)).sum())


@dataclass(frozen=True)
class BeliefModel:
    """Hypotheses, their prior (shape (hypotheses,), sums to one) and the tables of all signs.

    The hypotheses of one cause stand together. `membership` has shape (causes, hypotheses): one where the hypothesis
    is that cause; `starts` has the first hypothesis of each cause.
    """

    hypotheses: tuple[Hypothesis, ...]
    prior: Array
    tables: Mapping[str, SignTable]
    causes: tuple[str, ...] = field(init=False)
    membership: Array = field(init=False)
    starts: NDArray[np.intp] = field(init=False)

    def __post_init__(self) -> None:
        causes = tuple(dict.fromkeys(h.cause for h in self.hypotheses))
        belongs = np.array([[h.cause == cause for h in self.hypotheses] for cause in causes], dtype=np.float64)
        object.__setattr__(self, "causes", causes)
        object.__setattr__(self, "membership", belongs)
        in_order = [hypothesis.cause for hypothesis in self.hypotheses]
        if [cause for cause, _ in groupby(in_order)] != list(causes):
            raise ValueError("the hypotheses of one cause must stand together")
        object.__setattr__(self, "starts", np.array([in_order.index(cause) for cause in causes]))

    def members(self, cause: str) -> NDArray[np.bool_]:
        """Which hypotheses are `cause`, shape (hypotheses,)."""
        found: NDArray[np.bool_] = self.membership[self.causes.index(cause)] > 0.0
        return found

    def believe(self, evidence: Iterable[Evidence], *, excluded: Iterable[str] = ()) -> Belief:
        """The posterior given `evidence`, with the causes in `excluded` impossible.

        Raises KeyError for an unknown sign, ValueError when everything is excluded.
        """
        items = tuple(sorted(evidence, key=lambda item: item.sign))
        log_prior = np.log(self.prior)
        banned = frozenset(excluded)
        if banned:
            mask = np.array([h.cause in banned for h in self.hypotheses])
            if mask.all():
                raise ValueError("every cause is excluded")
            log_prior = np.where(mask, -np.inf, log_prior)
        columns = np.empty((len(items), len(self.hypotheses)))
        for row, item in enumerate(items):
            columns[row] = np.log(self.tables[item.sign].column(item.word, trust=item.trust))
        log_joint = log_prior + columns.sum(axis=0) if items else log_prior.copy()
        top = float(log_joint.max())
        weights = np.exp(log_joint - top)
        return Belief(self, items, weights / weights.sum(), columns, top + math.log(float(weights.sum())), banned)


@dataclass(frozen=True)
class Belief:
    """A posterior, with what it was made from.

    `posterior` has shape (hypotheses,); `log_columns` is log P(evidence | hypothesis), (evidence, hypotheses);
    `log_evidence` is the natural logarithm of the probability of all the evidence.
    """

    model: BeliefModel
    evidence: tuple[Evidence, ...]
    posterior: Array
    log_columns: Array
    log_evidence: float
    excluded: frozenset[str]

    def of_cause(self, cause: str) -> float:
        return float(self.posterior[self.model.members(cause)].sum())

    def by_cause(self) -> dict[str, float]:
        """Probability of each cause over all its places, most probable first."""
        summed = dict(zip(self.model.causes, (self.model.membership @ self.posterior).tolist(), strict=True))
        return dict(sorted(summed.items(), key=lambda item: (-item[1], item[0])))

    def of_axle(self, cause: str) -> dict[str, float]:
        """How the probability of `cause` splits between its axles; empty for a cause of the whole car."""
        return {
            h.axle: float(p)
            for h, p in zip(self.model.hypotheses, self.posterior, strict=True)
            if h.cause == cause and h.axle is not None
        }

    def entropy_bits(self) -> float:
        return entropy_bits(self.posterior)

    def with_more(self, more: Sequence[Evidence]) -> Belief:
        """The belief after `more` evidence; evidence on a sign already known replaces what was known."""
        new = {item.sign: item for item in self.evidence} | {item.sign: item for item in more}
        return self.model.believe(new.values(), excluded=self.excluded)
