"""One case under the hand: every change is saved at once, can be undone, and moves the assessment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.danger import Danger
from vibdiag.advice.next_step import Shop
from vibdiag.case.model import Acknowledgement, Case, StepResult
from vibdiag.case.strengths import read_words, write_words
from vibdiag.knowledge.forms import StepText
from vibdiag.work.phrases import answer_words
from vibdiag.work.shelf import CaseInHand, Done

__all__ = ["Desk", "now"]


def now() -> datetime:
    """The present moment to the second, in UTC."""
    return datetime.now(UTC).replace(microsecond=0)


class _Judged:
    """Asked before anything is saved: the case as it will stand, and its assessment."""

    def __init__(self, adviser: Adviser, shop: Shop) -> None:
        self.adviser, self.shop = adviser, shop
        self.case: Case | None = None
        self.assessment: Assessment | None = None

    def __call__(self, case: Case) -> None:
        self.assessment = self.adviser.assess(case, shop=self.shop)
        self.case = case


class Desk:
    """Holds the case in hand and its assessment; every change is saved before it is shown.

    `previous` is the assessment before the last change, so that a screen can show what moved. Each change raises
    ConflictError where somebody else's stands against it, another InputError when it cannot be assessed or saved, and
    OSError when the disk refuses; in each the present case stays as it was.
    """

    def __init__(self, hand: CaseInHand, adviser: Adviser, *, shop: Shop = Shop(), by: str | None = None) -> None:
        self.hand = hand
        self.adviser = adviser
        self.shop = shop
        self.by = by
        self.case = hand.case
        self.assessment: Assessment = adviser.assess(self.case, shop=shop)
        self.previous: Assessment | None = None

    def change(self, case: Case, what: str, *, insist: bool = False) -> Sequence[Done]:
        """Make `case` the present one; returns what others had changed meanwhile, which is then in it too.

        `insist` puts it in place of what somebody else entered, for whoever has seen both.
        """
        if case == self.case:
            return ()
        judged = self._judged()
        judged(case)
        case = self._with_dangers_shown(case, judged)
        others = self.hand.save(case, what, by=self.by, sound=judged, insist=insist)
        self._show(judged)
        return others

    def _with_dangers_shown(self, case: Case, judged: _Judged) -> Case:
        """The case with the dangers noted that were on show and that it raises: they stay whatever is answered next."""
        dangers = (*self.assessment.dangers, *(judged.assessment.dangers if judged.assessment else ()))
        fresh = {danger.cause for danger in dangers if danger.status == "open"} - set(case.dangers_shown)
        if not fresh:
            return case
        noted = case.model_copy(update={"dangers_shown": [*case.dangers_shown, *sorted(fresh)]})
        judged(noted)
        return noted

    def look(self) -> Sequence[Done]:
        """Take in what others changed since; empty when they changed nothing."""
        judged = self._judged()
        others = self.hand.look(sound=judged)
        if others:
            self._show(judged)
        return others

    def undo(self) -> str | None:
        """Take the last change back; returns what it was, or None when there is nothing to undo."""
        judged = self._judged()
        what = self.hand.undo(by=self.by, sound=judged)
        self._show(judged)
        return what

    def redo(self) -> str | None:
        """Make the change again that was undone last."""
        judged = self._judged()
        what = self.hand.redo(by=self.by, sound=judged)
        self._show(judged)
        return what

    def _judged(self) -> _Judged:
        return _Judged(self.adviser, self.shop)

    def _show(self, judged: _Judged) -> None:
        if judged.case is not None and judged.assessment is not None:
            self.previous, self.assessment, self.case = self.assessment, judged.assessment, self.hand.case

    def set_shop(self, shop: Shop) -> None:
        """Other people or tools: the steps on offer change, the ranking does not."""
        self.shop = shop
        self.previous, self.assessment = self.assessment, self.adviser.assess(self.case, shop=shop)

    def answer(
        self,
        step: StepText,
        outcome: str,
        *,
        words: str | None = None,
        how: str = "measured",
        role: str = "unknown",
        insist: bool = False,
    ) -> Sequence[Done]:
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
        case = self.case.model_copy(update={"steps": [*kept, result]})
        return self.change(case, answer_words(step, outcome), insist=insist)

    def note(self, words: str, *, insist: bool = False) -> Sequence[Done]:
        """Put words that belong to no answer with the case's own notes."""
        notes = f"{self.case.notes}\n{words}" if self.case.notes else words
        return self.change(self.case.model_copy(update={"notes": notes}), "note", insist=insist)

    def withdraw(self, step_id: str, *, insist: bool = False) -> Sequence[Done]:
        """Take an answer of before the repair out again."""
        kept = [one for one in self.case.steps if one.step != step_id or one.taken == "after"]
        what = f"withdrew {self.adviser.base.steps[step_id].title}"
        return self.change(self.case.model_copy(update={"steps": kept}), what, insist=insist)

    def acknowledge(self, danger: Danger, name: str, *, insist: bool = False) -> Sequence[Done]:
        """Somebody signs for having read a danger; raises ValueError for an empty name."""
        if not name.strip():
            raise ValueError("write your name: somebody must have read this")
        signed = Acknowledgement.model_validate({"danger": danger.cause, "by": name.strip(), "at": now()})
        self.by = name.strip()
        return self.change(
            self.case.model_copy(update={"acknowledged": [*self.case.acknowledged, signed]}),
            f"danger read: {self.adviser.base.causes[danger.cause].short}",
            insist=insist,
        )

    def unread_dangers(self) -> list[Danger]:
        """Open dangers that nobody has signed for yet."""
        signed = {one.danger for one in self.case.acknowledged}
        return [d for d in self.assessment.dangers if d.status == "open" and d.cause not in signed]
