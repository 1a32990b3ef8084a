"""The assessment in words, for a terminal: dangers, causes with reasons, what does not fit, the next steps."""

from __future__ import annotations

from collections.abc import Iterator

from vibdiag.advice.assess import Assessment, RankedCause, Reason
from vibdiag.advice.danger import Danger
from vibdiag.advice.next_step import StepAdvice
from vibdiag.commands.output import bar, paragraph
from vibdiag.work.phrases import telling

__all__ = ["CLOSING", "assessment_lines", "share"]

CLOSING = (
    "The tool advises; a qualified person decides. The vehicle maker's figures, local law and licensed practice rule."
)
_LEAST_SHOWN = 0.02
_MOST_SHOWN = 6
_WHO = {"desk": "desk", "road": "road test", "bay": "bay"}
_KIND = {"question": "Ask", "road": "On the road", "check": "In the bay"}


def share(probability: float) -> str:
    """A probability as a person says it: no false precision at the ends.

    >>> share(0.997), share(0.42), share(0.004)
    ('> 99 %', '42 %', '< 1 %')
    """
    if probability > 0.99:
        return "> 99 %"
    if probability < 0.01:
        return "< 1 %"
    return f"{probability:.0%}".replace("%", " %")


def _danger(danger: Danger) -> Iterator[str]:
    mark = "DANGER" if danger.status == "open" else "Danger, cleared by check"
    yield paragraph(f"{mark}: {danger.says}", indent="   ", first="!! ")
    for reason in danger.because:
        yield paragraph(reason, indent="     ", first="   - ")


def _where(cause: RankedCause) -> str:
    if cause.axle is None or cause.probability <= 0.0:
        return ""
    if cause.wheel is not None:
        return f"{cause.wheel.replace('-', ' ')} {cause.wheels[cause.wheel]:.0%}".replace("%", " %")
    part = cause.axles[cause.axle] / cause.probability
    return f"{cause.axle} {part:.0%}".replace("%", " %") if part >= 0.55 else "front or rear"


def _reasons(reasons: tuple[Reason, ...], count: int, said: set[str]) -> Iterator[str]:
    """A reason's `because` is printed the first time only; the sign and its word every time."""
    for reason in reasons[:count]:
        doubt = " (told or only looked at)" if reason.doubted else ""
        why = "" if reason.sign in said else f". {reason.because}"
        said.add(reason.sign)
        text = f"{reason.decibans:+5.1f}  {reason.name}: {reason.word}{doubt}{why}"
        yield paragraph(text, indent=" " * 12, first="   ")


def _causes(assessment: Assessment, reasons: int) -> Iterator[str]:
    names = {cause.id: cause.short for cause in assessment.causes}
    shown = [c for c in assessment.causes if c.probability >= _LEAST_SHOWN][:_MOST_SHOWN]
    said: set[str] = set()
    for place, cause in enumerate(shown, 1):
        chance = f"{bar(cause.probability)} {share(cause.probability):>6}"
        yield f"{place:2} {cause.short:28} {chance}  {_where(cause)}".rstrip()
        told = {one.id for one in shown[: place - 1]}
        for other, both in cause.together:
            if other not in told:
                sure = "together" if both >= 0.5 else "perhaps together"
                yield f"      {sure} with: {names[other]} (both at once {share(both)})"
        if place <= 3:
            yield from _reasons(cause.speaks_for, reasons, said)
            yield from _reasons(cause.speaks_against, reasons, said)
    rest = 1.0 - sum(cause.probability for cause in shown)
    if rest >= 0.005:
        yield f"   {'all others together':28} {bar(rest)} {share(rest):>6}"


def _step(place: int, advice: StepAdvice, names: dict[str, str]) -> Iterator[str]:
    step = advice.step
    who = " or ".join(_WHO[person] for person in step.who)
    tells = "clears a danger" if advice.clears else f"tells {telling(advice.worth_bits)}"
    yield paragraph(
        f"{step.title}   [{step.id}; {who}; {step.minutes:g} min; {tells}]",
        indent="      ",
        first=f"{place:2} {_KIND[step.kind]}: ",
    )
    if step.ask:
        yield paragraph(f"“{step.ask}”", indent="      ")
    for instruction in step.steps:
        yield paragraph(instruction, indent="        ", first="      - ")
    yield paragraph(f"Why: {step.why}", indent="      ")
    if step.caution:
        yield paragraph(f"Caution: {step.caution}", indent="      ")
    for outcome in advice.outcomes:
        leaves = ", ".join(f"{names[cause]} {share(chance)}" for cause, chance in outcome.leaves[:2])
        yield paragraph(
            f"{outcome.says} ({share(outcome.probability)}): {leaves}", indent="          ", first="      > "
        )


def assessment_lines(assessment: Assessment, *, reasons: int = 4) -> Iterator[str]:
    """The whole answer as lines of text, the most urgent first."""
    case = assessment.case
    title = case.title or case.id
    yield paragraph(f"{title}{'   (invented case)' if case.invented else ''}")
    yield ""
    for danger in assessment.dangers:
        yield from _danger(danger)
    if assessment.stands_still:
        yield paragraph("The car is not driven, and no road test is offered, until that is cleared.", indent="   ")
    if assessment.dangers:
        yield ""
    yield f"Causes, from {len(assessment.belief.evidence)} known signs (decibans: 10 is ten to one, 3 is two to one)"
    if assessment.undecided:
        yield paragraph(
            "Cannot tell yet: no cause leads clearly. The next step is the one that tells most.", indent="   "
        )
    yield from _causes(assessment, reasons)
    if assessment.surprise.verdict in ("odd", "nothing fits"):
        text = (
            "What is known fits no cause here well."
            if assessment.surprise.verdict == "nothing fits"
            else "What is known is odd even for the likeliest cause."
        )
        yield paragraph(f"{text} Restate the complaint before parts are bought.", indent="   ", first=" ? ")
    for clash in assessment.clashes:
        again = f" Ask again: {clash.ask}." if clash.ask else ""
        yield paragraph(f"Does not fit together: {clash.says}{again}", indent="   ", first=" ? ")
    yield ""
    names = {cause.id: cause.short for cause in assessment.causes}
    if assessment.repair is not None:
        repair = assessment.repair
        yield paragraph(f"Mend: {repair.does} ({repair.minutes:g} min)", indent="      ", first=" = ")
        yield paragraph(f"Proof: {repair.proof}", indent="      ", first="   ")
        yield paragraph(f"Caution: {repair.caution}", indent="      ", first="   ")
        yield ""
    if assessment.next:
        yield "Next"
        for place, advice in enumerate(assessment.next, 1):
            yield from _step(place, advice, names)
    else:
        text = "Next: no question or check left that tells more; repair by probability, or restate the complaint."
        yield paragraph(text, indent="      ", first="")
    yield ""
    yield paragraph(CLOSING)
