"""Proofs that go beyond the form: examples hold, nothing is unreachable, every cause can win, nothing is idle."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import get_args

import numpy as np

from vibdiag.case.vocabulary import CauseId
from vibdiag.files.errors import InputError
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import RuleText, Value
from vibdiag.reasoning.belief import Evidence
from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.derivation import Derivation, FactError
from vibdiag.reasoning.language import Fact

__all__ = ["Counts", "Evaluate", "count", "find_faults"]

Evaluate = Callable[[Mapping[str, Fact], Mapping[str, str]], Derivation]


@dataclass(frozen=True)
class Counts:
    causes: int
    signs: int
    rules: int
    questions: int
    road_observations: int
    bay_checks: int


def count(base: RuleBase) -> Counts:
    """How much there is of everything."""
    kinds = [step.kind for step in base.steps.values()]
    return Counts(
        len(base.causes),
        len(base.signs),
        len(base.rules),
        kinds.count("question"),
        kinds.count("road"),
        kinds.count("check"),
    )


def find_faults(base: RuleBase, evaluate: Evaluate) -> Iterator[InputError]:
    """Every fault found by running the rule base; `evaluate` is the engine, which must agree with the chainer."""
    yield from _examples(base, evaluate)
    yield from _causes_of_cases(base)
    yield from _idle_facts(base)
    yield from _unreachable_signs(base)
    yield from _speechless_signs(base)
    yield from _rows_that_never_speak(base)
    yield from _causes_that_cannot_win(base)


def _split(base: RuleBase, example: Mapping[str, Value]) -> tuple[dict[str, Fact], dict[str, str]]:
    """An example may give facts and, for rules on top of signs, signs."""
    facts: dict[str, Fact] = {}
    given: dict[str, str] = {}
    for name, value in example.items():
        if name in base.signs:
            given[name] = str(value)
        else:
            facts[name] = value
    return facts, given


def _examples(base: RuleBase, evaluate: Evaluate) -> Iterator[InputError]:
    for rule in base.rules.values():
        for key, expected in (("fires", True), ("silent", False)):
            yield from _example(base, rule, key, expected, evaluate)


def _example(base: RuleBase, rule: RuleText, key: str, expected: bool, evaluate: Evaluate) -> Iterator[InputError]:
    place = base.places[("rule", rule.id)]
    facts, given = _split(base, rule.fires if expected else rule.silent)
    try:
        found = evaluate(facts, given)
        oracle = chain(base.rule_set, facts, given)
    except FactError as error:
        yield place.error(f"the example '{key}' of '{rule.id}': {error}", key)
        return
    if found.fired != oracle.fired:
        yield place.error(f"engine and chainer disagree on the example '{key}' of '{rule.id}'", key)
    if (rule.id in found.fired) != expected:
        wrong = "does not fire" if expected else "fires"
        yield place.error(f"rule '{rule.id}' {wrong} on its example '{key}'; correct the rule or the example", key)


def _causes_of_cases(base: RuleBase) -> Iterator[InputError]:
    """A case may name exactly the causes of the rule base."""
    named = get_args(CauseId)
    for cause in named:
        if cause not in base.causes:
            yield InputError(f"there is no file for the cause '{cause}'", file=base.folder / "causes")
    for cause in base.causes:
        if cause not in named:
            yield base.places[("cause", cause)].error(f"'{cause}' is not among the causes that a case may name", "id")


def _idle_facts(base: RuleBase) -> Iterator[InputError]:
    for name, declared in base.rule_set.names.items():
        if not declared.derived and name not in base.rule_set.used and name not in _KEPT_FOR_PEOPLE:
            yield InputError(f"no rule asks for the fact '{name}'", file=base.folder / "derive")


# Told for the file and for other tools; no rule needs them.
_KEPT_FOR_PEOPLE = frozenset({"driven", "engine-placement", "drive-energy", "gearbox", "tried-other"})


def _unreachable_signs(base: RuleBase) -> Iterator[InputError]:
    produced = {(c.name, c.word) for rule in base.rule_set.rules for c in rule.conclusions}
    produced |= {(step.sign, word) for step in base.steps.values() for word in step.outcomes}
    for sign in base.signs.values():
        for word in sign.words:
            if (sign.id, word) not in produced:
                yield base.places[("sign", sign.id)].error(
                    f"nothing can ever say that '{sign.id}' is '{word}'; add a rule or a step outcome"
                )


def _speechless_signs(base: RuleBase) -> Iterator[InputError]:
    for sign in base.signs.values():
        if np.allclose(base.model.tables[sign.id].rows, base.model.tables[sign.id].background):
            yield base.places[("sign", sign.id)].error(f"no cause weighs the sign '{sign.id}'; it tells nothing")


def _rows_that_never_speak(base: RuleBase) -> Iterator[InputError]:
    """A row of a cause that each of its variants replaces by its own."""
    for cause in base.causes.values():
        if cause.variants:
            own = [{table.sign for table in variant.tables} for variant in cause.variants]
            stated = [raised.sign for raised in cause.raised_by] + [table.sign for table in cause.tables]
            for sign in stated:
                if all(sign in signs for signs in own):
                    yield base.places[("cause", cause.id)].error(
                        f"the row of '{sign}' is never used: every variant of '{cause.id}' has its own; take it out"
                    )


def _causes_that_cannot_win(base: RuleBase) -> Iterator[InputError]:
    """Give each cause the words that speak most for it against the average, and see whether it comes first.

    The cause of last resort wins by what fits nothing, so it gets the words that are worst for all the others.
    """
    model = base.model
    for cause in model.causes:
        if cause == "not-in-rule-base":
            continue
        alone = np.array([hypothesis.causes == (cause,) for hypothesis in model.hypotheses])
        others = ~model.members(cause)
        evidence = []
        for table in model.tables.values():
            ratio = table.rows[alone].mean(axis=0) / (model.prior[others] @ table.rows[others])
            best = int(np.argmax(ratio))
            if ratio[best] > 1.2:
                evidence.append(Evidence(table.sign, table.words[best]))
        belief = model.believe(evidence)
        first = next(iter(belief.by_cause()))
        if first != cause:
            yield base.places[("cause", cause)].error(
                f"'{cause}' cannot win: with all its best signs '{first}' is first"
            )
