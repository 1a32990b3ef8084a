"""One car on the bench: every question, check and repair costs its minutes, and a repair shows whether it was right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from vibdiag.knowledge.base import RuleBase
from vibdiag.trial.cars import Car

__all__ = ["PROOF_MINUTES", "Bench", "Visit"]

# The road test that shows whether the shake is gone (common practice).
PROOF_MINUTES = 15.0


@dataclass(frozen=True)
class Visit:
    """`minutes`: of all steps, repairs and road tests; `wrong`: repairs that changed nothing."""

    solved: bool
    minutes: float
    steps: int
    repairs: int
    wrong: int


class Bench:
    def __init__(self, car: Car, base: RuleBase) -> None:
        self.car = car
        self.base = base
        self.left = set(car.causes)
        self.asked: set[str] = set()
        self.minutes = 0.0
        self.steps = self.repairs = self.wrong = 0

    def ask(self, step: str) -> str | None:
        self.minutes += self.base.steps[step].minutes
        self.steps += 1
        again = step in self.asked
        self.asked.add(step)
        return self.car.shows[self.base.steps[step].sign] if again else self.car.answers[step]

    def mend(self, causes: Iterable[str], minutes: float | None = None) -> Literal["gone", "partly", "none"]:
        """Mend what is in `causes`, then drive; the minutes are those of the causes' repairs unless given."""
        causes = set(causes)
        spent = sum(self.base.causes[cause].repair.minutes for cause in causes) if minutes is None else minutes
        self.minutes += spent + PROOF_MINUTES
        self.repairs += 1
        mended = self.left & causes
        self.left -= causes
        if not mended:
            self.wrong += 1
            return "none"
        return "partly" if self.left else "gone"

    def visit(self) -> Visit:
        return Visit(not self.left, self.minutes, self.steps, self.repairs, self.wrong)
