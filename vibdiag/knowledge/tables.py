"""From base rates, raises and tables to the belief model: one row of probabilities for each sign and hypothesis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from vibdiag.knowledge.forms import CauseFile, SignText
from vibdiag.reasoning.belief import BeliefModel, Hypothesis, SignTable

__all__ = ["AXLES", "belief_model", "row_of"]

AXLES = ("front", "rear")
# A share of exactly one would let a single wrong answer overrule everything else for ever.
_MOST_RAISED = 0.95


def belief_model(causes: Iterable[CauseFile], signs: Iterable[SignText]) -> BeliefModel:
    """Hypotheses (cause x axle) with their prior, and P(word | hypothesis) for every sign."""
    by_id = {cause.id: cause for cause in causes}
    hypotheses: list[Hypothesis] = []
    weights: list[float] = []
    for cause in by_id.values():
        if cause.where == "axle":
            share = cause.front_share if cause.front_share is not None else 0.5
            hypotheses += [Hypothesis(cause.id, axle) for axle in AXLES]
            weights += [cause.base_rate * share, cause.base_rate * (1.0 - share)]
        else:
            hypotheses.append(Hypothesis(cause.id, None))
            weights.append(cause.base_rate)
    prior = np.array(weights) / sum(weights)
    tables = {sign.id: _table(sign, hypotheses, by_id) for sign in signs}
    return BeliefModel(tuple(hypotheses), prior, tables)


def _table(sign: SignText, hypotheses: list[Hypothesis], causes: Mapping[str, CauseFile]) -> SignTable:
    background = np.array([sign.background[word] for word in sign.words])
    background = background / background.sum()
    rows = np.tile(background, (len(hypotheses), 1))
    for index, hypothesis in enumerate(hypotheses):
        row = row_of(causes[hypothesis.cause], sign, hypothesis.axle)
        if row is not None:
            values = np.array([row[word] for word in sign.words])
            rows[index] = values / values.sum()
    return SignTable(sign.id, tuple(sign.words), background, rows)


def row_of(cause: CauseFile, sign: SignText, axle: str | None) -> Mapping[str, float] | None:
    """P(word | cause, axle) as the cause's file states it; None where it says nothing."""
    for table in cause.tables:
        if table.sign == sign.id:
            return table.any if table.any is not None else (table.front if axle == "front" else table.rear)
    for raised in cause.raised_by:
        if raised.sign == sign.id:
            first, second = sign.words
            chance = min(_MOST_RAISED, sign.background[first] * raised.times)
            return {first: chance, second: 1.0 - chance}
    return None
