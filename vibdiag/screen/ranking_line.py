"""What a result did to the ranking, in one line: the first three causes, before and after."""

from __future__ import annotations

from vibdiag.advice.assess import Assessment
from vibdiag.screen.causes_panel import moved, percent

__all__ = ["ranking_line"]

_SHOWN = 3


def ranking_line(before: Assessment, now: Assessment) -> str:
    """`Bent rim 12 % -> 48 % ▲ 36`, for the first three now and for the former first when it fell out of them.

    A space that does not break holds each cause together, so that a narrow line breaks between them.
    """
    chances = {cause.id: cause.probability for cause in before.causes}
    shown = list(now.causes[:_SHOWN])
    former = before.causes[0].id
    if former not in {cause.id for cause in shown}:
        shown += [cause for cause in now.causes if cause.id == former]
    parts = [
        f"{cause.short} {percent(chances.get(cause.id, 0.0))} → {percent(cause.probability)} "
        f"{moved(cause.probability, chances.get(cause.id, 0.0))}"
        for cause in shown
    ]
    return "  ·  ".join(part.strip().replace(" ", "\u00a0") for part in parts)
