"""Everything known about a case, in order and in words: the entries of the trail."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from vibdiag.case.model import Case, StepResult
from vibdiag.case.strengths import read_words
from vibdiag.knowledge.base import RuleBase
from vibdiag.work.phrases import EFFECT_WORDS, found_words, said
from vibdiag.work.rounds import balance_words, name_of, see_round

__all__ = ["Entry", "entries"]

# How many folded lines of somebody's words stand in the list.
_WORDS = 6
_EFFECTS = {"brings": "brings it on", "worsens": "makes it worse", "unchanged": "changes nothing", "eases": "eases it"}
# What reopening writes into the notes, with the cause as the file has it.
_CLOSED_AS = re.compile(r"^Closed as ([a-z0-9-]+), ", re.MULTILINE)
# Parts of the complaint that are said in a way of their own.
_OWN_WAY = frozenset({"words", "speed", "conditions", "note"})


@dataclass(frozen=True)
class Entry:
    """`lines` to be folded; `step` where it can be changed or withdrawn; `most` lines are shown when folded."""

    lines: tuple[str, ...]
    step: str | None = None
    most: int | None = None


def entries(case: Case, base: RuleBase) -> Iterator[Entry]:
    """Every entry, as it was told, found, measured, read and done."""
    yield from _told(case)
    for result in case.steps:
        yield from _result(result, base)
    yield from _readings(case)
    for signed in case.acknowledged:
        when = f" {signed.at:%d %b %H:%M}" if signed.at else ""
        yield Entry((f"danger read: {base.causes[signed.danger].short}", f"  signed{when} · {signed.by}"))
    for repair in case.history.repairs:
        yield Entry((f"repair: {said(repair.what)}", f"  effect: {EFFECT_WORDS[repair.effect]}{_signed(repair.by)}"))
        yield from _quoted(repair.note)
    for one in case.attachments:
        yield Entry((f"recording: {one.path}", f"  {said(one.sensor_place)}, {said(one.taken)}"))
    yield from _quoted(_CLOSED_AS.sub(lambda found: _cause_named(found[1], base), case.notes or ""), "notes: ")


def _cause_named(cause: str, base: RuleBase) -> str:
    return f"Closed as {base.causes[cause].short if cause in base.causes else cause}, "


def _told(case: Case) -> Iterator[Entry]:
    """What the complaint itself says, before any step."""
    told, speed = case.complaint, case.complaint.speed
    yield from _quoted(told.words)
    named = [f"{name} at {value:g}" for name in ("starts", "worst", "fades") if (value := getattr(speed, name))]
    if named:
        source = "" if speed.read_from == "unknown" else f", {said(speed.read_from)}"
        yield Entry((f"  {', '.join(named)} {speed.unit}{source}",))
    yield from (Entry((f"  {line}",)) for line in _known(told))
    for field, effect in told.conditions.model_dump().items():
        if effect != "unknown":
            yield Entry((f"  {field.replace('_', ' ')} {_EFFECTS[effect]}",))
    yield from (Entry((f"  before: {said(event.what)}",)) for event in case.history.events)
    yield from (Entry((f"  not before: {said(event)}",)) for event in case.history.not_happened)
    yield from (Entry((f"  balanced, {line}",)) for line in _known(case.history.balance))
    yield from (Entry((f"  {line}",)) for line in _known(case.history))
    yield from (Entry((f"  seen, {line}",)) for line in _known(case.seen))
    yield from _quoted(case.seen.note)


def _known(part: BaseModel) -> Iterator[str]:
    """Each field that holds a word, words or a number, by name."""
    for name in type(part).model_fields:
        value = getattr(part, name)
        if name in _OWN_WAY or value is None or value in ("", "unknown"):
            continue
        field = name.replace("_", " ")
        if isinstance(value, str):
            yield f"{field}: {said(value)}"
        elif isinstance(value, int | float):
            yield f"{field}: {value:g}"
        elif isinstance(value, list) and value and name != "not_happened" and all(isinstance(w, str) for w in value):
            yield f"{field}: {', '.join(said(word) for word in value)}"


def _result(result: StepResult, base: RuleBase) -> Iterator[Entry]:
    step = base.steps[result.step]
    strengths, note = read_words(result.words)
    felt = ", ".join(f"{held} {strength}" for held, strength in strengths.items())
    how = {"measured": "", "looked": " (a quick look)", "told": " (told)"}[result.how]
    when = f" {result.at:%d %b %H:%M}" if result.at else ""
    lines = [f"  {found_words(step, result.outcome)}{how}{when}{_signed(result.by)}"]
    lines += [f"  strength of 10: {felt}"] if felt else []
    after = result.taken == "after"
    quoted = " ".join(note.split())
    lines += [f"  “{quoted}”"] if quoted else []
    title = f"after the repair: {step.title}" if after else step.title
    yield Entry((title, *lines), step=None if after else result.step)


def _readings(case: Case) -> Iterator[Entry]:
    for reading in case.measurements:
        wheel = "" if reading.wheel == "unknown" else f", {said(reading.wheel)}"
        after = " after the repair" if reading.taken == "after" else ""
        yield Entry((f"{said(reading.quantity)}{wheel}{after}: {reading.value:g} {reading.unit}",))
        yield from _quoted(reading.note)
    for one in case.readings:
        after = " after the repair" if one.taken == "after" else ""
        yield Entry((f"{name_of(one)}{after}: {one.places} readings, {said(see_round(one).sign)}",))
    for shown in case.balance_readings:
        after = " after the repair" if shown.taken == "after" else ""
        wheel = "" if shown.wheel == "unknown" else f" {said(shown.wheel)}"
        yield Entry((f"balance{wheel}{after}: {balance_words(case, shown)}",))


def _quoted(words: str | None, name: str = "") -> Iterator[Entry]:
    """Somebody's words in one paragraph; nothing where there are none."""
    plain = " ".join((words or "").split())
    if plain:
        yield Entry((f"  {name}“{plain}”",), most=_WORDS)


def _signed(by: str | None) -> str:
    return f" · {by}" if by else ""
