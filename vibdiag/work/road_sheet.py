"""What the passenger writes on the road sheet, put into the case: answers, strengths at held speeds, notes.

`taken` says on which side of the repair it was seen. An answer replaces the former one of the same step and side; the
former stays in the undo.
"""

from __future__ import annotations

from typing import Literal

from vibdiag.advice.road_plan import HOLDING
from vibdiag.case.model import Case, StepResult
from vibdiag.case.strengths import STRONGEST, Held, read_words, write_words
from vibdiag.case.vocabulary import Role
from vibdiag.work.desk import now

__all__ = [
    "Side",
    "note_of",
    "result_of",
    "strengths_of",
    "with_answer",
    "with_note",
    "with_strength",
    "without_answer",
]

Side = Literal["before", "after"]


def result_of(case: Case, step: str, *, taken: Side) -> StepResult | None:
    """The last result of `step` on that side of the repair."""
    return next((one for one in reversed(case.steps) if one.step == step and one.taken == taken), None)


def strengths_of(case: Case, *, taken: Side) -> dict[Held, int]:
    """Strength felt, 0 to 10, at each held speed, slowest first."""
    return read_words(_words(case, HOLDING, taken))[0]


def note_of(case: Case, step: str, *, taken: Side) -> str:
    """What was noted with `step`, without the strengths."""
    return read_words(_words(case, step, taken))[1]


def _words(case: Case, step: str, taken: Side) -> str | None:
    result = result_of(case, step, taken=taken)
    return result.words if result else None


def with_answer(case: Case, step: str, outcome: str, *, taken: Side, by: str | None, role: Role = "road") -> Case:
    """The case with `outcome` for `step`, measured; what was noted with it stays."""
    return _with(case, step, outcome, _words(case, step, taken), taken, by, role)


def without_answer(case: Case, step: str, *, taken: Side) -> Case:
    """The case without any result of `step` on that side of the repair."""
    kept = [one for one in case.steps if one.step != step or one.taken != taken]
    return case.model_copy(update={"steps": kept})


def with_strength(case: Case, held: Held, strength: int | None, *, taken: Side, by: str | None) -> Case:
    """The case with the strength felt at a held speed, 0 to 10, or without it for None; raises ValueError beyond."""
    if strength is not None and not 0 <= strength <= STRONGEST:
        raise ValueError(f"a strength is a whole number from 0 to {STRONGEST}, not {strength}")
    strengths, note = read_words(_words(case, HOLDING, taken))
    strengths.pop(held, None)
    if strength is not None:
        strengths[held] = strength
    return _with_words(case, HOLDING, write_words(strengths, note), taken, by, "road")


def with_note(case: Case, step: str, note: str, *, taken: Side, by: str | None, role: Role = "road") -> Case:
    """The case with `note`, word for word, at `step`; its answer stays, or is still open."""
    strengths, _ = read_words(_words(case, step, taken))
    return _with_words(case, step, write_words(strengths, note.strip()), taken, by, role)


def _with_words(case: Case, step: str, words: str | None, taken: Side, by: str | None, role: Role) -> Case:
    former = result_of(case, step, taken=taken)
    outcome = former.outcome if former else "unknown"
    if words is None and outcome == "unknown":
        return without_answer(case, step, taken=taken)
    return _with(case, step, outcome, words, taken, by, role)


def _with(case: Case, step: str, outcome: str, words: str | None, taken: Side, by: str | None, role: Role) -> Case:
    result = StepResult(
        step=step, outcome=outcome, how="measured", by=by, role=role, at=now(), taken=taken, words=words
    )
    kept = without_answer(case, step, taken=taken).steps
    return case.model_copy(update={"steps": [*kept, result]})
