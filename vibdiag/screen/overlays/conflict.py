"""Two people entered different things at the same place: both are shown whole, and somebody decides."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from vibdiag.knowledge.base import RuleBase
from vibdiag.merging.conflict import Conflict
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.phrases import found_words, place_words, value_words

__all__ = ["ConflictOverlay"]

# An answer, as the merge names it.
_STEP = re.compile(r"steps\[([^,\]]+)(, after)?\]\.outcome$")


class ConflictOverlay(Overlay[bool]):
    """Returns True when yours is to stand after all; closed without that, the other's stands as it does already."""

    heading = "TWO ANSWERS to the same thing    nothing was overwritten"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "close", "Theirs stands"),
        Binding("ctrl+s", "insist", "Mine stands"),
    ]

    def __init__(self, conflicts: Sequence[Conflict], base: RuleBase, *, may_insist: bool = True) -> None:
        super().__init__()
        self.conflicts, self.base = conflicts, base
        self.may_insist = may_insist

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        return action != "insist" or self.may_insist

    def body(self) -> ComposeResult:
        lines = [line for conflict in self.conflicts for line in _lines(conflict, self.base)]
        if self.may_insist:
            lines.append("Talk to each other when in doubt. Ctrl+S puts yours in its place; undo brings theirs back.")
        else:
            lines.append("These two cannot stand together; close this, look at the case, and enter what is right.")
        with VerticalScroll():
            yield Static("\n".join(lines), classes="sheet-text", markup=False)

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_insist(self) -> None:
        self.hand_over(True)


def _lines(conflict: Conflict, base: RuleBase) -> Iterator[str]:
    step = _STEP.match(conflict.field)
    text = base.steps.get(step[1]) if step else None
    names = {cause.id: cause.short for cause in base.causes.values()}

    def whole(value: Any) -> str:
        """However long: what somebody typed must not be lost here."""
        if text is not None and isinstance(value, str):
            return found_words(text, value)
        return value_words(value, base.steps, names)

    who = "somebody else" if conflict.who == "unknown" else conflict.who
    when = f" at {conflict.at.astimezone():%H:%M}" if conflict.at else ""
    yield (
        f"{text.title}{' (after the repair)' if step[2] else ''}"
        if step and text
        else place_words(conflict.field, base.steps, names)
    )
    yield f"  {who}{when}: {whole(conflict.theirs)}"
    yield f"  you: {whole(conflict.yours)}"
    yield f"  before: {whole(conflict.base)}"
    yield ""
