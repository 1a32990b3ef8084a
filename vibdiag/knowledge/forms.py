"""The forms of the rule base's files. Every key is checked; what a file may say is what stands here."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, Strict, model_validator

__all__ = [
    "CauseFile",
    "Contradiction",
    "DangerText",
    "Limit",
    "PairFile",
    "PairText",
    "RepairText",
    "RuleFile",
    "RuleText",
    "Settings",
    "SignFile",
    "SignText",
    "StepFile",
    "StepOutcome",
    "StepText",
    "TableText",
    "VariantText",
]

Id = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Sentence = Annotated[str, Field(min_length=3, max_length=1200)]
Share = Annotated[float, Strict(), Field(ge=0, le=1, allow_inf_nan=False)]
Need = Literal["propshaft", "engine", "clutch-or-converter", "halfshaft-joints"]
Row = dict[str, Share]


class Form(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SignText(Form):
    """A discrete observation that tables weigh. `background` is P(word) for a cause that says nothing about it.

    `follows_from`: sentences such as "new-tyres-fitted is yes"; where one holds, this sign weighs nothing.
    `quiet`: with two causes at once this word is seen only if neither brings another. Without it the sign is that of
    the one or of the other.
    """

    id: Id
    name: Sentence
    words: Annotated[list[Id], Field(min_length=2, max_length=9)]
    background: Row
    quiet: Id | None = None
    follows_from: list[Sentence] = []
    source: Sentence


class SignFile(Form):
    signs: list[SignText]


class TableText(Form):
    """P(word | cause) for one sign: one row for both axles, or one each."""

    sign: Id
    any: Row | None = None
    front: Row | None = None
    rear: Row | None = None
    source: Sentence
    because: Sentence | None = None

    @model_validator(mode="after")
    def _rows(self) -> TableText:
        if (self.any is None) == (self.front is None) or (self.front is None) != (self.rear is None):
            raise ValueError("a table has either one row 'any' or two rows 'front' and 'rear'")
        return self


class RaisedBy(Form):
    """What makes a cause likelier: P(sign is its first word | cause) is `times` the background."""

    sign: Id
    times: Annotated[float, Field(gt=0, le=100)]
    source: Sentence


class VariantText(Form):
    """One of the ways in which a cause shows itself; `share`: of its cases, how many are of this kind.

    Its tables stand instead of the cause's own for the same signs.
    """

    id: Id
    name: Sentence
    share: Annotated[float, Field(gt=0, lt=1)]
    tables: Annotated[list[TableText], Field(min_length=1)]
    source: Sentence


class DangerText(Form):
    """`stop_now`: it can take a wheel, the steering or the brakes, or set the car on fire; it is said before others."""

    says: Sentence
    stop_now: bool = False
    cleared_by: Id | None = None
    clear_outcome: Id | None = None
    raise_above: Share = 0.1

    @model_validator(mode="after")
    def _both(self) -> DangerText:
        if (self.cleared_by is None) != (self.clear_outcome is None):
            raise ValueError("'cleared_by' (a step) and 'clear_outcome' (its outcome) stand together")
        return self


class RepairText(Form):
    does: Sentence
    minutes: Annotated[float, Field(gt=0, le=10_000)]
    proof: Sentence
    caution: Sentence


class CauseFile(Form):
    id: Id
    name: Sentence
    short: Annotated[str, Field(min_length=3, max_length=28)]
    definition: Sentence
    where: Literal["axle", "car"]
    base_rate: Annotated[float, Field(gt=0, le=1000)]
    base_rate_source: Sentence
    front_share: Annotated[float, Field(gt=0, lt=1)] | None = None
    needs: list[Need] = []
    amplifier: bool = False
    danger: DangerText | None = None
    repair: RepairText
    looks_like: list[Id] = []
    raised_by: list[RaisedBy] = []
    tables: list[TableText] = []
    variants: list[VariantText] = []


class PairText(Form):
    """Two causes at work at once; `base_rate`: of a hundred complaints, how many have both."""

    causes: Annotated[list[Id], Field(min_length=2, max_length=2)]
    base_rate: Annotated[float, Field(gt=0, le=100)]
    because: Sentence
    source: Sentence


class PairFile(Form):
    """`amplified_share`: where one of the two only lets the other be felt more, how often a sign is the other's."""

    amplified_share: Share
    pairs: list[PairText]


class Contradiction(Form):
    says: Sentence
    ask: Id


Value = str | Annotated[float, Strict()]


