"""Cars with a known fault: what each question, road observation or check would find on them.

All answers of a car are drawn at once, so that every shop meets the same car and they can be compared car by car.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibdiag.advice.evidence import Findings
from vibdiag.case.model import StepResult
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import BeliefModel, Evidence, SignTable

__all__ = ["Car", "car_like", "disturbed", "draw_cars", "drawn_findings"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Car:
    """`causes`: what is at work; `answers`: by step, the word that it finds at first, None for no usable answer;
    `shows`: by sign, what is truly there, found by whoever tries again."""

    causes: frozenset[str]
    answers: Mapping[str, str | None]
    shows: Mapping[str, str]


def draw_cars(base: RuleBase, model: BeliefModel, count: int, random: np.random.Generator) -> list[Car]:
    """`count` cars as `model` says cars are; `model` may be another than the rule base's own."""
    truths = random.choice(len(model.hypotheses), size=count, p=model.prior)
    return [_car(base, model, int(truth), {}, random) for truth in truths]


def car_like(
    base: RuleBase, evidence: Iterable[Evidence], causes: Sequence[str], random: np.random.Generator
) -> Car | None:
    """A car of which `evidence` is known and what else would be found is drawn from the tables of its causes.

    None where the causes are no hypothesis of the rule base.
    """
    model = base.model
    fitting = np.array([set(one.causes) == set(causes) for one in model.hypotheses])
    if not fitting.any():
        return None
    known = list(evidence)
    belief = model.believe(known)
    weight = np.where(fitting, belief.posterior, 0.0)
    if weight.sum() == 0.0:
        weight = np.where(fitting, model.prior, 0.0)
    truth = int(random.choice(len(weight), p=weight / weight.sum()))
    return _car(base, model, truth, {item.sign: item.word for item in known}, random)


def _car(base: RuleBase, model: BeliefModel, truth: int, known: Mapping[str, str], random: np.random.Generator) -> Car:
    shows = {
        table.sign: known.get(table.sign) or str(random.choice(table.words, p=table.rows[truth]))
        for table in model.tables.values()
    }
    trust = base.settings.trust
    answers: dict[str, str | None] = {}
    for step in base.steps.values():
        table = model.tables[step.sign]
        sure = trust.complaint if step.kind == "question" else trust.measured
        word: str | None = shows[step.sign]
        if step.sign not in known and random.random() > sure:
            word = str(random.choice(table.words, p=table.background))
        if random.random() > step.answered:
            word = None
        answers[step.id] = word
    return Car(frozenset(model.hypotheses[truth].causes), answers, shows)


def disturbed(model: BeliefModel, factor: float, random: np.random.Generator) -> BeliefModel:
    """Every base rate and every table entry off by up to `factor` either way (uniform in the logarithm), made to sum to
    one again; raises ValueError for a factor below one."""
    if factor < 1.0:
        raise ValueError(f"a factor of {factor:g} disturbs nothing; it must be 1 or more")
    tables = {
        sign: SignTable(sign, table.words, table.background, _shaken(table.rows, factor, random))
        for sign, table in model.tables.items()
    }
    return replace(model, prior=_shaken(model.prior, factor, random), tables=tables)


def _shaken(shares: Array, factor: float, random: np.random.Generator) -> Array:
    reach = np.log(factor)
    shaken: Array = shares * np.exp(random.uniform(-reach, reach, size=shares.shape))
    return shaken / shaken.sum(axis=-1, keepdims=True)  # type: ignore[no-any-return]


def drawn_findings(
    evidence: Iterable[Evidence],
    results: Mapping[str, StepResult],
    unanswered: Iterable[str],
    excluded: Iterable[str] = (),
) -> Findings:
    """What is known of a drawn car, as the next step wants it: a drawn car has signs, and no facts to run rules on."""
    return Findings(
        facts={},
        evidence=tuple(evidence),
        no_news=frozenset(),
        because={},
        excluded=frozenset(excluded),
        raised={},
        clashes=(),
        results=results,
        unanswered=frozenset(unanswered),
        newest=results,
    )
