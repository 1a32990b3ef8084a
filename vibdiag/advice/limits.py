"""Which numbers of the rule base apply to a measured quantity, and what the rules make of one reading.

No number stands here: the limits are those of the rules themselves, so that what is drawn beside a reading and what
moves the ranking cannot disagree. Which fact a quantity becomes is asked of `facts_of` in the same way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import facts_of
from vibdiag.case.model import Case, Measurement
from vibdiag.case.vocabulary import Quantity, Unit
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.language import Condition, Fact

__all__ = ["CANNOT_TELL", "Judged", "QuantityLimit", "judge_reading", "limits_of"]

CANNOT_TELL = "cannot tell"
# The maker's figure for these is one to meet, or the least that will do; above it is not "over".
_TO_MEET: frozenset[Quantity] = frozenset({"fastener-torque", "tyre-pressure", "tread-depth", "frequency"})


@dataclass(frozen=True)
class QuantityLimit:
    """One number a rule compares a quantity with, in `unit`: a reading on its `side` (strictly) is `word`.

    `between_wheels`: not the reading is compared, but how far the highest lies above the next highest wheel.
    """

    rule: str
    side: Literal["above", "below"]
    number: float
    unit: Unit
    word: str
    because: str
    source: str
    between_wheels: bool


@dataclass(frozen=True)
class Judged:
    """What is said of one reading.

    `word`: within, over, cannot tell, or the rule's own word.
    `size`: the number that was compared, in the reading's unit and never negative; None where wheels are compared and
    there is one only. `by`: whose number it was; `because`: one sentence without numbers; `weighs`: whether a rule
    concludes something from it, so that the ranking may move (a reading after the repair never weighs).
    """

    word: str
    size: float | None
    by: Literal["maker", "rules", "nobody"]
    because: str
    source: str
    weighs: bool


def _facts(readings: Sequence[Measurement]) -> dict[str, Fact]:
    return facts_of(Case(vibdiag_case=1, id="readings", measurements=list(readings)))


def _number_facts(quantity: Quantity, unit: Unit) -> tuple[dict[str, float], bool]:
    """The numeric facts that readings of `quantity` set, each with its size for one `unit`; and whether it takes two
    wheels to set them."""
    one = Measurement(quantity=quantity, value=1.0, unit=unit, wheel="front-left")
    for probe, between in (([one], False), ([one, one.model_copy(update={"value": 0.0})], True)):
        found = {name: value for name, value in _facts(probe).items() if isinstance(value, float | int)}
        if found:
            return found, between
    return {}, False


def limits_of(quantity: Quantity, base: RuleBase, *, unit: Unit) -> tuple[QuantityLimit, ...]:
    """Every number the rule base compares `quantity` with, in `unit`, smallest first; nothing where it has none.

    A rule that needs other facts besides (other than "not known") is left out: its number does not hold for the
    reading alone. Raises ValidationError for a unit the quantity does not have.
    """
    sizes, between = _number_facts(quantity, unit)
    found = [
        QuantityLimit(
            rule.id,
            "above" if condition.operator == "above" else "below",
            condition.number / sizes[condition.name],
            unit,
            rule.conclusions[0].word,
            base.rules[rule.id].because,
            base.rules[rule.id].source,
            between,
        )
        for rule in base.rule_set.rules
        for alternative in rule.alternatives
        for condition in _alone(alternative)
        if condition.name in sizes
    ]
    return tuple(sorted(found, key=lambda limit: (limit.number, limit.rule)))


def _alone(alternative: Sequence[Condition]) -> Iterator[Condition]:
    """The one numeric test of a conjunction that tests nothing else but that something is not known."""
    tests = [condition for condition in alternative if condition.operator != "not known"]
    if len(tests) == 1 and tests[0].operator in ("above", "below"):
        yield tests[0]


def judge_reading(reading: Measurement, adviser: Adviser, *, others: Sequence[Measurement] = ()) -> Judged:
    """What the maker's limit, else the rules, say of one reading.

    others: the readings of the same quantity at other wheels, used only where wheels are compared with each other.
    """
    base = adviser.base
    before = reading.model_copy(update={"taken": "before"})  # a reading after the repair is judged just the same
    limits = limits_of(reading.quantity, base, unit=reading.unit)
    compared = [each for each in others if each.quantity == reading.quantity and each.taken != "after"]
    between = any(limit.between_wheels for limit in limits)
    facts = _facts([*compared, before] if between else [before])
    concluded = {
        rule: word
        for (_, word), rules in adviser.engine.evaluate(facts).because_of.items()
        for rule in rules
        if any(condition.name in facts for condition in _conditions(base, rule))
    }
    size = _size(reading, facts, between=between)
    weighs = bool(concluded) and reading.taken != "after"
    if reading.limit is not None:
        return _against_maker(reading, reading.limit, weighs=weighs)
    if concluded:
        rule, word = next(iter(concluded.items()))
        text = base.rules[rule]
        return Judged(word, size, "rules", text.because, text.source, weighs)
    return Judged(CANNOT_TELL, size, "nobody", _silence(limits, compared, between=between), "", False)


def _size(reading: Measurement, facts: dict[str, Fact], *, between: bool) -> float | None:
    if not between:
        return abs(reading.value)
    sizes, _ = _number_facts(reading.quantity, reading.unit)
    compared = [value / sizes[name] for name in sizes if isinstance(value := facts.get(name), float | int)]
    return compared[0] if compared else None


def _conditions(base: RuleBase, rule_id: str) -> Iterator[Condition]:
    for rule in base.rule_set.rules:
        if rule.id == rule_id:
            for alternative in rule.alternatives:
                yield from alternative


def _against_maker(reading: Measurement, limit: float, *, weighs: bool) -> Judged:
    size = abs(reading.value)
    if reading.quantity in _TO_MEET:
        because = "The maker's figure is one to meet here, not a highest value."
        return Judged(CANNOT_TELL, size, "maker", because, "the figure entered with the reading", weighs)
    word = "over" if size > limit else "within"
    because = "The maker's figure outranks any other."
    return Judged(word, size, "maker", because, "the figure entered with the reading", weighs)


def _silence(limits: Sequence[QuantityLimit], compared: Sequence[Measurement], *, between: bool) -> str:
    """Why no rule speaks."""
    if not limits:
        return "The rule base has no limit for this; the maker's figure would tell."
    if between and not compared:
        return "The wheels are compared with each other: a second wheel is needed."
    if len({limit.side for limit in limits}) == 2:
        return "Between the two limits nothing is concluded; the maker's figure would tell."
    return "Not beyond the limit, and the rule base has no figure below which all is well; the maker's would tell."
