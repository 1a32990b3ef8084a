"""`vibdiag rules check` and `vibdiag rules score`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from vibdiag.advice.assess import Adviser
from vibdiag.advice.evidence import refuse_unknown_steps
from vibdiag.advice.facts import FACTS
from vibdiag.advice.score import Figures, Interval, Score, score_cases
from vibdiag.advice.sensitivity import Sensitive, sensitivity
from vibdiag.case.storage import load_folder
from vibdiag.commands.output import EXIT_INPUT, fail, input_errors, paragraph, print_json, say
from vibdiag.commands.where import faults_of_case
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.accepted import ACCEPTED_FILE, Change, accept, changes_since_accepted
from vibdiag.knowledge.base import RuleBase, RuleBaseError
from vibdiag.knowledge.check import Counts, count, find_faults
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.reasoning.language import LanguageError

__all__ = ["check_rules", "score_rules"]

_MOST_CHANGES = 40


def check_rules(folder: Path | None, *, accept: bool, as_json: bool) -> None:
    """Print every fault with file and line, and what changed since the values were accepted."""
    with input_errors():
        where = folder or shipped_folder("rules")
        base: RuleBase | None = None
        faults: list[InputError] = []
        changes: tuple[Change, ...] = ()
        try:
            base = load_rule_base(where, FACTS)
            adviser = Adviser(base)
            faults = list(find_faults(base, adviser.engine.evaluate))
            changes = changes_since_accepted(base)
        except RuleBaseError as error:
            faults = error.faults
        except LanguageError as error:
            faults = [InputError(str(error), file=where / "derive")]
        if accept and base is not None and not faults:
            changes = _accept(base, changes)
    if as_json:
        _json(base, faults, changes)
    else:
        _text(where, base, faults, changes)
    if faults:
        raise SystemExit(EXIT_INPUT)


def _accept(base: RuleBase, changes: tuple[Change, ...]) -> tuple[Change, ...]:
    try:
        accept(base)
    except OSError as error:
        fail(f"{base.folder / ACCEPTED_FILE} cannot be written: {error.strerror}")
    return changes


def _json(base: RuleBase | None, faults: list[InputError], changes: tuple[Change, ...]) -> None:
    print_json(
        {
            "sound": not faults,
            "counts": asdict(count(base)) if base is not None else None,
            "faults": [
                {
                    "file": fault.file,
                    "line": fault.spot.line if fault.spot else None,
                    "field": fault.field,
                    "message": fault.message,
                }
                for fault in faults
            ],
            "changes": [asdict(change) for change in changes],
        }
    )


def _text(where: Path, base: RuleBase | None, faults: list[InputError], changes: tuple[Change, ...]) -> None:
    for fault in faults:
        say(str(fault))
    if base is not None:
        say(_summary(count(base)))
    if base is not None and not (base.folder / ACCEPTED_FILE).exists():
        say("Nobody has accepted these values yet: `vibdiag rules check --accept` records them.")
    elif changes:
        say(f"Changed since it was accepted ({len(changes)}):")
        for change in changes[:_MOST_CHANGES]:
            say(paragraph(change.sentence(), indent="      ", first="  "))
        if len(changes) > _MOST_CHANGES:
            say(f"  ... and {len(changes) - _MOST_CHANGES} more; --json has them all")
    elif base is not None:
        say("Nothing has changed since it was accepted.")
    if faults:
        say(f"{len(faults)} fault{'s' if len(faults) != 1 else ''} in {where}")
    else:
        say("Sound: ids, references, sums, examples and reachability hold.")


def _summary(counts: Counts) -> str:
    return (
        f"{counts.causes} causes, {counts.signs} signs, {counts.rules} rules, {counts.questions} questions, "
        f"{counts.road_observations} road observations, {counts.bay_checks} bay checks"
    )


def score_rules(folder: Path, *, rules: Path | None, sensitive: bool, as_json: bool) -> None:
    """Print the score over a folder of confirmed cases beside the baseline, or the numbers that it hangs on."""
    with input_errors():
        adviser = Adviser.shipped(rules)
        found = load_folder(folder)
        for path, case in found:
            with faults_of_case(path):
                refuse_unknown_steps(case, adviser.base)
        cases = [case for _, case in found]
        try:
            score = score_cases(cases, adviser)
        except ValueError as error:
            raise InputError(str(error), file=folder) from error
        numbers = sensitivity(cases, adviser) if sensitive else ()
    if as_json:
        whole = {"folder": str(folder)} | asdict(score.whole) | asdict(score)
        print_json(whole | ({"sensitivity": [asdict(one) for one in numbers]} if sensitive else {}))
    elif sensitive:
        for line in _sensitive_lines(numbers, len(score.cases)):
            say(line)
    else:
        _score_text(score)


def _sensitive_lines(numbers: tuple[Sensitive, ...], cases: int) -> Iterator[str]:
    yield paragraph(
        f"Numbers of which half or double changes the first cause most often, of {cases} cases. More right: how many "
        "more first causes are the confirmed one then. A number that changes much and gains nothing is uncertain, not "
        "wrong."
    )
    yield ""
    yield f"{'':62}{'used':>6}{'halved':>16}{'doubled':>16}"
    yield f"{'P(word | cause)':62}{'in':>6}{'changes  right':>16}{'changes  right':>16}"
    for one in numbers[:_MOST_CHANGES]:
        name = f"{one.sign} = {one.word} | {one.cause}"
        halved, doubled = (
            f"{one.halved_changes:7}{one.halved_gains:+7}",
            f"{one.doubled_changes:7}{one.doubled_gains:+7}",
        )
        yield f"{name:62}{one.cases:6}{halved:>16}{doubled:>16}"
    if len(numbers) > _MOST_CHANGES:
        yield f"... and {len(numbers) - _MOST_CHANGES} more; --json has them all"


def _between(interval: Interval) -> str:
    return f"{100 * interval.low:3.0f} to {100 * interval.high:2.0f} %"


def _score_text(score: Score) -> None:
    columns: list[tuple[str, Figures]] = [("all", score.whole)]
    names = {"study": "half to study", "score": "half only scored"}
    columns += [(names[half], figures) for half, figures in score.halves.items()]
    say(f"{len(score.cases)} cases with a confirmed cause; 95 % intervals by bootstrap over cases")
    say(f"baseline: always {score.baseline_cause}, by base rates")
    say()
    say(f"{'':24}" + "".join(f"{name:>22}" for name, _ in columns) + f"{'baseline':>12}")
    say(f"{'cases':24}" + "".join(f"{figures.count:22}" for _, figures in columns))
    rows: list[tuple[str, list[tuple[float, Interval]], float]] = [
        ("confirmed cause first", [(one.first, one.first_interval) for _, one in columns], score.baseline_first),
        (
            "among the first three",
            [(one.first_three, one.first_three_interval) for _, one in columns],
            score.baseline_first_three,
        ),
    ]
    for label, values, base in rows:
        cells = [f"{100 * value:.1f} % ({_between(interval).strip()})" for value, interval in values]
        say(f"{label:24}" + "".join(f"{cell:>22}" for cell in cells) + f"{100 * base:10.1f} %")
    say(f"{'mean reciprocal rank':24}" + "".join(f"{one.mean_reciprocal_rank:22.3f}" for _, one in columns))
    briers = "".join(f"{one.brier:22.3f}" for _, one in columns)
    say(f"{'Brier score (0 best, 2)':24}{briers}{score.baseline_brier:12.3f}")
    errors = [
        f"{one.calibration_error:.3f} ({one.calibration_error_interval.low:.2f} to "
        f"{one.calibration_error_interval.high:.2f})"
        for _, one in columns
    ]
    say(f"{'calibration error':24}" + "".join(f"{cell:>22}" for cell in errors))
    say(f"{'  by chance alone':24}" + "".join(f"{one.calibration_error_by_chance:22.3f}" for _, one in columns))
    say(f"{'says cannot tell yet':24}" + "".join(f"{_share(one.undecided):>22}" for _, one in columns))
    say(f"{'  first right then':24}" + "".join(f"{_share(one.right_undecided):>22}" for _, one in columns))
    say(f"{'  first right else':24}" + "".join(f"{_share(one.right_decided):>22}" for _, one in columns))
    say()
    say(f"{'first cause was given':28}{'cases':>6}{'mean':>8}{'right':>8}")
    for row in score.reliability:
        label = f"{row.low:.0%} to {row.high:.0%}"
        say(f"{label:28}{row.count:6}{row.mean_probability:8.0%}{row.right:8.0%}")
    say()
    say(f"{'by confirmed cause':28}{'cases':>6}{'first':>7}{'':16}{'in three':>10}   (95 % intervals, Wilson)")
    for one in score.by_cause:
        first, three = _between(one.first_interval), _between(one.first_three_interval)
        say(f"{one.cause:28}{one.cases:6}{one.first:7}  {first:14}{one.first_three:10}  {three}")


def _share(value: float | None) -> str:
    return "-" if value is None else f"{100 * value:.0f} %"
