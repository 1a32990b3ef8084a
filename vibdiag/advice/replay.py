"""A case as it was known at each stage, from the first words to the proof."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from vibdiag.case.model import Case, StepResult
from vibdiag.knowledge.base import RuleBase

__all__ = ["Stage", "stages"]

_READ = ("measurements", "readings", "balance_readings")
_HEADINGS = {
    "question": "After the questions at the desk",
    "road": "After the road test",
    "check": "After the checks in the bay",
}


@dataclass(frozen=True)
class Stage:
    """`case` holds only what was known then; `new_steps` are the results that came in, in order."""

    heading: str
    case: Case
    new_steps: tuple[StepResult, ...] = ()


def stages(case: Case, base: RuleBase) -> tuple[Stage, ...]:
    """The complaint as told, then a stage for each run of questions, road observations or bay checks, as they came.

    Measurements come in with the last run of bay checks. Repairs that cured, what was seen after them and the outcome
    belong to the end, so no stage knows them.
    """
    history = case.history.model_copy(
        update={"repairs": [repair for repair in case.history.repairs if repair.effect != "cured"]}
    )
    known = case.model_copy(update={**{key: [] for key in ("steps", *_READ)}, "outcome": None, "history": history})
    found = [Stage("As the customer tells it", known)]
    before = [result for result in case.steps if result.taken == "before"]
    runs = [(kind, tuple(run)) for kind, run in groupby(before, key=lambda result: base.steps[result.step].kind)]
    last_bay = max((place for place, (kind, _) in enumerate(runs) if kind == "check"), default=None)
    for place, (kind, run) in enumerate(runs):
        update: dict[str, object] = {"steps": [*known.steps, *run]}
        if place == last_bay:
            update |= {name: getattr(case, name) for name in _READ}
        known = known.model_copy(update=update)
        again = any(kind == earlier for earlier, _ in runs[:place])
        heading = _HEADINGS[kind].replace("After", "After more of") if again else _HEADINGS[kind]
        found.append(Stage(heading, known, run))
    return tuple(found)
