"""What confirmed cases say about the tables: a proposal to a person, never a change by itself.

A row P(word | cause) is taken as the mean of a Dirichlet distribution worth `strength` imagined cases. Each report from
a confirmed case adds its trust to the count of its word, so a handed-on verdict teaches less than a measurement. The
learned row is the mean of the Dirichlet distribution afterwards (Gelman et al., Bayesian Data Analysis, 3rd ed.,
section 3.4, from memory). Only rows that stand in a cause's file are learned: no `raised_by`, no background.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import CauseFile, TableText
from vibdiag.knowledge.tables import belief_model
from vibdiag.reasoning.belief import Evidence

__all__ = [
    "LEAST_CHANGE",
    "Learned",
    "Lesson",
    "RateChange",
    "RowChange",
    "RowName",
    "learn",
    "learned_row",
    "relearned",
    "rounded",
]

RowName = Literal["any", "front", "rear"]
# A row is proposed when one of its shares moves by more than this.
LEAST_CHANGE = 0.01
# Rows are written in thousandths, as people write them; nothing is impossible, so no share is below one.
_PARTS = 1000
# Base rates are written in hundredths of a case in a hundred.
_LEAST_RATE = 0.01


@dataclass(frozen=True)
class Lesson:
    """One confirmed case as it was known before the cause was. `axle`: front, rear, or None where not known or none.

    `raised`: the causes whose danger a rule has raised.
    """

    case: str
    cause: str
    axle: str | None
    evidence: tuple[Evidence, ...]
    excluded: frozenset[str] = frozenset()
    raised: frozenset[str] = frozenset()


@dataclass(frozen=True)
class RowChange:
    """One row of one table, before and after; `cases` is how many confirmed cases spoke about it."""

    cause: str
    sign: str
    row: RowName
    before: Mapping[str, float]
    after: Mapping[str, float]
    cases: int

    @property
    def file(self) -> str:
        return f"causes/{self.cause}.yaml"


@dataclass(frozen=True)
class RateChange:
    """The base rate of one cause, before and after, and how many of the cases it was confirmed in."""

    cause: str
    before: float
    after: float
    cases: int

    @property
    def file(self) -> str:
        return f"causes/{self.cause}.yaml"


@dataclass(frozen=True)
class Learned:
    """`causes`: every cause with its learned numbers; `rows` and `rates`: what is different from the files."""

    causes: Mapping[str, CauseFile]
    rows: tuple[RowChange, ...]
    rates: tuple[RateChange, ...]


def learned_row(row: Mapping[str, float], counts: Mapping[str, float], *, strength: float) -> dict[str, float]:
    """The mean of a Dirichlet distribution that was worth `strength` cases in the shares of `row`, after `counts`.

    >>> learned_row({"yes": 0.3, "no": 0.7}, {"yes": 5}, strength=10)
    {'yes': 0.5333333333333333, 'no': 0.4666666666666667}
    """
    total = strength + sum(counts.values())
    return {word: (strength * share + counts.get(word, 0.0)) / total for word, share in row.items()}


def rounded(row: Mapping[str, float]) -> dict[str, float]:
    """The row in whole thousandths that still sum to one, none below 0.001 (largest remainders get what is left over).

    >>> rounded({"a": 2 / 3, "b": 1 / 3, "c": 0.0})
    {'a': 0.666, 'b': 0.333, 'c': 0.001}
    """
    parts = {word: max(1, math.floor(share * _PARTS)) for word, share in row.items()}
    left = _PARTS - sum(parts.values())
    by_remainder = sorted(row, key=lambda word: row[word] * _PARTS - parts[word], reverse=left > 0)
    while left:
        for word in by_remainder:
            step = (left > 0) - (left < 0)
            if step and parts[word] + step >= 1:
                parts[word] += step
                left -= step
    return {word: part / _PARTS for word, part in parts.items()}


def learn(base: RuleBase, lessons: Sequence[Lesson], *, strength: float, base_rates: bool = False) -> Learned:
    """The causes with every row that moves by more than `LEAST_CHANGE`; base rates only when asked for.

    `strength` (above 0) is how many imagined cases a row, and the list of base rates, is worth. A case whose axle is
    not known teaches rows that hold for both axles, and no row of one axle. Raises KeyError for a cause that the rule
    base does not have, ValueError for a strength that is not above 0.
    """
    if not strength > 0:
        raise ValueError("the prior strength must be above 0")
    by_cause: dict[str, list[Lesson]] = {cause: [] for cause in base.causes}
    for lesson in lessons:
        by_cause[lesson.cause].append(lesson)
    causes: dict[str, CauseFile] = {}
    rows: list[RowChange] = []
    for cause in base.causes.values():
        changes = [
            change
            for table in cause.tables
            for name in _row_names(table)
            if (change := _row_change(cause.id, table, name, by_cause[cause.id], strength)) is not None
        ]
        causes[cause.id] = _with_rows(cause, changes)
        rows += changes
    rates = _rate_changes(base, by_cause, strength) if base_rates else ()
    for rate in rates:
        causes[rate.cause] = causes[rate.cause].model_copy(update={"base_rate": rate.after})
    return Learned(causes, tuple(rows), tuple(rates))


def relearned(base: RuleBase, learned: Learned) -> RuleBase:
    """The rule base as it would be with the learned numbers, in memory only: to score it, and to prove it sound."""
    model = belief_model(learned.causes.values(), base.signs.values(), base.pairs)
    return replace(base, causes=learned.causes, model=model)


def _row_names(table: TableText) -> tuple[RowName, ...]:
    return ("any",) if table.any is not None else ("front", "rear")


def _row_change(
    cause: str, table: TableText, name: RowName, lessons: Iterable[Lesson], strength: float
) -> RowChange | None:
    row: Mapping[str, float] = getattr(table, name)
    counts: dict[str, float] = defaultdict(float)
    cases = 0
    for lesson in lessons:
        if name not in ("any", lesson.axle):
            continue
        for item in lesson.evidence:
            if item.sign == table.sign:
                counts[item.word] += item.trust
                cases += 1
    after = rounded(learned_row(row, counts, strength=strength))
    # Thousandths are not exact as binary numbers; a share that moves by 0.01 to the last bit has not moved by more.
    if cases == 0 or max(abs(after[word] - row[word]) for word in row) <= LEAST_CHANGE + 1e-9:
        return None
    return RowChange(cause, table.sign, name, row, after, cases)


def _with_rows(cause: CauseFile, changes: Iterable[RowChange]) -> CauseFile:
    after: dict[str, dict[str, Mapping[str, float]]] = defaultdict(dict)
    for change in changes:
        after[change.sign][change.row] = change.after
    if not after:
        return cause
    tables = [
        table.model_copy(update=dict(after[table.sign])) if table.sign in after else table for table in cause.tables
    ]
    return cause.model_copy(update={"tables": tables})


def _rate_changes(base: RuleBase, by_cause: Mapping[str, Sequence[Lesson]], strength: float) -> tuple[RateChange, ...]:
    """The base rates keep their sum, so that they can be read as before."""
    total = sum(cause.base_rate for cause in base.causes.values())
    shares = {cause.id: cause.base_rate / total for cause in base.causes.values()}
    counts = {cause: float(len(lessons)) for cause, lessons in by_cause.items()}
    after = learned_row(shares, counts, strength=strength)
    found = []
    for cause in base.causes.values():
        rate = max(_LEAST_RATE, round(after[cause.id] * total, 2))
        if abs(rate - cause.base_rate) > _LEAST_RATE / 2:
            found.append(RateChange(cause.id, cause.base_rate, rate, len(by_cause[cause.id])))
    return tuple(found)
