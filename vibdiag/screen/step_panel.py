"""The middle of a case: draws the one thing to do now so that caution and outcomes stay in sight, and turns keys into
messages."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable
from time import monotonic
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.events import Key
from textual.widgets import Input, Static

from vibdiag.screen.messages import Answered, DangerRead
from vibdiag.screen.step_text import Now, Parts, parts_of

__all__ = ["Now", "StepPanel"]

# A danger that came up just now was not read yet: whatever is pressed in this time was meant for something else.
IN_SIGHT_S = 1.0

# Fewer rows than this for what is to be done would show nothing of it.
_LEAST_ROWS = 2
# From so many rows on, one of them says that there is more.
_ROWS_FOR_HINT = 4
_READS_ON = "   · · ·  Page Down reads on  · · ·"
# What stands around the panel beside a causes strip of three lines: top line, strip, footer, and its own padding.
_AROUND = 7


class StepPanel(Vertical):
    """Draws `Now`; knows nothing of the case. Page keys scroll what is to be done, between caution and outcomes."""

    can_focus = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(key, f"scroll('{way}')", show=False)
        for key, way in (
            ("up", "up"),
            ("down", "down"),
            ("pageup", "page_up"),
            ("pagedown", "page_down"),
            ("home", "home"),
            ("end", "end"),
        )
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.now = Now()
        self.names: dict[str, str] = {}
        self.danger: str | None = None
        self.since = 0.0

    def compose(self) -> ComposeResult:
        yield Static(id="step-text", markup=False)
        with VerticalScroll(id="step-how", can_focus=False):
            yield Static(id="step-manner", markup=False)
        yield Static(id="step-outcomes", markup=False)
        yield Input(placeholder="your name", id="danger-name")

    def show(self, now: Now, names: dict[str, str], *, signer: str) -> None:
        self.now, self.names = now, names
        box = self.query_one("#danger-name", Input)
        box.display = now.danger is not None
        self.set_class(now.danger is not None, "danger")
        self.draw()
        danger = None if now.danger is None else now.danger.cause
        if danger != self.danger:
            # Keys that were typed ahead for something else neither land in the box nor sign.
            self.danger, self.since, box.value = danger, monotonic(), signer
            if box.has_focus:
                self.focus()
            if danger is not None and not signer:
                self.set_timer(max(IN_SIGHT_S, 0.01), self.ask_for_name)
        self.query_one("#step-how", VerticalScroll).scroll_home(animate=False)

    def ask_for_name(self) -> None:
        """Nobody is known who could sign: the name is what is typed next."""
        box = self.query_one("#danger-name", Input)
        if self.now.danger is not None and not box.value:
            box.focus()

    def on_key(self, event: Key) -> None:
        """A name that is begun before its box is ready is no command; Escape leaves the box, and nothing else."""
        box = self.query_one("#danger-name", Input)
        if box.has_focus and event.key == "escape":
            self.focus()
            event.stop()
            event.prevent_default()
            return
        waiting = self.now.danger is not None and not box.value and not box.has_focus
        if waiting and event.is_printable and monotonic() - self.since < IN_SIGHT_S:
            event.stop()
            event.prevent_default()

    # -- drawing ------------------------------------------------------------------------------------------------

    def draw(self) -> None:
        """Folded to the panel's width with hanging indents; what is to be done has the rows that are left."""
        columns = max(30, self.content_size.width - 1)
        rows = self.content_size.height - (1 if self.now.danger is not None else 0)
        parts = _folded(parts_of(self.now, self.names), columns)
        tight = _folded(parts_of(self.now, self.names, room=columns), columns)
        usual = self.app.size.height - _AROUND
        self.screen.set_class(_fixed(tight) + _LEAST_ROWS > usual, "cramped")
        if _fixed(parts) + len(parts.how) > rows:
            parts = tight
        if _fixed(parts) + _LEAST_ROWS > rows and rows > 0:
            # Not even this fits: everything scrolls, what may not be missed first.
            parts = Parts((), (*parts.head, *parts.foot, *parts.how), ())
        left = rows - _fixed(parts)
        if left < len(parts.how) and left >= _ROWS_FOR_HINT and parts.foot:
            parts, left = Parts(parts.head, parts.how, (_READS_ON, *parts.foot)), left - 1
        self.put("#step-text", parts.head)
        self.put("#step-manner", parts.how)
        self.put("#step-outcomes", parts.foot)
        how = self.query_one("#step-how", VerticalScroll)
        how.styles.height = min(len(parts.how), max(_LEAST_ROWS, left))

    def put(self, place: str, lines: Iterable[str]) -> None:
        text = "\n".join(lines)
        box = self.query_one(place, Static)
        box.update(text)
        box.display = bool(text)

    def on_resize(self) -> None:
        self.draw()

    def action_scroll(self, way: str) -> None:
        getattr(self.query_one("#step-how", VerticalScroll), f"scroll_{way}")(animate=False)

    # -- what is pressed ----------------------------------------------------------------------------------------

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.sign()

    def sign(self) -> None:
        """Somebody signs for having read the danger in hand, once it has been in sight long enough to be read."""
        if self.now.danger is None or monotonic() - self.since < IN_SIGHT_S:
            return
        box = self.query_one("#danger-name", Input)
        name = box.value.strip()
        if any(sign.isalpha() for sign in name):  # digits alone were meant as an answer
            self.post_message(DangerRead(self.now.danger.cause, name))
        else:
            box.focus()
            self.notify("Write your name, then Enter: somebody must have read this.", severity="warning")

    def choose(self, number: int) -> None:
        """Answer the step in hand with its outcome `number` from 1; 0 is don't know."""
        if self.now.step is None:
            return
        words = list(self.now.step.outcomes)
        if number == 0:
            self.post_message(Answered(self.now.step.id, "unknown"))
        elif number <= len(words):
            self.post_message(Answered(self.now.step.id, words[number - 1]))


def _fixed(parts: Parts) -> int:
    """Rows that stay in sight."""
    return len(parts.head) + len(parts.foot)


def _folded(parts: Parts, columns: int) -> Parts:
    return Parts(
        *(
            tuple(part for line in lines for part in _fold(line, columns))
            for lines in (parts.head, parts.how, parts.foot)
        )
    )


_HANGING = re.compile(r"^( *(?:\[\d\]|\d+\.|[-!?=“]|!!) ?| *)")


def _fold(line: str, columns: int) -> list[str]:
    """`line` folded at `columns`, continued under the text and not under its number or sign."""
    lead = _HANGING.match(line)
    indent = " " * (len(lead.group(0)) if lead else 0)
    together = line.replace(" %", "\u00a0%")  # a number stays with its per cent sign
    folded = textwrap.wrap(together, columns, subsequent_indent=indent, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in folded] or [""]
