"""Exact belief over causes and axles, from base rates and tables.

One hypothesis is one cause, or two at once, at one place (front or rear axle, or the car as a whole). Given a
hypothesis, signs are taken as independent (naive Bayes), so the posterior is exact and cheap: a sum of logarithms. A
sign that is not known adds nothing. A sign whose report may be wrong is a noisy channel: with probability `trust` the
report is true, otherwise it is a word drawn from the sign's background, or from what wrong reports of its kind name.

In the ranking a pair counts half for each of its two causes, so that the ranking sums to one; the probability that a
cause is at work, alone or with another, is apart (`of_cause`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Belief", "BeliefModel", "Evidence", "Hypothesis", "SignTable", "entropy_bits"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hypothesis:
    """`axle` is front, rear, or None for what belongs to no axle; `second` is the other cause where two are at work;
    `variant` the way in which the cause shows itself, where it has several."""

    cause: str
    axle: str | None
    second: str | None = None
    variant: str | None = None

    @property
    def causes(self) -> tuple[str, ...]:
        return (self.cause,) if self.second is None else (self.cause, self.second)


@dataclass(frozen=True)
class SignTable:
    """P(word | hypothesis): `rows` has shape (hypotheses, words), each row summing to one."""

    sign: str
    words: tuple[str, ...]
    background: Array
    rows: Array

    def noise(self, word: str, named_wrongly: float = 0.0) -> Array:
        """P(word | the report is not true), shape (words,): the background, but `word` at least `named_wrongly`.

        What the background gives the other words shrinks in proportion. Raises ValueError for a word the sign has not.
        """
        index = self.words.index(word)
        usual = float(self.background[index])
        if named_wrongly <= usual:
            return self.background
        noise: Array = self.background * ((1.0 - named_wrongly) / (1.0 - usual))
        noise[index] = named_wrongly
        return noise

    def column(self, word: str, *, trust: float = 1.0, named_wrongly: float = 0.0) -> Array:
        """P(report of `word` | hypothesis), shape (hypotheses,). Raises ValueError for a word the sign has not."""
        index = self.words.index(word)
        if trust >= 1.0:
            return self.rows[:, index]
        mixed: Array = trust * self.rows[:, index] + (1.0 - trust) * self.noise(word, named_wrongly)[index]
        return mixed


@dataclass(frozen=True)
class Evidence:
    """One known sign; `trust` in (0, 1] is the probability that the report is not just noise.

    `named_wrongly` in [0, 1): of reports of this kind that are noise, how many say this word, at least.
    """

    sign: str
    word: str
    trust: float = 1.0
    named_wrongly: float = 0.0

    def column(self, table: SignTable) -> Array:
        """P(this report | hypothesis), shape (hypotheses,)."""
        return table.column(self.word, trust=self.trust, named_wrongly=self.named_wrongly)


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

    `membership` has shape (causes, hypotheses): one where the cause is at work; `shares` is the same with each column
    summing to one. `explanations` are the single causes
    and the pairs, whatever the axle; `partition` has shape (explanations, hypotheses), and each column sums to one.
    Raises ValueError when a pair names a cause that is no hypothesis by itself.
    """

    hypotheses: tuple[Hypothesis, ...]
    prior: Array
    tables: Mapping[str, SignTable]
    causes: tuple[str, ...] = field(init=False)
    explanations: tuple[tuple[str, ...], ...] = field(init=False)
    membership: Array = field(init=False)
    shares: Array = field(init=False)
    partition: Array = field(init=False)
    log_prior: Array = field(init=False)

    def __post_init__(self) -> None:
        causes = tuple(dict.fromkeys(h.cause for h in self.hypotheses if h.second is None))
        explanations = tuple(dict.fromkeys(h.causes for h in self.hypotheses))
        unknown = {name for pair in explanations for name in pair} - set(causes)
        if unknown:
            raise ValueError(f"a pair names {sorted(unknown)[0]}, which is no hypothesis by itself")
        at_work = [[cause in h.causes for h in self.hypotheses] for cause in causes]
        belongs = [[h.causes == explanation for h in self.hypotheses] for explanation in explanations]
        object.__setattr__(self, "causes", causes)
        object.__setattr__(self, "explanations", explanations)
        membership = np.array(at_work, dtype=np.float64)
        object.__setattr__(self, "membership", membership)
        object.__setattr__(self, "shares", membership / membership.sum(axis=0))
        object.__setattr__(self, "partition", np.array(belongs, dtype=np.float64))
        object.__setattr__(self, "log_prior", np.log(self.prior))

    def members(self, cause: str) -> NDArray[np.bool_]:
        """In which hypotheses `cause` is at work, shape (hypotheses,)."""
        found: NDArray[np.bool_] = self.membership[self.causes.index(cause)] > 0.0
        return found

    def banned(self, excluded: Iterable[str]) -> NDArray[np.bool_]:
        """Which hypotheses have a cause in `excluded`, shape (hypotheses,)."""
        names = frozenset(excluded)
        return np.array([not names.isdisjoint(h.causes) for h in self.hypotheses], dtype=np.bool_)

    def believe(self, evidence: Iterable[Evidence], *, excluded: Iterable[str] = ()) -> Belief:
        """The posterior given `evidence`, with the causes in `excluded` impossible.

        Raises KeyError for an unknown sign, ValueError when everything is excluded.
        """
        items = tuple(sorted(evidence, key=lambda item: item.sign))
        log_prior = self.log_prior
        banned = frozenset(excluded)
        if banned:
            mask = self.banned(banned)
            if mask.all():
                raise ValueError("every cause is excluded")
            log_prior = np.where(mask, -np.inf, log_prior)
        columns = np.empty((len(items), len(self.hypotheses)))
        for row, item in enumerate(items):
            columns[row] = np.log(item.column(self.tables[item.sign]))
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
        """Probability that `cause` is at work, alone or with another."""
        return float(self.posterior[self.model.members(cause)].sum())

    def by_cause(self) -> dict[str, float]:
        """Each cause's share of the belief, most probable first; a pair counts half for each. They sum to one."""
        summed = dict(zip(self.model.causes, (self.model.shares @ self.posterior).tolist(), strict=True))
        return dict(sorted(summed.items(), key=lambda item: (-item[1], item[0])))

    def by_explanation(self) -> dict[tuple[str, ...], float]:
        """Probability of each single cause alone and of each pair, most probable first; they sum to one."""
        summed = dict(zip(self.model.explanations, (self.model.partition @ self.posterior).tolist(), strict=True))
        return dict(sorted(summed.items(), key=lambda item: (-item[1], item[0])))

    def of_axle(self, cause: str) -> dict[str, float]:
        """How the share of `cause` splits between its axles; empty for a cause of the whole car."""
        split: dict[str, float] = {}
        if any(one.cause == cause and one.second is None and one.axle is None for one in self.model.hypotheses):
            return split
        for hypothesis, probability in zip(self.model.hypotheses, self.posterior, strict=True):
            if cause in hypothesis.causes and hypothesis.axle is not None:
                share = float(probability) / len(hypothesis.causes)
                split[hypothesis.axle] = split.get(hypothesis.axle, 0.0) + share
        return split

    def entropy_bits(self) -> float:
        return entropy_bits(self.posterior)

    def with_more(self, more: Sequence[Evidence]) -> Belief:
        """The belief after `more` evidence; evidence on a sign already known replaces what was known."""
        new = {item.sign: item for item in self.evidence} | {item.sign: item for item in more}
        return self.model.believe(new.values(), excluded=self.excluded)
