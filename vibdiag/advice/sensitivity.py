"""On which numbers of the tables the ranking hangs: each is halved and doubled, and the first causes looked at again.

A number is P(word | cause) of one sign; its row is made to sum to one again. Only numbers that take part in a case are
tried: those of the first two causes and of the confirmed one, for the words that were seen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import CauseFile, RaisedBy, Row, SignText, TableText
from vibdiag.knowledge.tables import sign_table
from vibdiag.reasoning.belief import Belief

__all__ = ["FACTOR", "Sensitive", "sensitivity"]

FACTOR = 2.0


@dataclass(frozen=True)
class Sensitive:
    """One number: in how many cases the first cause is another when it is halved or doubled, and how many more first
    causes are then right (negative: fewer)."""

    cause: str
    sign: str
    word: str
    cases: int
    halved_changes: int
    halved_gains: int
    doubled_changes: int
    doubled_gains: int

    @property
    def changes(self) -> int:
        return max(self.halved_changes, self.doubled_changes)


@dataclass(frozen=True)
class _Scored:
    belief: Belief
    truth: str
    first: str


def sensitivity(cases: Iterable[Case], adviser: Adviser) -> tuple[Sensitive, ...]:
    """Every number whose halving or doubling changes a first cause, the one that changes most first."""
    base = adviser.base
    scored: list[_Scored] = []
    users: dict[tuple[str, str, str], list[_Scored]] = {}
    for case in cases:
        if case.outcome is None:
            continue
        _, belief = adviser.believe(case.model_copy(update={"outcome": None}))
        ranked = list(belief.by_cause())
        one = _Scored(belief, case.outcome.confirmed_cause, ranked[0])
        scored.append(one)
        for item in belief.evidence:
            for cause in {*ranked[:2], one.truth}:
                users.setdefault((cause, item.sign, item.word), []).append(one)
    found = []
    for (cause, sign, word), mine in sorted(users.items(), key=lambda item: item[0]):
        if not _speaks(base.causes[cause], sign):
            continue
        halved = _tried(base, cause, sign, word, 1.0 / FACTOR, mine)
        doubled = _tried(base, cause, sign, word, FACTOR, mine)
        if halved[0] or doubled[0]:
            found.append(Sensitive(cause, sign, word, len(mine), *halved, *doubled))
    return tuple(sorted(found, key=lambda one: (-one.changes, one.cause, one.sign, one.word)))


def _speaks(cause: CauseFile, sign: str) -> bool:
    tables = [*cause.tables, *(table for variant in cause.variants for table in variant.tables)]
    return any(table.sign == sign for table in tables) or any(raised.sign == sign for raised in cause.raised_by)


def _tried(
    base: RuleBase, cause: str, sign: str, word: str, factor: float, scored: Iterable[_Scored]
) -> tuple[int, int]:
    """How many first causes change, and how many more are right."""
    changed = dict(base.causes) | {cause: _changed(base.causes[cause], base.signs[sign], word, factor)}
    table = sign_table(base.signs[sign], base.model.hypotheses, changed, base.pairs.amplified_share)
    changes = gains = 0
    for one in scored:
        row = next(place for place, item in enumerate(one.belief.evidence) if item.sign == sign)
        item = one.belief.evidence[row]
        before = np.log(np.maximum(one.belief.posterior, 1e-300)) - one.belief.log_columns[row]
        joint = before + np.log(item.column(table))
        shares = base.model.shares @ np.exp(joint - joint.max())
        first = base.model.causes[int(np.argmax(shares))]
        changes += first != one.first
        gains += (first == one.truth) - (one.first == one.truth)
    return changes, gains


def _changed(cause: CauseFile, sign: SignText, word: str, factor: float) -> CauseFile:
    """The cause with one number multiplied wherever it stands: in its tables, its variants and what raises it."""
    raised = [_raised(one, sign, word, factor) if one.sign == sign.id else one for one in cause.raised_by]
    variants = [
        variant.model_copy(update={"tables": [_table(table, sign.id, word, factor) for table in variant.tables]})
        for variant in cause.variants
    ]
    tables = [_table(table, sign.id, word, factor) for table in cause.tables]
    return cause.model_copy(update={"tables": tables, "variants": variants, "raised_by": raised})


def _table(table: TableText, sign: str, word: str, factor: float) -> TableText:
    if table.sign != sign:
        return table
    rows = {name: row for name in ("any", "front", "rear") if (row := getattr(table, name)) is not None}
    return table.model_copy(update={name: _row(row, word, factor) for name, row in rows.items()})


def _row(row: Row, word: str, factor: float) -> Row:
    moved = {name: share * (factor if name == word else 1.0) for name, share in row.items()}
    total = sum(moved.values())
    return {name: share / total for name, share in moved.items()}


def _raised(raised: RaisedBy, sign: SignText, word: str, factor: float) -> RaisedBy:
    """What raises a cause is told as a multiple of the first word's background."""
    first, second = sign.words
    share = min(0.95, sign.background[first] * raised.times)
    moved = _row({first: share, second: 1.0 - share}, word, factor)
    return raised.model_copy(update={"times": moved[first] / sign.background[first]})
