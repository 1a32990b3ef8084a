"""Follow-up figures, counted by hand on a few invented cases."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.knowledge.base import RuleBase
from vibdiag.work.checks_that_paid import checks_that_paid, gains, weigh
from vibdiag.work.figures import (
    CALL_QUESTIONS,
    NO_PERIOD,
    OPEN,
    came_back,
    cause_of,
    figures_by,
    figures_of,
    follow_ups_due,
    minutes_spent,
    month_of,
    wrong_repairs,
)
from vibdiag.work.proof import reopen

CaseOf = Callable[..., Case]
MARCH, APRIL = "2026-03-05T10:00:00+00:00", "2026-04-07T10:00:00+00:00"


def repairs(*effects: str) -> dict[str, Any]:
    return {"repairs": [{"what": "balance", "effect": effect} for effect in effects]}


def closed(cause: str = "wheel-bearing", at: str | None = MARCH, **more: Any) -> dict[str, Any]:
    return {"confirmed_cause": cause, "at": at, **more}


# -- what came back -------------------------------------------------------------------------------------------------


def test_a_case_comes_back_by_its_repair_or_by_being_reopened(case_of: CaseOf) -> None:
    assert not came_back(case_of(history=repairs("none", "cured"), outcome=closed()))
    assert came_back(case_of(history=repairs("came-back"), outcome=closed()))
    once = case_of(outcome=closed("bent-rim"), notes="Told by telephone.")
    again = reopen(once, "shakes at 90 again")
    assert came_back(again)
    assert cause_of(again) == "bent-rim"
    mended = again.model_copy(update={"outcome": case_of(outcome=closed("hub-runout")).outcome})
    assert came_back(mended)
    assert cause_of(mended) == "hub-runout"


def test_notes_that_only_speak_of_it_are_no_comeback(case_of: CaseOf) -> None:
    assert not came_back(case_of(notes="The shop said: Closed as bent-rim, reopened: no idea."))
    assert cause_of(case_of()) == OPEN


def test_the_comeback_rate_is_over_the_cases_that_were_mended(case_of: CaseOf, rule_base: RuleBase) -> None:
    cases = [
        case_of(),
        case_of(history=repairs("unknown")),
        case_of(history=repairs("none")),
        case_of(history=repairs("came-back", "cured"), outcome=closed()),
        case_of(history=repairs("cured"), outcome=closed(proof="quiet on the same road")),
        reopen(case_of(history=repairs("cured"), outcome=closed()), "it was back within a week"),
    ]
    found = figures_of(cases, rule_base)
    assert (found.cases, found.closed, found.proven, found.mended, found.came_back) == (6, 2, 1, 4, 2)
    assert found.comeback_rate == 0.5


def test_what_nothing_stands_behind_is_none_and_not_zero(case_of: CaseOf, rule_base: RuleBase) -> None:
    for found in (figures_of([], rule_base), figures_of([case_of()], rule_base)):
        assert found.comeback_rate is None
        assert found.minutes_a_closed_case is None
        assert found.wrong_repairs_a_closed_case is None


# -- minutes and wrong repairs --------------------------------------------------------------------------------------


def test_minutes_are_those_of_every_step_done(case_of: CaseOf, rule_base: RuleBase) -> None:
    steps = [
        {"step": "bay-fasteners", "outcome": "tight"},
        {"step": "bay-bearing", "outcome": "unknown"},
        {"step": "bay-fasteners", "outcome": "tight", "taken": "after"},
    ]
    each = rule_base.steps
    case = case_of(steps=steps, outcome=closed())
    assert minutes_spent(case, rule_base) == 2 * each["bay-fasteners"].minutes + each["bay-bearing"].minutes
    found = figures_of([case, case_of(steps=steps), case_of(outcome=closed())], rule_base)
    assert found.minutes == 2 * minutes_spent(case, rule_base)
    assert found.minutes_a_closed_case == minutes_spent(case, rule_base) / 2


@pytest.mark.parametrize(
    ("effects", "wrong"),
    [
        ((), 0),
        (("cured",), 0),
        (("none", "worse", "cured"), 2),
        (("none", "partly", "cured"), 1),
        (("came-back", "cured"), 1),
        (("cured", "none"), 0),
        (("cured", "came-back", "cured"), 1),
        (("none", "none"), 2),
        (("none", "unknown"), 1),
    ],
)
def test_wrong_repairs_stand_before_the_right_one(case_of: CaseOf, effects: tuple[str, ...], wrong: int) -> None:
    assert wrong_repairs(case_of(history=repairs(*effects))) == wrong


# -- groups ---------------------------------------------------------------------------------------------------------


def test_groups_by_cause_and_by_month_add_up(case_of: CaseOf, rule_base: RuleBase) -> None:
    cases = [
        case_of(outcome=closed("bent-rim", MARCH), opened_at="2026-02-27T08:00:00+00:00"),
        case_of(outcome=closed("bent-rim", APRIL), history=repairs("worse", "cured")),
        case_of(outcome=closed("hub-runout", None), opened_at=APRIL, history=repairs("none", "cured")),
        case_of(),
    ]
    assert [month_of(case) for case in cases] == ["2026-03", "2026-04", "2026-04", NO_PERIOD]
    by_cause = figures_by(cases, cause_of, rule_base)
    assert {name: one.cases for name, one in by_cause.items()} == {"bent-rim": 2, "hub-runout": 1, OPEN: 1}
    assert by_cause["bent-rim"].wrong_repairs_a_closed_case == 0.5
    assert by_cause["bent-rim"].with_wrong_repairs == 1
    by_month = figures_by(cases, month_of, rule_base)
    assert list(by_month) == ["2026-03", "2026-04", NO_PERIOD]
    whole = figures_of(cases, rule_base)
    for groups in (by_cause, by_month):
        for name in ("cases", "closed", "mended", "came_back", "minutes", "wrong_repairs"):
            assert sum(getattr(one, name) for one in groups.values()) == getattr(whole, name)


# -- follow-ups -----------------------------------------------------------------------------------------------------


def test_what_is_due_until_a_day_the_oldest_first(case_of: CaseOf) -> None:
    first = case_of(
        id="b",
        follow_ups=[
            {"what": "call-back", "due": "2026-03-12"},
            {"what": "check-torque", "due": "2026-03-07"},
            {"what": "call-back", "due": "2026-03-01", "done": True},
        ],
    )
    second = case_of(
        id="a", follow_ups=[{"what": "call-back", "due": "2026-03-13"}, {"what": "other", "due": "2026-03-12"}]
    )
    due = follow_ups_due([first, second], until=date(2026, 3, 12))
    assert [(one.case.id, one.place, one.item.what, one.overdue_days) for one in due] == [
        ("b", 1, "check-torque", 5),
        ("a", 1, "other", 0),
        ("b", 0, "call-back", 0),
    ]
    assert follow_ups_due([first, second], until=date(2026, 3, 6)) == ()


def test_the_call_asks_three_things() -> None:
    assert len(CALL_QUESTIONS) == 3
    assert all(question.endswith("?") for question in CALL_QUESTIONS)
    assert "50 to 100 km (common practice)" in CALL_QUESTIONS[2]


# -- checks that paid -----------------------------------------------------------------------------------------------


def test_a_first_check_gives_the_weight_of_evidence_of_its_row(case_of: CaseOf, adviser: Adviser) -> None:
    """I. J. Good's weight: 10*log10 of P(result | cause) over P(result | not cause), by hand from the tables."""
    step = adviser.base.steps["bay-bearing"]
    model = adviser.base.model
    table = model.tables[step.sign]
    column = table.column("play-or-rough", trust=adviser.base.settings.trust.measured)
    mine = model.members("wheel-bearing")
    if_so = (model.prior[mine] @ column[mine]) / model.prior[mine].sum()
    if_not = (model.prior[~mine] @ column[~mine]) / model.prior[~mine].sum()
    case = case_of(steps=[{"step": "bay-bearing", "outcome": "play-or-rough"}], outcome=closed())
    (found,) = gains(case, adviser)
    assert found[0] == "bay-bearing"
    assert found[1] == pytest.approx(10 * math.log10(if_so / if_not))


