"""Dangers: what must be said before anything else.

A danger is raised by a rule, or by a cause that has become probable; once it was shown for a case it stays raised. No
probability, however low, takes a raised danger away; only the check that clears it does, done as the step says, and
then it is shown as cleared. While one is open the car is not driven.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from vibdiag.advice.evidence import Findings
from vibdiag.knowledge.base import RuleBase
from vibdiag.reasoning.belief import Belief

__all__ = ["Danger", "find_dangers", "how_to_clear", "stands_still"]

_SHOWN_BEFORE = "It was raised earlier in this case, and stays until its check clears it."


@dataclass(frozen=True)
class Danger:
    """`because`: the reasons; `clear_with`: the step that would clear it; `status`: open or cleared."""

    cause: str
    says: str
    because: tuple[str, ...]
    probability: float
    clear_with: str | None
    status: Literal["open", "cleared"]


def find_dangers(
    findings: Findings, belief: Belief, base: RuleBase, *, shown: Collection[str] = ()
) -> tuple[Danger, ...]:
    """Open dangers first, among them what can take a wheel, the steering or the brakes, then the more probable.

    shown: the causes whose danger was shown before.

    The last result of the clearing check counts, also when it was got after the repair: that is when a mended part is
    looked at again. There it can also raise the danger anew.
    """
    found = []
    for cause in base.causes.values():
        text = cause.danger
        if text is None:
            continue
        probability = belief.of_cause(cause.id)
        because = findings.raised.get(cause.id, ())
        if not because and probability >= text.raise_above:
            because = (f"{cause.name} has become probable ({100 * probability:.0f} % that it is at work).",)
        if not because and cause.id in shown:
            because = (_SHOWN_BEFORE,)
        result = findings.newest.get(text.cleared_by or "")
        if result is not None and result.taken == "after" and result.outcome != text.clear_outcome:
            found_says = base.steps[result.step].outcomes[result.outcome].says
            because = (*because, f"After the repair '{base.steps[result.step].title}' found: {found_says}.")
        if not because:
            continue
        cleared = result is not None and result.how == "measured" and result.outcome == text.clear_outcome
        status: Literal["open", "cleared"] = "cleared" if cleared else "open"
        found.append(Danger(cause.id, text.says, because, probability, text.cleared_by, status))
    grave = {cause.id for cause in base.causes.values() if cause.danger is not None and cause.danger.stop_now}
    return tuple(
        sorted(
            found,
            key=lambda danger: (
                danger.status == "cleared",
                danger.cause not in grave,
                -danger.probability,
                danger.cause,
            ),
        )
    )


def stands_still(dangers: Iterable[Danger], *, read: Collection[str] = ()) -> bool:
    """Whether the car must not be driven yet: a danger is open that a check can clear, or that nobody has read.

    read: the causes whose danger somebody has signed for.
    """
    return any(
        danger.status == "open" and (danger.clear_with is not None or danger.cause not in read) for danger in dangers
    )


def how_to_clear(danger: Danger, base: RuleBase) -> str:
    """Which check, with which result, clears the danger, in one sentence."""
    text = base.causes[danger.cause].danger
    if text is None or text.cleared_by is None or text.clear_outcome is None:
        return "No single check clears it; a qualified person decides."
    step = base.steps[text.cleared_by]
    says = step.outcomes[text.clear_outcome].says
    return f"It is cleared by the check '{step.title}', done as the step says, with the result '{says}'."
