"""A case as it was known at each stage, from the first words to the proof."""

from __future__ import annotations

from dataclasses import dataclass

from vibdiag.case.model import Case
from vibdiag.knowledge.base import RuleBase

__all__ = ["Stage", "stages"]


@dataclass(frozen=True)
class Stage:
    """`case` holds only what was known then; `heading` says in words where the case stands."""

    heading: str
    case: Case
    new_steps: tuple[str, ...] = ()


def stages(case: Case, base: RuleBase) -> tuple[Stage, ...]:
    """The complaint as told, then after the desk's questions, the road test and the bay checks, each where it has any.

    Repairs that cured and the outcome belong to the end, so no stage knows them.
    """
    history = case.history.model_copy(
        update={"repairs": [repair for repair in case.history.repairs if repair.effect != "cured"]}
    )
    told = case.model_copy(update={"steps": [], "measurements": [], "outcome": None, "history": history})
    found = [Stage("As the customer tells it", told)]
    known = told
    for kind, heading in (("question", "After the questions at the desk"), ("road", "After the road test")):
        new = [result for result in case.steps if base.steps[result.step].kind == kind]
        if new:
            known = known.model_copy(update={"steps": [*known.steps, *new]})
            found.append(Stage(heading, known, tuple(result.step for result in new)))
    bay = [result for result in case.steps if base.steps[result.step].kind == "check"]
    if bay:
        known = known.model_copy(update={"steps": [*known.steps, *bay], "measurements": case.measurements})
        found.append(Stage("After the checks in the bay", known, tuple(result.step for result in bay)))
    return tuple(found)
