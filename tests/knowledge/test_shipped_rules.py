"""The shipped rule base: whole, sourced, sound, and written for people."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.vocabulary import CauseId
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.check import count, find_faults

PACKAGE = Path(__file__).parents[2] / "vibdiag"
RULE_FILES = sorted(shipped_folder("rules").rglob("*.yaml"))


def test_the_shipped_rule_base_is_sound(adviser: Adviser) -> None:
    faults = [str(fault) for fault in find_faults(adviser.base, adviser.engine.evaluate)]
    assert faults == []


def test_there_is_enough_of_everything(rule_base: RuleBase) -> None:
    counts = count(rule_base)
    assert counts.rules >= 70
    assert counts.signs >= 45
    assert counts.bay_checks + counts.road_observations >= 40
    assert counts.questions >= 30
    assert counts.causes == 33


def test_the_causes_are_those_a_case_may_name(rule_base: RuleBase) -> None:
    assert set(rule_base.causes) == set(get_args(CauseId))


def test_every_number_says_where_it_comes_from(rule_base: RuleBase) -> None:
    for cause in rule_base.causes.values():
        assert cause.base_rate_source.strip(), cause.id
        assert all(table.source.strip() for table in cause.tables), cause.id
        assert all(raised.source.strip() for raised in cause.raised_by), cause.id
    assert all(sign.source.strip() for sign in rule_base.signs.values())
    for step in rule_base.steps.values():
        assert step.source.strip(), step.id
        assert all(limit.source.strip() for limit in step.limits), step.id


def test_every_rule_has_a_reason_a_source_and_both_examples(rule_base: RuleBase) -> None:
    for rule in rule_base.rules.values():
        assert rule.because.strip(), rule.id
        assert rule.source.strip(), rule.id
        assert rule.fires, rule.id
        assert rule.silent, rule.id
        assert rule.fires != rule.silent, rule.id


def test_what_can_hurt_carries_its_caution(rule_base: RuleBase) -> None:
    for cause in rule_base.causes.values():
        assert len(cause.repair.caution) > 20, cause.id
        assert cause.repair.proof, cause.id
    for step in rule_base.steps.values():
        if step.kind != "question":
            assert len(step.caution or "") > 20, step.id
        else:
            assert step.ask, step.id


def test_the_dangers_of_the_trade_are_dangers_here(rule_base: RuleBase) -> None:
    """Common practice: what may part, burst or burn stops the car before anything is measured."""
    dangers = {cause.id for cause in rule_base.causes.values() if cause.danger is not None}
    assert dangers >= {"loose-wheel", "tyre-belt-damage", "brake-drag"}


@pytest.mark.parametrize("path", RULE_FILES, ids=[path.stem for path in RULE_FILES])
def test_orders_are_written_as_iso_13373_writes_them(path: Path) -> None:
    """`1x wheel`, never a letter with a number."""
    text = path.read_text(encoding="utf-8")
    assert re.findall(r"\b[TPEWD][1-9]\b", text) == []


def test_no_text_of_a_rule_can_be_run_as_code() -> None:
    """Nothing in the package turns text into code, and YAML is read with the safe loader alone."""
    forbidden = re.compile(
        r"(?<![\w.])(?:eval|exec|compile|__import__)\(|\b(?:unsafe_load|full_load|yaml\.load|pickle)\b"
    )
    found = [
        f"{path.relative_to(PACKAGE)}:{number}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if forbidden.search(line)
    ]
    assert found == []


# How many times likelier a cause is after work on that part: propshaft, halfshaft, gearbox or clutch (common practice).
AFTER_WORK_ON = {
    "propshaft-imbalance": (20, 0.4, 9),
    "propshaft-centre-bearing": (8, 0.3, 3),
    "powertrain-mount": (1, 1, 6),
    "inner-drive-joint": (0.5, 12, 3),
    "outer-drive-joint": (0.5, 6, 0.5),
    "halfshaft-bent": (1, 4, 1),
    "loose-wheel": (0.28, 4, 0.28),
    "hub-centring-error": (0.28, 2, 0.28),
    "wheel-bearing": (1, 2, 1),
    "converter-or-clutch-judder": (0.5, 0.5, 10),
    "accessory-or-exhaust": (1, 1, 4),
}


@pytest.mark.parametrize("cause", sorted(AFTER_WORK_ON))
def test_that_the_driveline_was_worked_on_and_which_part_raise_a_cause_together(
    rule_base: RuleBase, cause: str
) -> None:
    """P(work | cause) P(part | cause, work) over the same for a cause that says nothing of either."""
    model = rule_base.model
    mine = next(place for place, one in enumerate(model.hypotheses) if one.causes == (cause,))
    work, part = model.tables["driveline-work"], model.tables["driveline-part"]
    for index, times in enumerate(AFTER_WORK_ON[cause]):
        worked = work.rows[mine, 0] / work.background[0]
        assert worked * part.rows[mine, index] / part.background[index] == pytest.approx(times, rel=0.15, abs=0.06)
