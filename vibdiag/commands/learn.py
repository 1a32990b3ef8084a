"""`vibdiag rules learn`: what confirmed cases would change in the tables, shown to a person and tested first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.advice.lessons import lesson_of
from vibdiag.case.model import Case
from vibdiag.commands.output import fail, input_errors, paragraph, print_json, say
from vibdiag.commands.where import faults_of_case, opened_shelf
from vibdiag.files.errors import InputError
from vibdiag.knowledge.check import find_faults
from vibdiag.knowledge.held_out import CrossValidation, Scores, cross_validate
from vibdiag.knowledge.learn import LEAST_CHANGE, Learned, Lesson, RowChange, learn, relearned
from vibdiag.knowledge.rewrite import refuse_wrong_target, write_copy

__all__ = ["LearnRequest", "learn_rules"]

_SELECTION = (
    "People tell what they noticed and seldom what they did not, so counted reports lean towards the unusual word. "
    "Take over a number only when the trade agrees with it, and write its source beside it."
)
_DANGERS = "Dangers are also raised by probability: see that none of them is shown less often than before."
_RATES = (
    "Base rates were counted too, as you asked. Counts of write-ups are no base rates: cases are told because they "
    "were hard. Only every car of a workshop, one after the other, tells how common a cause is there."
)


@dataclass(frozen=True)
class LearnRequest:
    """What was typed. `prior` overrides the `prior_strength` of the rule base; `write` is a folder to be made."""

    folder: Path | None
    prior: float | None
    write: Path | None
    base_rates: bool
    rules: Path | None


@dataclass(frozen=True)
class _Gathered:
    lessons: list[Lesson]
    open: int
    invented: int


def learn_rules(request: LearnRequest, *, as_json: bool) -> None:
    """Print every row that would change and the score on left-out cases; write a changed copy only when asked."""
    with input_errors():
        adviser = Adviser.shipped(request.rules)
        if request.write is not None:
            refuse_wrong_target(request.write, adviser.base)
        with opened_shelf(request.folder, None) as shelf:
            where = shelf.place
            gathered = _gather(list(shelf.each()), adviser, where)
        strength = adviser.base.settings.prior_strength if request.prior is None else request.prior
        learned = learn(adviser.base, gathered.lessons, strength=strength, base_rates=request.base_rates)
        tested = cross_validate(adviser.base, gathered.lessons, strength=strength, base_rates=request.base_rates)
        faults = [fault.message for fault in find_faults(relearned(adviser.base, learned), adviser.engine.evaluate)]
        if request.write is not None:
            if faults:
                raise InputError(f"not written, it would not be sound: {faults[0]}; use a stronger --prior")
            try:
                write_copy(adviser.base, learned, request.write, FACTS)
            except OSError as error:
                fail(f"{request.write} cannot be written: {error.strerror or error}")
    if as_json:
        print_json(_data(request, where, gathered, strength, learned, tested, faults))
    else:
        _text(request, gathered, strength, learned, tested, faults)


def _gather(pairs: Sequence[tuple[str, Case]], adviser: Adviser, where: str) -> _Gathered:
    """The lessons of the folder. Invented cases teach nothing, and a case that stands twice would vouch for itself."""
    twice = [case_id for case_id, count in Counter(case.id for _, case in pairs).items() if count > 1]
    if twice:
        files = " and ".join(Path(name).name for name, case in pairs if case.id == twice[0])
        raise InputError(f"{files} have the same id '{twice[0]}'; a case counts once, keep one", file=where)
    lessons: list[Lesson] = []
    for name, case in pairs:
        if case.invented:
            continue
        with faults_of_case(name):
            lesson = lesson_of(case, adviser)
        if lesson is not None:
            lessons.append(lesson)
    invented = sum(case.invented for _, case in pairs)
    if len(lessons) < 2:
        raise InputError(
            f"has {len(lessons)} case(s) to learn from; two or more must have a confirmed cause and not be invented",
            file=where,
        )
    return _Gathered(lessons, len(pairs) - invented - len(lessons), invented)


def _data(
    request: LearnRequest,
    where: str,
    gathered: _Gathered,
    strength: float,
    learned: Learned,
    tested: CrossValidation,
    faults: list[str],
) -> dict[str, Any]:
    return {
        "folder": where,
        "cases": len(gathered.lessons),
        "open": gathered.open,
        "invented": gathered.invented,
        "prior_strength": strength,
        "least_change": LEAST_CHANGE,
        "rows": [
            {
                "file": row.file,
                "cause": row.cause,
                "sign": row.sign,
                "axle": row.row,
                "from": dict(row.before),
                "to": dict(row.after),
                "cases": row.cases,
            }
            for row in learned.rows
        ],
        "base_rates": [
            {"file": rate.file, "cause": rate.cause, "from": rate.before, "to": rate.after, "cases": rate.cases}
            for rate in learned.rates
        ],
        "held_out": {
            "folds": tested.folds,
            "unlearned": asdict(tested.unlearned),
            "learned": asdict(tested.learned),
        },
        "faults": faults,
        "written": None if request.write is None else str(request.write),
    }


def _text(
    request: LearnRequest,
    gathered: _Gathered,
    strength: float,
    learned: Learned,
    tested: CrossValidation,
    faults: list[str],
) -> None:
    say(
        paragraph(
            f"{len(gathered.lessons)} confirmed cases; left out: {gathered.open} without a confirmed cause, "
            f"{gathered.invented} invented. A table row is worth {strength:g} imagined cases."
        )
    )
    say()
    say(paragraph(_proposed(learned)))
    for file, rows in groupby(learned.rows, key=lambda row: row.file):
        say(f"  {file}")
        for row in rows:
            _say_row(row)
    if request.base_rates:
        _say_rates(learned)
    say()
    _say_scores(tested)
    say()
    say(paragraph(_verdict(tested)))
    if faults:
        say("The rule base would not be sound with them, so they cannot be written:")
        for fault in faults:
            say(paragraph(fault, first="  ", indent="  "))
    say(paragraph(_SELECTION))
    say(paragraph(_DANGERS))
    if request.write is None:
        say()
        say("Nothing was written. --write FOLDER makes a changed copy of the rules.")
    else:
        say(paragraph(f"Written: {request.write}. Prove it: vibdiag rules check {request.write}"))


def _proposed(learned: Learned) -> str:
    if not learned.rows:
        return f"No row would change by more than {LEAST_CHANGE:g}."
    count = len(learned.rows)
    return f"Proposed: {count} row{'s' if count != 1 else ''} that would change by more than {LEAST_CHANGE:g}"


def _say_row(row: RowChange) -> None:
    axle = "" if row.row == "any" else f", {row.row} axle"
    say(f"    {row.sign}{axle} ({row.cases} case{'s' if row.cases != 1 else ''})")
    say(paragraph(_moves(row.before, row.after), first="      ", indent="      "))


def _moves(before: Mapping[str, float], after: Mapping[str, float]) -> str:
    return ", ".join(f"{word} {before[word]:g} -> {after[word]:g}" for word in before if before[word] != after[word])


def _say_rates(learned: Learned) -> None:
    say()
    say(paragraph(_RATES))
    for rate in learned.rates:
        say(f"  {rate.cause:30}{rate.before:8g} -> {rate.after:<8g}{rate.cases:5} case{'s' if rate.cases != 1 else ''}")


def _say_scores(tested: CrossValidation) -> None:
    before, after = tested.unlearned, tested.learned
    how = "each alone" if tested.folds == len(before.cases) else f"in {tested.folds} groups"
    say(f"Tested on {len(before.cases)} cases that were left out of learning, {how}:")
    say(f"{'':30}{'as it stands':>14}{'learned':>12}")
    say(f"{'confirmed cause first':30}{before.first:14.1%}{after.first:12.1%}")
    say(f"{'among the first three':30}{before.first_three:14.1%}{after.first_three:12.1%}")
    say(f"{'Brier score (0 best, 2)':30}{before.brier:14.3f}{after.brier:12.3f}")
    if before.dangers:
        shown = f"of {before.dangers} confirmed"
        say(f"{'dangers shown, ' + shown:30}{before.dangers_shown:14}{after.dangers_shown:12}")


def _verdict(tested: CrossValidation) -> str:
    before, after = tested.unlearned, tested.learned
    if after.dangers_shown < before.dangers_shown:
        return "With the learned numbers a danger that was confirmed is shown less often: do not take them over."
    if _better(after, before):
        return "On cases they have not seen, the learned numbers do better."
    if _better(before, after):
        return "On cases they have not seen, the learned numbers do worse: do not take them over as they are."
    return "On cases they have not seen, it makes no clear difference."


def _better(one: Scores, other: Scores) -> bool:
    """At least as good in each score and better in one, so that no score is traded for another."""
    mine = (one.first, one.first_three, -one.brier)
    theirs = (other.first, other.first_three, -other.brier)
    return all(a >= b for a, b in zip(mine, theirs, strict=True)) and mine != theirs
