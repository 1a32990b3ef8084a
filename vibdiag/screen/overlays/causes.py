"""The causes, opened: for the selected one what speaks for it, what against, and what single result would change it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.events import Resize
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from vibdiag.advice.assess import Assessment, RankedCause, Reason
from vibdiag.advice.overturn import Overturn
from vibdiag.knowledge.base import RuleBase
from vibdiag.screen.causes_panel import moved, percent
from vibdiag.screen.listing import Listing
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.phrases import said

__all__ = ["CausesOverlay"]

# From this many columns on, the reasons stand beside the list; below it they would be folded to shreds.
WIDE = 120


class CausesOverlay(Overlay[None]):
    """Move with the arrow keys; the reasons follow."""

    heading = "CAUSES    arrows move, Tab goes to the reasons"
    help_topic = "causes"

    def __init__(
        self, assessment: Assessment, previous: Assessment | None, turns: tuple[Overturn, ...], base: RuleBase
    ) -> None:
        super().__init__()
        self.assessment, self.turns, self.base = assessment, turns, base
        self.before = {cause.id: cause.probability for cause in previous.causes} if previous else {}

    def body(self) -> ComposeResult:
        with Horizontal(classes="split"):
            yield Listing(id="cause-list", markup=False)
            with VerticalScroll(id="reasons"):
                yield Static(id="reason-text", markup=False)

    def on_mount(self) -> None:
        box = self.query_one("#cause-list", OptionList)
        for place, cause in enumerate(self.assessment.causes, 1):
            box.add_option(Option(_line(place, cause, self.before.get(cause.id)), id=cause.id))
        box.highlighted = 0
        box.focus()

    def on_resize(self, event: Resize) -> None:
        self.set_class(event.size.width < WIDE, "narrow")

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        cause = next(cause for cause in self.assessment.causes if cause.id == event.option.id)
        self.query_one("#reason-text", Static).update("\n".join(self.lines(cause)))
        self.query_one("#reasons", VerticalScroll).scroll_home(animate=False)

    def lines(self, cause: RankedCause) -> list[str]:
        known = self.base.causes[cause.id]
        split = "   ".join(f"{axle} {percent(share)}" for axle, share in cause.axles.items())
        lines = [f"{cause.name}   {percent(cause.probability)}", split]
        if cause.wheels:
            lines.append(
                "   ".join(f"{wheel.replace('-', ' ')} {percent(chance)}" for wheel, chance in cause.wheels.items())
            )
        for other, both in cause.together:
            sure = "together" if both >= 0.5 else "perhaps together"
            lines.append(f"{sure} with: {self.base.causes[other].short} (both at once {percent(both)})")
        lines.append("")
        if self.assessment.undecided:
            lines += ["? Cannot tell yet: no cause leads clearly.", ""]
        if self.assessment.surprise.verdict == "nothing fits":
            lines += ["? What is known fits none of the causes here well. Restate the complaint.", ""]
        elif self.assessment.surprise.verdict == "odd":
            lines += ["? What is known is odd even for the first cause.", ""]
        if known.danger is not None:
            lines += [f"! {known.danger.says}", ""]
        lines += ["FOR", *(_reason(reason) for reason in cause.speaks_for[:8]), ""]
        lines += ["AGAINST", *(_reason(reason) for reason in cause.speaks_against[:8]), ""]
        lines += ["WHAT WOULD CHANGE THIS"]
        lines += [
            f"  {turn.step.title}: {turn.step.outcomes[turn.word].says} ({percent(turn.probability)} likely)\n"
            f"     -> {self.base.causes[turn.cause].short} {percent(turn.would_be)}"
            for turn in self.turns
        ] or ["  No single result would put another cause first."]
        lines += ["", f"What it is: {known.definition}"]
        if known.looks_like:
            alike = ", ".join(self.base.causes[other].short for other in known.looks_like)
            lines.append(f"Looks like: {alike}")
        return [*lines, "", "MEND", known.repair.does, f"Proof: {known.repair.proof}", f"! {known.repair.caution}"]


def _line(place: int, cause: RankedCause, before: float | None) -> str:
    return f"{place:2} {cause.short:27.27}{percent(cause.probability):>6} {moved(cause.probability, before)}".rstrip()


def _reason(reason: Reason) -> str:
    doubt = ", told or only looked at" if reason.doubted else ""
    return f"  {reason.decibans:+5.1f}  {reason.name}: {said(reason.word)}{doubt}\n         {reason.because}"
