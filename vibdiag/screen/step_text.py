"""The one thing to do now, in words: what must always be seen on top and below, and what may scroll between them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from vibdiag.advice.danger import Danger
from vibdiag.advice.evidence import Clash
from vibdiag.advice.next_step import Outcome, RepairAdvice
from vibdiag.knowledge.forms import StepText
from vibdiag.screen.causes_panel import percent
from vibdiag.work.phrases import telling

__all__ = ["Now", "Parts", "parts_of"]

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


@dataclass(frozen=True)
class Parts:
    """Lines, not folded yet: `head` and `foot` stay in sight, `how` scrolls between them."""

    head: tuple[str, ...] = ()
    how: tuple[str, ...] = ()
    foot: tuple[str, ...] = ()


def parts_of(now: Now, names: Mapping[str, str], *, room: int | None = None) -> Parts:
    """What to show. With `room` columns it is written tight: no empty lines, name and cost in one line where they fit,
    and no outlook beside an outcome that would be folded for it."""
    if now.danger is not None:
        return _danger(now.danger, now.clears)
    if now.plain:
        return Parts(now.plain[:1], now.plain[1:])
    if now.step is None:
        return _nothing(now)
    head = [*_name(now, now.step, room), *_first(now, now.step, tight=room is not None)]
    outcomes = tuple(_outcomes(now, now.step, names, room))
    gap = () if room is not None else ("",)
    if now.step.kind == "question":
        ask = (f"“{now.step.ask}”", *gap) if now.step.ask else ()
        return Parts((*head, *ask, *outcomes), (*gap, *_why(now, now.step)))
    return Parts(tuple(head), (*_manner(now.step), *_why(now, now.step)), (*gap, *outcomes))


def _danger(danger: Danger, check: str | None) -> Parts:
    clear = f"It stays open until this check clears it: {check}" if check else ""
    sign = "Tell the customer. Then sign for having read it: Ctrl+S, with the name below (Tab goes there, Esc away)."
    foot = ("", sign, clear, "") if clear else ("", sign, "")
    return Parts(("!!  DANGER  !!", "", danger.says, ""), tuple(f"- {reason}" for reason in danger.because), foot)


def _name(now: Now, step: StepText, room: int | None) -> Iterator[str]:
    head = f"{_KIND[step.kind]}   {step.title}"
    facts = [f"{step.minutes:g} min"]
    if now.clears:
        facts.append("clears a danger")
    elif now.gain_bits:
        facts.append(f"tells {telling(now.gain_bits)}")
    if now.questions_left is not None and step.kind == "question":
        more = f"about {now.questions_left} more to ask" if now.questions_left else "little more to ask"
        facts.append(more)
    both = f"{head}   {'   '.join(facts)}"
    if room is not None and len(both) <= room:
        yield both
    else:
        yield head
        yield "   ".join(facts)
    if room is None:
        yield ""


def _first(now: Now, step: StepText, *, tight: bool) -> Iterator[str]:
    """What stands before everything else that is to be done, the caution last and next to it."""
    gap = [] if tight else [""]
    if now.meanwhile:
        yield "! Somebody else has just answered this: s goes on, a digit changes it."
        yield from gap
    if now.clash is not None:
        yield f"? Does not fit together: {now.clash.says}"
        yield "  Please ask once more:"
        yield from gap
    if step.caution:
        yield f"! CAUTION: {step.caution}"
        yield from gap


def _manner(step: StepText) -> Iterator[str]:
    """What to do, in the order of the work."""
    yield f"“{step.ask}”" if step.ask else step.technician
    yield ""
    yield from (f"{number}. {text}" for number, text in enumerate(step.steps, 1))
    if step.steps:
        yield ""
    if step.tools:
        yield f"Tools: {', '.join(step.tools)}"
        yield ""
    yield from (f"Limit: {limit.says} ({limit.source})" for limit in step.limits)
    if step.limits:
        yield ""


def _why(now: Now, step: StepText) -> Iterator[str]:
    yield f"Why: {step.why}"
    if now.repair is not None:
        yield ""
        yield f"= Sure enough to mend ({percent(now.repair.probability)}): {now.repair.does}"
        yield "  Key p: repair and proof."


def _outcomes(now: Now, step: StepText, names: Mapping[str, str], room: int | None) -> Iterator[str]:
    by_word = {outcome.word: outcome for outcome in now.outcomes}
    for number, (word, text) in enumerate(step.outcomes.items(), 1):
        line = f" [{number}] {text.says}{' <- answered so' if now.answered == word else ''}"
        leads = ""
        if word in by_word and by_word[word].leaves:
            cause, chance = by_word[word].leaves[0]
            leads = f"   -> {names[cause]} {percent(chance)}"
        yield line if room is not None and len(line + leads) > room else line + leads
    yield f" [0] Don't know{' <- answered so' if now.answered == 'unknown' else ''}"


def _nothing(now: Now) -> Parts:
    if now.repair is not None:
        return Parts(
            ("MEND", "", f"! CAUTION: {now.repair.caution}", ""),
            (now.repair.does, f"about {now.repair.minutes:g} min", "", f"Proof: {now.repair.proof}"),
            ("", "Key p: record the repair, then prove it on the same road."),
        )
    return Parts(
        ("NO STEP LEFT THAT TELLS MORE", ""),
        (
            "For this role and these tools nothing more is worth the minutes.",
            "",
            "Key x: steps for another role.   Key l: choose any step.   Key p: repair and proof.",
        ),
    )
