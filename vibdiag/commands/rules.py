"""`vibdiag rules check` and `vibdiag rules score`."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.advice.score import Score, score_cases
from vibdiag.case.storage import load_folder
from vibdiag.commands.output import EXIT_INPUT, fail, input_errors, paragraph, print_json, say
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


def score_rules(folder: Path, *, rules: Path | None, as_json: bool) -> None:
    """Print the score over a folder of confirmed cases beside the baseline."""
    with input_errors():
        adviser = Adviser.shipped(rules)
        cases = [case for _, case in load_folder(folder)]
        try:
            score = score_cases(cases, adviser)
        except ValueError as error:
            raise InputError(str(error), file=folder) from error
    if as_json:
        print_json({"folder": str(folder), "count": len(score.cases)} | asdict(score))
    else:
        _score_text(score)


def _percent(value: float) -> str:
    return f"{100 * value:5.1f} %"


def _score_text(score: Score) -> None:
    say(f"{len(score.cases)} cases with a confirmed cause")
    say()
    say(f"{'':28}{'ranking':>10}{'baseline':>11}   (baseline: always {score.baseline_cause}, by base rates)")
    say(f"{'confirmed cause first':28}{_percent(score.first):>10}{_percent(score.baseline_first):>11}")
    say(f"{'among the first three':28}{_percent(score.first_three):>10}{_percent(score.baseline_first_three):>11}")
    say(f"{'mean reciprocal rank':28}{score.mean_reciprocal_rank:10.3f}")
    say(f"{'Brier score (0 best, 2)':28}{score.brier:10.3f}{score.baseline_brier:11.3f}")
    say(f"{'calibration error':28}{score.calibration_error:10.3f}")
    say()
    say(f"{'first cause was given':28}{'cases':>6}{'mean':>8}{'right':>8}")
    for row in score.reliability:
        label = f"{row.low:.0%} to {row.high:.0%}"
        say(f"{label:28}{row.count:6}{row.mean_probability:8.0%}{row.right:8.0%}")
    say()
    say(f"{'by confirmed cause':28}{'cases':>6}{'first':>7}{'in three':>10}")
    for one in score.by_cause:
        say(f"{one.cause:28}{one.cases:6}{one.first:7}{one.first_three:10}")