class RuleText(Form):
    """`when` every sentence holds; an item `any: [...]` holds when one of its sentences does.

    `danger` names a cause, or several that are spoken of together. `trust` says how sure a sign is that the rule
    concludes: the entry of that name in settings.yaml.
    """

    id: Id
    when: Annotated[list[str | dict[Literal["any"], list[str]]], Field(min_length=1, max_length=12)]
    then: str | list[str] | None = None
    exclude: list[Id] | None = None
    danger: Id | list[Id] | None = None
    contradiction: Contradiction | None = None
    because: Sentence
    source: Sentence
    trust: Literal["measured", "looked", "looked_clean", "told", "told_clean", "complaint"] = "complaint"
    fires: dict[str, Value]
    silent: dict[str, Value]

    @model_validator(mode="after")
    def _one_conclusion(self) -> RuleText:
        given = [part for part in (self.then, self.exclude, self.danger, self.contradiction) if part]
        if len(given) != 1:
            raise ValueError("a rule concludes exactly one of: then, exclude, danger, contradiction")
        return self

    @property
    def dangers(self) -> list[str]:
        """The causes whose danger it raises."""
        return [self.danger] if isinstance(self.danger, str) else self.danger or []


class RuleFile(Form):
    rules: list[RuleText]


class Limit(Form):
    says: Sentence
    source: Sentence


class StepOutcome(Form):
    """`needs`: of a question, an answer that only a car with this part can have; others are not offered it."""

    says: Annotated[str, Field(min_length=1, max_length=60)]
    needs: list[Need] = []


class StepText(Form):
    """A question, a road observation or a bay check; its outcomes are the words of one sign.

    `always`: asked in every interview whatever it tells, because a danger may hang on it. `only_where`: sentences such
    as "clunk is yes"; it is offered only where one of them is known to hold. `not_where`: sentences of which none may
    be known to hold. `looked_clean`, `told_clean`: how far a quick look or a handed-on word that found nothing is
    trusted here, where that is less than anywhere else. `drives`: the car is driven for it (a road observation always
    is), so it waits while a danger is open. `red_flag`: what is to be said to the customer at once after an outcome;
    `stop_now`: the outcomes whose red flag is said before others, as with a danger.
    """

    id: Id
    kind: Literal["question", "road", "check"]
    sign: Id
    title: Annotated[str, Field(min_length=3, max_length=60)]
    minutes: Annotated[float, Field(gt=0, le=600)]
    who: Annotated[list[Literal["desk", "road", "bay"]], Field(min_length=1)]
    answered: Annotated[float, Field(gt=0, le=1)]
    ask: Sentence | None = None
    technician: Sentence
    why: Sentence
    tools: list[Annotated[str, Field(min_length=2, max_length=60)]] = []
    steps: list[Sentence] = []
    caution: Sentence | None = None
    limits: list[Limit] = []
    outcomes: dict[Id, StepOutcome]
    needs: list[Need] = []
    settles: Id | None = None
    only_where: list[Sentence] = []
    not_where: list[Sentence] = []
    looked_clean: Annotated[float, Field(gt=0, le=1)] | None = None
    told_clean: Annotated[float, Field(gt=0, le=1)] | None = None
    always: bool = False
    drives: bool = False
    red_flag: dict[Id, Sentence] = {}
    stop_now: list[Id] = []
    source: Sentence

    @model_validator(mode="after")
    def _complete(self) -> StepText:
        if self.kind == "question" and not self.ask:
            raise ValueError("a question needs 'ask': the words to read aloud")
        if self.kind != "question" and not (self.steps and self.caution):
            raise ValueError("a road observation or check needs 'steps' and a 'caution'")
        if self.kind != "check" and (self.looked_clean or self.told_clean):
            raise ValueError("'looked_clean' and 'told_clean' belong to a check")
        if not set(self.stop_now) <= set(self.red_flag):
            raise ValueError("'stop_now' names outcomes that have a 'red_flag'")
        if self.kind != "question" and any(outcome.needs for outcome in self.outcomes.values()):
            raise ValueError("'needs' of one outcome belongs to a question; a check or observation has it as a whole")
        return self


class StepFile(Form):
    steps: list[StepText]


class Trust(Form):
    """How often a report is simply true; `clean`: when it found nothing out of order."""

    measured: Annotated[float, Field(gt=0, le=1)]
    looked: Annotated[float, Field(gt=0, le=1)]
    looked_clean: Annotated[float, Field(gt=0, le=1)]
    told: Annotated[float, Field(gt=0, le=1)]
    told_clean: Annotated[float, Field(gt=0, le=1)]
    complaint: Annotated[float, Field(gt=0, le=1)]


class Settings(Form):
    """Numbers that belong to the whole rule base.

    `named_wrongly`: of wrong verdicts that were handed on, how many name this very fault, at least.
    """

    trust: Trust
    named_wrongly: Share
    repair_above: Annotated[float, Field(gt=0.5, lt=1)]
    tell_above: Share
    least_gain_bits: Annotated[float, Field(ge=0, lt=1)]
    axle_worth: Share
    prior_strength: Annotated[float, Field(gt=0, le=10_000)]
