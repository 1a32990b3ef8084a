"""What the rule base said when somebody last accepted it, so that a changed number is seen and named.

Every value that weighs something is one line of `accepted.txt`: file, entry, value. Texts may change freely.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from vibdiag.files.atomic import write_atomically
from vibdiag.files.errors import InputError
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import RuleText, TableText

__all__ = ["ACCEPTED_FILE", "Change", "accept", "changes_since_accepted"]

ACCEPTED_FILE = "accepted.txt"
_HEAD = "# Written by `vibdiag rules check --accept`. Do not edit: change the rule files, then accept them again.\n"


@dataclass(frozen=True)
class Change:
    """`before` is None for something new, `after` None for something gone."""

    entry: str
    before: str | None
    after: str | None

    def sentence(self) -> str:
        """In words: what, from what, to what."""
        if self.before is None:
            return f"{self.entry}: new, {self.after}"
        if self.after is None:
            return f"{self.entry}: gone, was {self.before}"
        return f"{self.entry}: {self.before} -> {self.after}"


def _row(row: Mapping[str, float]) -> str:
    return ", ".join(f"{word} {chance:g}" for word, chance in row.items())


def _table(table: TableText) -> Iterator[tuple[str, str]]:
    for name in ("any", "front", "rear"):
        row = getattr(table, name)
        if row is not None:
            yield f"{table.sign} ({name})", _row(row)


def _rule(rule: RuleText) -> str:
    parts = [item if isinstance(item, str) else "(" + " or ".join(item["any"]) + ")" for item in rule.when]
    then = [rule.then] if isinstance(rule.then, str) else rule.then or []
    then = then + [f"exclude {cause}" for cause in rule.exclude or []]
    then += [f"danger {cause}" for cause in rule.dangers]
    then += ["contradiction"] if rule.contradiction else []
    return f"when {' and '.join(parts)} then {', '.join(then)}"


def _values(base: RuleBase) -> Iterator[tuple[str, str]]:
    settings = base.settings
    for how, trust in settings.trust.model_dump().items():
        yield f"settings.yaml  trust {how}", f"{trust:g}"
    yield "settings.yaml  named_wrongly", f"{settings.named_wrongly:g}"
    yield "settings.yaml  repair_above", f"{settings.repair_above:g}"
    yield "settings.yaml  tell_above", f"{settings.tell_above:g}"
    yield "settings.yaml  least_gain_bits", f"{settings.least_gain_bits:g}"
    yield "settings.yaml  axle_worth", f"{settings.axle_worth:g}"
    yield "settings.yaml  prior_strength", f"{settings.prior_strength:g}"
    for sign in base.signs.values():
        follows = f", follows from {' or '.join(sign.follows_from)}" if sign.follows_from else ""
        yield (
            f"signs.yaml  {sign.id}",
            _row(sign.background) + (f", quiet {sign.quiet}" if sign.quiet else "") + follows,
        )
    for cause in base.causes.values():
        file = f"causes/{cause.id}.yaml"
        yield f"{file}  base_rate", f"{cause.base_rate:g}"
        if cause.front_share is not None:
            yield f"{file}  front_share", f"{cause.front_share:g}"
        if cause.danger is not None:
            yield f"{file}  danger raise_above", f"{cause.danger.raise_above:g}"
            yield f"{file}  danger stop_now", "yes" if cause.danger.stop_now else "no"
        yield f"{file}  repair minutes", f"{cause.repair.minutes:g}"
        for raised in cause.raised_by:
            yield f"{file}  raised by {raised.sign}", f"{raised.times:g} times"
        for table in cause.tables:
            for entry, row in _table(table):
                yield f"{file}  {entry}", row
        for variant in cause.variants:
            yield f"{file}  variant {variant.id}", f"share {variant.share:g}"
            for table in variant.tables:
                for entry, row in _table(table):
                    yield f"{file}  variant {variant.id}, {entry}", row
    yield "pairs.yaml  amplified_share", f"{base.pairs.amplified_share:g}"
    for pair in base.pairs.pairs:
        yield f"pairs.yaml  {' and '.join(pair.causes)}", f"{pair.base_rate:g}"
    for rule in base.rules.values():
        yield f"derive/{base.places[('rule', rule.id)].file.name}  {rule.id}", _rule(rule)
    for step in base.steps.values():
        name = f"steps/{base.places[('step', step.id)].file.name}  {step.id}"
        where = f", only where {' or '.join(step.only_where)}" if step.only_where else ""
        where += f", not where {' or '.join(step.not_where)}" if step.not_where else ""
        where += ", drives" if step.drives else ""
        for word, outcome in step.outcomes.items():
            where += f", {word} in a car with {' and '.join(outcome.needs)}" if outcome.needs else ""
        where += f", stop now at {' or '.join(step.stop_now)}" if step.stop_now else ""
        for how, trust in (("looked", step.looked_clean), ("told", step.told_clean)):
            where += "" if trust is None else f", {how} clean {trust:g}"
        yield name, f"{step.minutes:g} min, answered {step.answered:g}, by {', '.join(step.who)}{where}"


def accept(base: RuleBase) -> Path:
    """Record the present values; returns the file. Raises OSError when the folder cannot be written."""
    path = base.folder / ACCEPTED_FILE
    write_atomically(path, _HEAD + "".join(f"{entry}\t{value}\n" for entry, value in _values(base)))
    return path


def changes_since_accepted(base: RuleBase) -> tuple[Change, ...]:
    """Every value that differs from the accepted one; raises InputError when the record is damaged."""
    path = base.folder / ACCEPTED_FILE
    before: dict[str, str] = {}
    if path.exists():
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(f"cannot be read: {error}", file=path) from error
        for number, line in enumerate(text.splitlines(), 1):
            if not line or line.startswith("#"):
                continue
            entry, tab, value = line.partition("\t")
            if not tab:
                raise InputError(
                    f"line {number} is damaged; accept the rule base again with `vibdiag rules check --accept`",
                    file=path,
                )
            before[entry] = value
    now = dict(_values(base))
    entries = [*now, *(entry for entry in before if entry not in now)]
    return tuple(
        Change(entry, before.get(entry), now.get(entry)) for entry in entries if before.get(entry) != now.get(entry)
    )
