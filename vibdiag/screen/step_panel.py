"""The one thing to do now: a danger to read, a question to ask, a check to make, a repair, or that nothing is left."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass
from time import monotonic

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from vibdiag.advice.danger import Danger
from vibdiag.advice.evidence import Clash
from vibdiag.advice.next_step import Outcome, RepairAdvice
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.causes_panel import percent
from vibdiag.screen.messages import Answered, DangerRead

__all__ = ["Now", "StepPanel"]

# A danger that came up just now was not read yet: whatever is pressed in this time was meant for something else.
IN_SIGHT_S = 1.0

_KIND = {"question": "ASK", "road": "ON THE ROAD", "check": "IN THE BAY"}


@dataclass(frozen=True)
class Now:
    """What the middle shows. Exactly one of `danger` and `step` is set, or neither when something plain is to be
    read (a red flag, a closed case) or nothing is left to do."""

    danger: Danger | None = None
    step: StepText | None = None
    outcomes: tuple[Outcome, ...] = ()
    clash: Clash | None = None
    gain_bits: float = 0.0
    clears: str | None = None
    repair: RepairAdvice | None = None
    questions_left: int | None = None
    answered: str | None = None
    meanwhile: bool = False
    plain: tuple[str, ...] = ()


class StepPanel(VerticalScroll):
    """Draws `Now` and turns keys into messages; knows nothing of the case."""

    can_focus = True

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.now = Now()
        self.names: dict[str, str] = {}
        self.danger: str | None = None
        self.since = 0.0

    def compose(self) -> ComposeResult:
        yield Static(id="step-text", markup=False)
        yield Input(placeholder="your name", id="danger-name")

    def show(self, now: Now, names: dict[str, str], *, signer: str) -> None:
        self.now, self.names = now, names
        self.draw()
        box = self.query_one("#danger-name", Input)
        box.display = now.danger is not None
        self.set_class(now.danger is not None, "danger")
        danger = None if now.danger is None else now.danger.cause
        if danger != self.danger:
            # Keys that were typed ahead for something else neither land in the box nor sign.
            self.danger, self.since, box.value = danger, monotonic(), signer
            if box.has_focus:
                self.focus()
        self.scroll_home(animate=False)

    def draw(self) -> None:
        """The text, folded to the panel's width with hanging indents."""
        columns = max(30, self.content_size.width - 1)
        lines = [folded for line in _lines(self.now, self.names) for folded in _fold(line, columns)]
        self.query_one("#step-text", Static).update("\n".join(lines))

    def on_resize(self) -> None:
        self.draw()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.sign()

    def sign(self) -> None:
        """Somebody signs for having read the danger in hand, once it has been in sight long enough to be read."""
        if self.now.danger is None or monotonic() - self.since < IN_SIGHT_S:
            return
        box = self.query_one("#danger-name", Input)
        if name := box.value.strip():
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


_HANGING = re.compile(r"^( *(?:\[\d\]|\d+\.|[-!?=“]|!!) ?| *)")


def _fold(line: str, columns: int) -> list[str]:
    """`line` folded at `columns`, continued under the text and not under its number or sign."""
    lead = _HANGING.match(line)
    indent = " " * (len(lead.group(0)) if lead else 0)
    together = line.replace(" %", "\u00a0%")  # a number stays with its per cent sign
    folded = textwrap.wrap(together, columns, subsequent_indent=indent, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in folded] or [""]


def _lines(now: Now, names: dict[str, str]) -> list[str]:
    if now.danger is not None:
        return _danger_lines(now.danger, now.clears)
    if now.plain:
        return list(now.plain)
    if now.step is not None:
        return _step_lines(now, now.step, names)
    return _nothing_lines(now)


def _danger_lines(danger: Danger, check: str | None) -> list[str]:
    lines = ["!!  DANGER  !!", "", danger.says, ""]
    lines += [f"- {reason}" for reason in danger.because]
    clear = f"It stays open until this check clears it: {check}" if check else ""
    sign = "Tell the customer. Then sign for having read it: Ctrl+S (Tab changes the name below)."
    return [*lines, "", sign, clear, ""]


def _step_lines(now: Now, step: StepText, names: dict[str, str]) -> list[str]:
    head = f"{_KIND[step.kind]}   {step.title}"
    facts = [f"{step.minutes:g} min"]
    if now.clears:
        facts.append("clears a danger")
    elif now.gain_bits:
        facts.append(f"tells {now.gain_bits:.2f} bits")
    if now.questions_left is not None and step.kind == "question":
        more = f"about {now.questions_left} more to ask" if now.questions_left else "little more to ask"
        facts.append(more)
    lines = [head, "   ".join(facts), ""]
    if now.meanwhile:
        lines += ["! Somebody else has just answered this: s goes on, a digit changes it.", ""]
    if now.clash is not None:
        lines += [f"? Does not fit together: {now.clash.says}", "  Please ask once more:", ""]
    lines += [f"“{step.ask}”" if step.ask else step.technician, ""]
    lines += [f"{number}. {text}" for number, text in enumerate(step.steps, 1)]
    if step.steps:
        lines.append("")
    if step.tools:
        lines += [f"Tools: {', '.join(step.tools)}", ""]
    if step.caution:
        lines += [f"! CAUTION: {step.caution}", ""]
    for limit in step.limits:
        lines.append(f"Limit: {limit.says} ({limit.source})")
    if step.limits:
        lines.append("")
    by_word = {outcome.word: outcome for outcome in now.outcomes}
    for number, (word, text) in enumerate(step.outcomes.items(), 1):
        chosen = " <- answered so" if now.answered == word else ""
        leads = ""
        if word in by_word and by_word[word].leaves:
            cause, chance = by_word[word].leaves[0]
            leads = f"   -> {names[cause]} {percent(chance)}"
        lines.append(f" [{number}] {text.says}{chosen}{leads}")
    chosen = " <- answered so" if now.answered == "unknown" else ""
    lines += [f" [0] Don't know{chosen}", "", f"Why: {step.why}"]
    if now.repair is not None:
        lines += [
            "",
            f"= Sure enough to mend ({percent(now.repair.probability)}): {now.repair.does}",
            "  Key p: repair and proof.",
        ]
    return lines


def _nothing_lines(now: Now) -> list[str]:
    if now.repair is not None:
        return [
            "MEND",
            "",
            now.repair.does,
            f"about {now.repair.minutes:g} min",
            "",
            f"! CAUTION: {now.repair.caution}",
            "",
            f"Proof: {now.repair.proof}",
            "",
            "Key p: record the repair, then prove it on the same road.",
        ]
    return [
        "NO STEP LEFT THAT TELLS MORE",
        "",
        "For this role and these tools nothing more is worth the minutes.",
        "",
        "Key x: steps for another role.   Key l: choose any step.   Key p: repair and proof.",
    ]
