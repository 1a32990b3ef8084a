"""The limits shown beside a reading are the rule base's own, and the words said of a reading are what the rules say."""

from __future__ import annotations

import re
from typing import get_args

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.limits import CANNOT_TELL, judge_reading, limits_of
from vibdiag.case.model import Case, Measurement
from vibdiag.case.vocabulary import UNITS_OF, Quantity
from vibdiag.knowledge.base import RuleBase

RUNOUTS: tuple[Quantity, ...] = (
    "tread-radial-runout",
    "tread-lateral-runout",
    "rim-radial-runout",
    "rim-lateral-runout",
    "hub-face-runout",
    "hub-pilot-runout",
    "disc-runout",
    "disc-thickness-variation",
    "propshaft-runout",
)


def reading(quantity: Quantity, value: float, **more: object) -> Measurement:
    unit = more.pop("unit", UNITS_OF[quantity][0])
    return Measurement.model_validate({"quantity": quantity, "value": value, "unit": unit, **more})


def written_numbers(rule_base: RuleBase) -> dict[str, tuple[str, float]]:
    """Rule id -> side and number, read from the text of the file alone: the independent way round."""
    text = (rule_base.folder / "derive" / "measured.yaml").read_text(encoding="utf-8")
    found = {}
    for rule in yaml.safe_load(text)["rules"]:
        for sentence in rule["when"]:
            if match := re.search(r"is (above|below) ([0-9.]+)", sentence):
                found[rule["id"]] = (match[1], float(match[2]))
    return found


def test_every_number_of_the_file_of_measured_rules_is_found_and_no_other(rule_base: RuleBase) -> None:
    written = written_numbers(rule_base)
    found = {
        limit.rule: (str(limit.side), round(limit.number, 9))
        for quantity in get_args(Quantity)
        for limit in limits_of(quantity, rule_base, unit=UNITS_OF[quantity][0])
    }
    assert written
    assert written == found


def test_tread_radial_runout_is_within_below_one_and_over_above_one_and_a_half_millimetres(rule_base: RuleBase) -> None:
    # The two published figures the rules name: service manuals of a 2012 sedan, 1.0 mm, and a 2004 pickup, 1.52 mm.
    within, over = limits_of("tread-radial-runout", rule_base, unit="mm")
    assert (within.side, within.number, within.word) == ("below", 1.0, "within")
    assert (over.side, over.number, over.word) == ("above", 1.5, "over")
    assert "1.0 mm" in over.source


def test_limits_come_in_the_unit_asked_for(rule_base: RuleBase) -> None:
    # One inch is 25.4 mm by definition (international yard and pound, 1959), so 1.5 mm is 59.06 thousandths.
    over = limits_of("tread-radial-runout", rule_base, unit="thou")[-1]
    assert over.number == pytest.approx(1.5 / 0.0254)
    # A pound-force is 4.4482216152605 N by definition: 120 N is 26.98 lbf.
    force = limits_of("radial-force-variation", rule_base, unit="lbf")[-1]
    assert force.number == pytest.approx(120 / 4.4482216152605)


def test_brakes_are_compared_with_each_other(rule_base: RuleBase) -> None:
    assert all(limit.between_wheels for limit in limits_of("brake-temperature", rule_base, unit="C"))
    assert not any(limit.between_wheels for limit in limits_of("hub-face-runout", rule_base, unit="mm"))


@pytest.mark.parametrize("quantity", ["tyre-pressure", "fastener-torque", "tread-depth", "shake-level", "frequency"])
def test_a_quantity_no_rule_compares_has_no_limit(rule_base: RuleBase, adviser: Adviser, quantity: Quantity) -> None:
    assert limits_of(quantity, rule_base, unit=UNITS_OF[quantity][0]) == ()
    assert judge_reading(reading(quantity, 2.0), adviser).word == CANNOT_TELL


@given(
    quantity=st.sampled_from(RUNOUTS),
    thousandths=st.integers(min_value=0, max_value=4000),
    maker=st.none() | st.integers(min_value=1, max_value=3000).map(lambda whole: whole / 1000),
)
def test_the_word_is_what_the_whole_program_concludes(
    adviser: Adviser, quantity: Quantity, thousandths: int, maker: float | None
) -> None:
    """A case with this reading alone gets the sign with that word; where we say cannot tell it gets none."""
    one = reading(quantity, thousandths / 1000, limit=maker, wheel="front-left")
    judged = judge_reading(one, adviser)
    case = Case(vibdiag_case=1, id="one-reading", measurements=[one])
    weighed = {item.word for item in adviser.believe(case)[0].evidence}
    assert judged.weighs == bool(weighed)
    if weighed:
        assert weighed == {judged.word}
    elif maker is None:
        assert judged.word == CANNOT_TELL


def test_just_on_the_limit_is_not_over(adviser: Adviser) -> None:
    assert judge_reading(reading("tread-radial-runout", 1.5), adviser).word == CANNOT_TELL
    assert judge_reading(reading("tread-radial-runout", 1.501), adviser).word == "over"


def test_the_makers_limit_outranks_the_rule_base(adviser: Adviser) -> None:
    assert judge_reading(reading("tread-radial-runout", 1.2, limit=1.0), adviser).word == "over"
    assert judge_reading(reading("tread-radial-runout", 1.8, limit=2.0), adviser).word == "within"
    assert judge_reading(reading("tread-radial-runout", 1.8, limit=2.0), adviser).by == "maker"


def test_a_torque_below_the_makers_figure_is_never_called_within(adviser: Adviser) -> None:
    """80 N.m on a fastener that wants 110 is loose: the figure is one to meet, not a highest value."""
    for newton_metres in (80.0, 110.0, 140.0):
        judged = judge_reading(reading("fastener-torque", newton_metres, limit=110), adviser)
        assert judged.word == CANNOT_TELL


def test_a_reading_after_the_repair_is_judged_but_does_not_weigh(adviser: Adviser) -> None:
    judged = judge_reading(reading("tread-radial-runout", 0.3, taken="after"), adviser)
    assert (judged.word, judged.weighs) == ("within", False)


def test_one_hot_brake_stands_out_only_beside_the_others(adviser: Adviser) -> None:
    # From memory, as the rule says: 30 degrees C above the next hottest wheel.
    hot = reading("brake-temperature", 190, wheel="front-left")
    others = [reading("brake-temperature", 110, wheel=wheel) for wheel in ("front-right", "rear-left")]
    alone, beside = judge_reading(hot, adviser), judge_reading(hot, adviser, others=others)
    assert (alone.word, alone.size) == (CANNOT_TELL, None)
    assert "second wheel" in alone.because
    assert (beside.word, beside.size) == ("one-hot", 80)


def test_what_was_read_after_the_repair_is_not_compared_with_what_was_read_before(adviser: Adviser) -> None:
    hot = reading("brake-temperature", 190, wheel="front-left")
    cool_after = [reading("brake-temperature", 60, wheel="front-right", taken="after")]
    assert judge_reading(hot, adviser, others=cool_after).word == CANNOT_TELL
