"""From base rates, raises and tables to the belief model: one row of probabilities for each sign and hypothesis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from vibdiag.knowledge.forms import CauseFile, PairFile, SignText
from vibdiag.knowledge.together import Row, either, mixed, quiet_leak
from vibdiag.reasoning.belief import BeliefModel, Hypothesis, SignTable

__all__ = ["AXLES", "belief_model", "row_of", "sign_table"]

AXLES = ("front", "rear")
# A share of exactly one would let a single wrong answer overrule everything else for ever.
_MOST_RAISED = 0.95


def belief_model(causes: Iterable[CauseFile], signs: Iterable[SignText], pairs: PairFile | None = None) -> BeliefModel:
    """Hypotheses (cause x axle, pairs of causes on one axle), their prior, and P(word | hypothesis) of every sign."""
    by_id = {cause.id: cause for cause in causes}
    hypotheses: list[Hypothesis] = []
    weights: list[float] = []
    for cause in by_id.values():
        for axle, share in _places(cause):
            for variant, part in _variants(cause):
                hypotheses.append(Hypothesis(cause.id, axle, variant=variant))
                weights.append(cause.base_rate * share * part)
    for pair in pairs.pairs if pairs is not None else ():
        first, second = pair.causes
        for axle, share in _places_of_both(by_id[first], by_id[second]):
            hypotheses.append(Hypothesis(first, axle, second))
            weights.append(pair.base_rate * share)
    prior = np.array(weights) / sum(weights)
    share = pairs.amplified_share if pairs is not None else 0.5
    tables = {sign.id: sign_table(sign, hypotheses, by_id, share) for sign in signs}
    return BeliefModel(tuple(hypotheses), prior, tables)


def _places(cause: CauseFile) -> tuple[tuple[str | None, float], ...]:
    """Where a cause can be, and how often; the car as a whole is None."""
    if cause.front_share is None:
        return ((None, 1.0),)
    return (("front", cause.front_share), ("rear", 1.0 - cause.front_share))


def _variants(cause: CauseFile) -> tuple[tuple[str | None, float], ...]:
    """The kinds of a cause and how often each is met; None where it has but one."""
    return tuple((variant.id, variant.share) for variant in cause.variants) or ((None, 1.0),)


def _places_of_both(first: CauseFile, second: CauseFile) -> tuple[tuple[str | None, float], ...]:
    """Two causes at once are looked for on one axle; a cause of the whole car goes with either."""
    if first.front_share is None or second.front_share is None:
        return _places(second if first.front_share is None else first)
    front = first.front_share * second.front_share
    rear = (1.0 - first.front_share) * (1.0 - second.front_share)
    return (("front", front / (front + rear)), ("rear", rear / (front + rear)))


def sign_table(
    sign: SignText, hypotheses: Sequence[Hypothesis], causes: Mapping[str, CauseFile], amplified_share: float
) -> SignTable:
    """P(word | hypothesis) of one sign, from what the causes say of it and its background."""
    background = np.array([sign.background[word] for word in sign.words])
    background = background / background.sum()
    own: dict[tuple[str, str | None, str | None], Row | None] = {}

    def said(cause: str, axle: str | None, variant: str | None) -> Row | None:
        """What the cause says of the sign there, as an array in the order of the words."""
        key = (cause, axle if causes[cause].front_share is not None else None, variant)
        if key not in own:
            own[key] = _said(causes[cause], sign, key[1], variant)
        return own[key]

    rows = np.tile(background, (len(hypotheses), 1))
    pairs: list[tuple[int, Row, Row]] = []
    for index, hypothesis in enumerate(hypotheses):
        told = [
            (cause, row)
            for cause in hypothesis.causes
            if (row := said(cause, hypothesis.axle, hypothesis.variant)) is not None
        ]
        if len(told) == 1:
            rows[index] = told[0][1]
        elif told:
            # The one that only lets the other be felt more comes second.
            (_, first), (_, second) = sorted(told, key=lambda item: causes[item[0]].amplifier)
            pairs.append((index, first, second))
    quiet = None if sign.quiet is None else sign.words.index(sign.quiet)
    leak = None if quiet is None else quiet_leak([row for row in own.values() if row is not None], quiet)
    for index, first, second in pairs:
        amplifiers = sum(causes[cause].amplifier for cause in hypotheses[index].causes)
        share = amplified_share if amplifiers == 1 else 0.5
        rows[index] = (
            mixed(first, second, share) if quiet is None or leak is None else either(first, second, quiet, leak)
        )
    return SignTable(sign.id, tuple(sign.words), background, rows)


def _said(cause: CauseFile, sign: SignText, axle: str | None, variant: str | None) -> Row | None:
    """The row as an array in the order of the words; of a cause with several variants, in a pair, their mixture."""
    if variant is None and any(table.sign == sign.id for each in cause.variants for table in each.tables):
        mixture = np.zeros(len(sign.words))
        for each, share in _variants(cause):
            own = _said(cause, sign, axle, each)
            mixture += share * (np.array([sign.background[word] for word in sign.words]) if own is None else own)
        return mixture / mixture.sum()  # type: ignore[no-any-return]
    stated = row_of(cause, sign, axle, variant)
    if stated is None:
        return None
    values = np.array([stated[word] for word in sign.words])
    row: Row = values / values.sum()
    return row


def row_of(
    cause: CauseFile, sign: SignText, axle: str | None, variant: str | None = None
) -> Mapping[str, float] | None:
    """P(word | cause, axle, variant) as the cause's file states it; None where it says nothing."""
    special = [table for each in cause.variants if each.id == variant for table in each.tables]
    for table in (*special, *cause.tables):
        if table.sign == sign.id:
            return table.any if table.any is not None else (table.front if axle == "front" else table.rear)
    for raised in cause.raised_by:
        if raised.sign == sign.id:
            first, second = sign.words
            chance = min(_MOST_RAISED, sign.background[first] * raised.times)
            return {first: chance, second: 1.0 - chance}
    return None
