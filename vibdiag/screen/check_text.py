"""A bay check in words: its head with the caution, its outcomes with what each would leave, and how it is done."""

from __future__ import annotations

from collections.abc import Mapping

from vibdiag.advice.next_step import StepAdvice
from vibdiag.case.model import StepResult
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.causes_panel import percent
from vibdiag.screen.folding import fitted
from vibdiag.work.phrases import telling

__all__ = ["HOWS", "check_head", "check_line", "check_manner", "outcome_lines"]

# Columns for what a check found, beside its name.
_FOUND = 20

HOWS: Mapping[str, str] = {"measured": "done as it says", "looked": "a quick look", "told": "somebody's verdict"}


def check_line(step: StepText, advice: StepAdvice | None, result: StepResult | None, *, cells: int) -> str:
    """One check in the list: its name, minutes, and what it tells or what it showed."""
    if result is not None:
        found = step.outcomes[result.outcome].says if result.outcome in step.outcomes else "don't know"
        tail = f"= {found}" if result.how == "measured" else f"= {found} ({result.how})"
        return fitted(f"{fitted(step.title, max(12, cells - _FOUND))} {tail}", cells)
    tells = "danger" if advice and advice.clears else telling(advice.worth_bits) if advice else "little"
    room = max(12, cells - 15)
    return f"{fitted(step.title, room):{room}} {step.minutes:3g} min {tells:>6}"


def check_head(step: StepText, advice: StepAdvice | None, result: StepResult | None, how: str) -> list[str]:
    """Name, cost and worth, the caution, and how the result that is entered next was got."""
    facts = [f"{step.minutes:g} min"]
    if advice and advice.clears:
        facts.append("clears a danger")
    elif advice:
        facts.append(f"tells {telling(advice.worth_bits)}")
    facts += [", ".join(step.tools)] if step.tools else []
    lines = [step.title.upper(), "   ".join(facts)]
    if step.caution:
        lines.append(f"! CAUTION: {step.caution}")
    if result is not None and result.outcome in step.outcomes:
        lines.append(f"= Found before: {step.outcomes[result.outcome].says} ({HOWS[result.how]})")
    return [*lines, f"Result got by: {how}, {HOWS[how]}"]


def outcome_lines(step: StepText, advice: StepAdvice | None, names: Mapping[str, str]) -> list[tuple[str, str]]:
    """Each outcome's word with its line: the key, what was found, how likely it is, and the cause it would leave."""
    foretold = {outcome.word: outcome for outcome in advice.outcomes} if advice else {}
    lines = []
    for number, (word, text) in enumerate(step.outcomes.items(), 1):
        leads = ""
        if word in foretold and foretold[word].leaves:
            cause, chance = foretold[word].leaves[0]
            leads = f"   {percent(foretold[word].probability)} likely → {names[cause]} {percent(chance)}"
        lines.append((word, f"[{number}] {text.says}{leads}"))
    return [*lines, ("unknown", "[0] Don't know")]


def check_manner(step: StepText) -> list[str]:
    """How it is done, in the order of the work; then limits with their sources, and why it is worth doing."""
    lines = [step.technician, ""]
    lines += [f"{number}. {text}" for number, text in enumerate(step.steps, 1)]
    lines += ["", *(f"Limit: {limit.says} ({limit.source})" for limit in step.limits)]
    return [*lines, "", f"Why: {step.why}"]
