"""Which wheel: Bayes' rule over the four wheels by hand, and what a technician would say (common practice)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from vibdiag.advice.assess import Adviser, RankedCause
from vibdiag.advice.place import WHEELS, at_wheels
from vibdiag.case.model import Case

CaseOf = Callable[..., Case]
RIM = "bent-rim"


def looked(wheel: str, outcome: str, step: str = "bay-rim-runout") -> dict[str, str]:
    return {"step": step, "outcome": outcome, "how": "measured", "wheel": wheel}


def ranked(adviser: Adviser, case: Case, cause: str = RIM) -> RankedCause:
    return next(one for one in adviser.assess(case).causes if one.id == cause)


def test_nothing_known_of_single_wheels_nothing_said(adviser: Adviser, case_of: CaseOf) -> None:
    found = ranked(adviser, case_of(complaint={"strongest": "steering-wheel"}))
    assert found.wheels == {}
    assert found.wheel is None


def test_by_hand(adviser: Adviser, case_of: CaseOf) -> None:
    """One wheel over, one within, two not read: weights by hand from the rows of the files."""
    base = adviser.base
    case = case_of(steps=[looked("front-left", "over"), looked("rear-right", "within")])
    found = ranked(adviser, case)
    row = next(table.any for table in base.causes[RIM].tables if table.sign == "rim-runout")
    assert row is not None
    table, sure = base.model.tables["rim-runout"], base.settings.trust.measured
    calm = table.rows[:, table.words.index("within")].max()

    def report(true: float, word: str) -> float:
        return float(sure * true + (1.0 - sure) * base.signs["rim-runout"].background[word])

    bent = {word: report(row[word], word) for word in ("over", "within")}
    sound = {"over": report(1.0 - calm, "over"), "within": report(calm, "within")}
    share = adviser.believe(case)[1].of_axle(RIM)
    front = share["front"] / (share["front"] + share["rear"])
    by_hand = {
        "front-left": front / 2 * bent["over"] * sound["within"],
        "front-right": front / 2 * sound["over"] * sound["within"],
        "rear-left": (1 - front) / 2 * sound["over"] * sound["within"],
        "rear-right": (1 - front) / 2 * sound["over"] * bent["within"],
    }
    total = sum(by_hand.values())
    assert found.wheels == pytest.approx({wheel: weight / total for wheel, weight in by_hand.items()})
    assert found.wheel == "front-left"
    assert found.axles["front"] == pytest.approx(
        found.probability * (found.wheels["front-left"] + found.wheels["front-right"])
    )
    assert sum(found.axles.values()) == pytest.approx(found.probability)


@pytest.mark.parametrize("bad", WHEELS)
def test_the_wheel_that_is_over_stands_out_whatever_the_steering_wheel_says(
    adviser: Adviser, case_of: CaseOf, bad: str
) -> None:
    """Steering-wheel feel does not rule out a rear wheel; a dial does."""
    steps = [looked(wheel, "over" if wheel == bad else "within") for wheel in WHEELS]
    found = ranked(adviser, case_of(complaint={"strongest": "steering-wheel"}, steps=steps))
    assert found.wheel == bad
    assert found.wheels[bad] > 0.9
    assert found.axle == bad.split("-")[0]


def test_three_sound_wheels_point_to_the_fourth(adviser: Adviser, case_of: CaseOf) -> None:
    steps = [looked(wheel, "within") for wheel in WHEELS if wheel != "rear-left"]
    found = ranked(adviser, case_of(steps=steps))
    assert max(found.wheels, key=lambda wheel: found.wheels[wheel]) == "rear-left"


def test_numbers_are_judged_wheel_by_wheel(adviser: Adviser, case_of: CaseOf) -> None:
    """1.2 mm of radial runout at the rim is over (common practice: steel 1.0 to 1.2), 0.2 mm is not."""
    numbers = [
        {"quantity": "rim-radial-runout", "value": value, "unit": "mm", "wheel": wheel}
        for wheel, value in (("front-left", 0.2), ("front-right", 1.4), ("rear-left", 0.3), ("rear-right", 0.2))
    ]
    case = case_of(measurements=numbers)
    words = {
        wheel: {item.sign: item.word for item in evidence}.get("rim-runout")
        for wheel, evidence in at_wheels(case, adviser.base, adviser.engine).items()
    }
    assert words["front-right"] == "over"
    assert "over" not in {word for wheel, word in words.items() if wheel != "front-right"}
    assert ranked(adviser, case).wheel == "front-right"


def test_a_cause_of_the_whole_car_has_no_wheel(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(steps=[looked("front-left", "over")])
    assert ranked(adviser, case, "propshaft-joint").wheels == {}


@pytest.mark.parametrize("order", [1, -1])
def test_one_wheel_over_is_over_for_the_car_in_whatever_order(adviser: Adviser, case_of: CaseOf, order: int) -> None:
    steps = [looked("front-left", "over"), *(looked(wheel, "within") for wheel in WHEELS[1:])][::order]
    evidence = {item.sign: item.word for item in adviser.believe(case_of(steps=steps))[0].evidence}
    assert evidence["rim-runout"] == "over"


def test_a_wheel_read_again_counts_as_it_was_read_last(adviser: Adviser, case_of: CaseOf) -> None:
    steps = [looked("front-left", "over"), looked("front-left", "within")]
    evidence = {item.sign: item.word for item in adviser.believe(case_of(steps=steps))[0].evidence}
    assert evidence["rim-runout"] == "within"


def test_fasteners_tight_at_one_wheel_do_not_clear_those_loose_at_another(adviser: Adviser, case_of: CaseOf) -> None:
    steps = [looked("front-left", "loose", "bay-fasteners"), looked("rear-left", "tight", "bay-fasteners")]
    dangers = adviser.assess(case_of(steps=steps, history={"events": [{"what": "wheels-off"}]})).dangers
    assert next(danger for danger in dangers if danger.cause == "loose-wheel").status == "open"
