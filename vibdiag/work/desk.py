"""One case under the hand: every change is saved at once, can be undone, and moves the assessment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.danger import Danger
from vibdiag.advice.next_step import Shop
from vibdiag.case.model import Acknowledgement, Case, StepResult
from vibdiag.case.storage import load_case
from vibdiag.case.strengths import read_words, write_words
from vibdiag.knowledge.forms import StepText
from vibdiag.work.on_disk import fingerprint, save_unless_changed

__all__ = ["Change", "Desk", "now"]


def now() -> datetime:
    """The present moment to the second, in UTC."""
    return datetime.now(UTC).replace(microsecond=0)


@dataclass(frozen=True)
class Change:
    """What was done, and the case before it."""

    what: str
    before: Case


class Desk:
    """Holds the case, its file, what can be undone and redone, and the present assessment.

    A change is on the disk before it is shown. `previous` is the assessment before the last change, so that a screen
    can show what moved.
    """

    def __init__(self, path: Path, adviser: Adviser, *, shop: Shop = Shop(), by: str | None = None) -> None:
        self.path = path
        self.adviser = adviser
        self.shop = shop
        self.by = by
        # Taken before reading: a save between the two is then refused rather than lost.
        self.seen = fingerprint(path)
        self.case = load_case(path)
        self.done: list[Change] = []
        self.undone: list[Change] = []
        self.assessment: Assessment = adviser.assess(self.case, shop=shop)
        self.previous: Assessment | None = None

    def change(self, case: Case, what: str) -> None:
        """Make `case` the present one. Raises OSError when it cannot be saved, InputError when it cannot be assessed,
        CaseChangedError when another session saved meanwhile; in each the present case stays as it was."""
        if case == self.case:
            return
        assessment = self.adviser.assess(case, shop=self.shop)
        self.seen = save_unless_changed(case, self.path, self.seen)
        self.done.append(Change(what, self.case))
        self.undone.clear()
        self._show(case, assessment)

    def _show(self, case: Case, assessment: Assessment) -> None:
        self.previous, self.assessment, self.case = self.assessment, assessment, case

    def _travel(self, source: list[Change], target: list[Change]) -> str | None:
        if not source:
            return None
        step = source[-1]
        assessment = self.adviser.assess(step.before, shop=self.shop)
        self.seen = save_unless_changed(step.before, self.path, self.seen)
        source.pop()
        target.append(Change(step.what, self.case))
        self._show(step.before, assessment)
        return step.what

    def undo(self) -> str | None:
        """Take the last change back; returns what it was, or None when there is nothing to undo."""
        return self._travel(self.done, self.undone)

    def redo(self) -> str | None:
        """Make the change again that was undone last."""
        return self._travel(self.undone, self.done)

    def set_shop(self, shop: Shop) -> None:
        """Other people or tools: the steps on offer change, the ranking does not."""
        self.shop = shop
        self.previous, self.assessment = self.assessment, self.adviser.assess(self.case, shop=shop)

    def answer(
        self, step: StepText, outcome: str, *, words: str | None = None, how: str = "measured", role: str = "unknown"
    ) -> None:
        """Record an answer of before the repair; a former answer to the same step is replaced, and stays in the undo.

        Strengths that were noted at held speeds stay with the step.
        """
        former = next((one for one in self.case.steps if one.step == step.id and one.taken == "before"), None)
        noted, _ = read_words(former.words if former else None)
        result = StepResult.model_validate(
            {
                "step": step.id,
                "outcome": outcome,
                "words": write_words(noted, words or ""),
                "how": how,
                "role": role,
                "by": self.by,
                "at": now(),
            }
        )
        kept = [one for one in self.case.steps if one.step != step.id or one.taken == "after"]
        self.change(self.case.model_copy(update={"steps": [*kept, result]}), f"{step.title}: {outcome}")

    def withdraw(self, step_id: str) -> None:
        """Take an answer of before the repair out again."""
        kept = [one for one in self.case.steps if one.step != step_id or one.taken == "after"]
        self.change(self.case.model_copy(update={"steps": kept}), f"withdrew {step_id}")

    def acknowledge(self, danger: Danger, name: str) -> None:
        """Somebody signs for having read a danger; raises ValueError for an empty name."""
        if not name.strip():
            raise ValueError("write your name: somebody must have read this")
        signed = Acknowledgement.model_validate({"danger": danger.cause, "by": name.strip(), "at": now()})
        self.by = name.strip()
        self.change(
            self.case.model_copy(update={"acknowledged": [*self.case.acknowledged, signed]}),
            f"read the danger '{danger.cause}'",
        )

    def unread_dangers(self) -> list[Danger]:
        """Open dangers that nobody has signed for yet."""
        signed = {one.danger for one in self.case.acknowledged}
        return [d for d in self.assessment.dangers if d.status == "open" and d.cause not in signed]