def test_gains_add_up_to_what_was_learned_altogether(case_of: CaseOf, adviser: Adviser) -> None:
    steps = [
        {"step": "ask-hum", "outcome": "yes"},
        {"step": "bay-fasteners", "outcome": "tight"},
        {"step": "bay-bearing", "outcome": "play-or-rough"},
    ]
    start = case_of()
    end = case_of(steps=steps)
    p, q = (adviser.believe(case)[1].of_cause("wheel-bearing") for case in (start, end))
    altogether = 10 * math.log10(q / (1 - q) / (p / (1 - p)))
    found = list(gains(case_of(steps=steps, outcome=closed()), adviser))
    assert [step for step, _ in found] == [step["step"] for step in steps]
    assert sum(value for _, value in found) == pytest.approx(altogether)


def test_a_measurement_beside_the_step_takes_no_credit_from_it(case_of: CaseOf, adviser: Adviser) -> None:
    measured = {"quantity": "hub-face-runout", "value": 0.4, "unit": "mm"}
    steps = [{"step": "bay-hub-runout", "outcome": "over"}]
    outcome = closed("hub-runout")
    alone = list(gains(case_of(steps=steps, outcome=outcome), adviser))
    beside = list(gains(case_of(steps=steps, outcome=outcome, measurements=[measured]), adviser))
    assert beside == alone
    assert alone[0][1] > 3


def test_each_check_is_counted_and_the_best_a_minute_comes_first(case_of: CaseOf, adviser: Adviser) -> None:
    bearing = {"step": "bay-bearing", "outcome": "play-or-rough"}
    tight = {"step": "bay-fasteners", "outcome": "tight"}
    cases = [
        case_of(steps=[tight, bearing], outcome=closed()),
        case_of(steps=[{"step": "bay-bearing", "outcome": "sound"}], outcome=closed()),
        case_of(steps=[{"step": "bay-bearing", "outcome": "unknown"}], outcome=closed()),
        case_of(steps=[bearing | {"taken": "after"}], outcome=closed()),
        case_of(steps=[bearing, {"step": "bay-dirt", "outcome": "unknown"}]),
    ]
    found = {check.step: check for check in checks_that_paid(weigh(cases, adviser), adviser.base)}
    each = [value for case in cases for step, value in gains(case, adviser) if step == "bay-bearing"]
    check = found["bay-bearing"]
    assert (check.done, check.weighed, check.moved_up) == (5, 2, 1)
    assert check.mean_decibans == pytest.approx(sum(each) / 2)
    assert check.minutes == adviser.base.steps["bay-bearing"].minutes
    assert (found["bay-dirt"].done, found["bay-dirt"].mean_decibans) == (1, None)
    assert list(found)[-1] == "bay-dirt"
    rates = [check.mean_decibans / check.minutes for check in found.values() if check.mean_decibans is not None]
    assert rates == sorted(rates, reverse=True)
