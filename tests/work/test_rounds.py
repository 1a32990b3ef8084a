"""A round of readings as it is typed, put in its place in a case, and told."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.case.model import Case, ReadingSet
from vibdiag.commands.bay.inputs import numbers
from vibdiag.work.round_form import (
    ROUND_FIELDS,
    asked_for,
    line_of,
    places_known,
    read_round,
    readings_typed,
    typed_of_round,
    units_of,
)
from vibdiag.work.rounds import (
    balance_words,
    high_words,
    name_of,
    round_at,
    see_round,
    turned_on_studs,
    with_round,
    without_round,
)

CaseOf = Callable[..., Case]
TYPED = {"what": "tread-radial", "wheel": "front-right", "unit": "mm", "values": "0.3 0.21 0 -0.21 -0.3 -0.21 0 0.21"}


def waves(*parts: tuple[float, float], places: int = 12) -> list[float]:
    """Off-centre parts (amount, high point) added up, as a dial of 0.01 mm shows them."""
    angles = [360.0 * place / places for place in range(places)]
    return [round(sum(a * math.cos(math.radians(at - high)) for a, high in parts), 2) for at in angles]


def a_round(values: list[float], **more: Any) -> ReadingSet:
    return ReadingSet.model_validate({"what": "tread-radial", "wheel": "front-right", "values": values, **more})


# -- typed ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "read"),
    [
        ("0 0.1 x -0,05", [0.0, 0.1, None, -0.05]),
        ("0,1 0,2", [0.1, 0.2]),
        ("0.1, 0.2, 0.3", [0.1, 0.2, 0.3]),
        ("0,1, 0,2", [0.1, 0.2]),
        ("0.1,0.2,0.3", [0.1, 0.2, 0.3]),
        ("1,2,3", [1.0, 2.0, 3.0]),
        ("0,5", [0.5]),
        ("1;2,5;x", [1.0, 2.5, None]),
        ("  1  -  ? X ", [1.0, None, None, None]),
        ("\N{MINUS SIGN}0.1 +.2", [-0.1, 0.2]),
        ("", []),
    ],
)
def test_a_line_of_readings(line: str, read: list[float | None]) -> None:
    assert readings_typed(line) == read


@pytest.mark.parametrize("line", ["0 0.1 x", "0,1 x -0,2", "0.1, 0.2", "1;2,5", "0.1,0.2", "1,2,3", "0.1 0.2 ?"])
def test_a_line_is_read_as_the_command_reads_it(line: str) -> None:
    assert readings_typed(line) == numbers(line, "--values")


@pytest.mark.parametrize("line", ["0 0.1mm 2", "0 1.2,3 4", "0 nan 1", "1 2 1e3 4", "0 1_0 2"])
def test_what_is_no_number_is_said_with_its_place(line: str) -> None:
    with pytest.raises(ValueError, match=r"reading [23], '.*', is no number; write x"):
        readings_typed(line)


@given(st.lists(st.none() | st.floats(-50_000, 50_000).map(lambda value: round(value, 4)), max_size=40))
def test_a_line_reads_back(values: list[float | None]) -> None:
    assert readings_typed(line_of(values)) == [None if value is None else value + 0.0 for value in values]


def test_a_round_reads_back_from_its_fields() -> None:
    one = a_round(waves((0.3, 40)), first_again=[0.24], resolution=0.02, limit=1.2, moved_deg=180.0, taken="after")
    draft = read_round(typed_of_round(one))
    assert (draft.one, draft.faults, draft.count, draft.missing) == (one, {}, 12, 0)


def test_what_has_no_field_stays_with_a_round_that_is_put_right() -> None:
    one = read_round(TYPED, beneath={"note": "cold", "rises": "inward"}).one
    assert one is not None
    assert (one.note, one.rises) == ("cold", "inward")


def test_places_that_are_not_evenly_spaced() -> None:
    """Geometry: 0.3 mm off centre, highest at 40 degrees, reads 0.3 cos(angle - 40) at any angle."""
    angles = [0, 40, 95, 130, 180, 220, 270, 310]
    values = [round(0.3 * math.cos(math.radians(angle - 40)), 4) for angle in angles]
    draft = read_round(TYPED | {"values": line_of(values), "angles_deg": " ".join(map(str, angles))})
    assert draft.one is not None
    assert draft.one.angles_deg == angles
    first = see_round(draft.one).first
    assert first is not None
    assert first.value.amount == pytest.approx(0.3, abs=0.01)
    assert first.value.angle_deg == pytest.approx(40, abs=2)
    assert read_round(typed_of_round(draft.one)).one == draft.one
    evenly = read_round(TYPED | {"values": line_of(values)}).one
    assert evenly is not None
    assert see_round(evenly).first != first


@pytest.mark.parametrize(
    ("change", "path", "said"),
    [
        ({"values": "0 1 x 2"}, "values", "Readings: 3 read; at least 4 places are needed, 12 are recommended."),
        ({"values": "0 1 2 three"}, "values", "Readings: reading 4, 'three', is no number"),
        ({"values": "0 1 99999 2"}, "values", "Readings, number 3: must be"),
        ({"first_again": "x"}, "first_again", "First again: write every number, or leave it empty."),
        ({"limit": "much"}, "limit", "Maker's limit: 'much' is no number; write for example 1.0."),
        ({"resolution": "0"}, "resolution", "Division: must be at least 0.0001, and 0 is not."),
        ({"values": "x 1 2 3 4", "first_again": "0.1"}, "values", "the first read again needs the first value"),
        ({"angles_deg": "0 30 60"}, "angles_deg", "At degrees: there are"),
        ({"angles_deg": "0 x 60"}, "angles_deg", "At degrees: write every number"),
        ({"unit": "N"}, "values", "'N' is no unit of 'tread-radial'"),
    ],
)
def test_bad_input_is_one_sentence_at_its_field(change: dict[str, str], path: str, said: str) -> None:
    draft = read_round(TYPED | change)
    assert draft.one is None
    assert list(draft.faults) == [path]
    assert said in draft.faults[path]


def test_the_table_has_every_field_a_person_fills_in() -> None:
    assert {field.path for field in ROUND_FIELDS} == set(ReadingSet.model_fields) - {
        "rises", "by", "at", "note",
    }  # fmt: skip


def test_every_place_is_asked_what_means_something_for_it() -> None:
    for what in places_known():
        typed = TYPED | {"what": what, "unit": units_of(what)[0], "values": "1 2 3 4 5 6 7 8"}
        assert read_round({path: text for path, text in typed.items() if path in asked_for(what)}).one is not None
    assert "wheel" not in asked_for("propshaft-rear")
    assert "moved_deg" not in asked_for("hub-face")
    assert "rim" in asked_for("rim-inner-lateral")
    assert "first_again" not in asked_for("radial-force")


# -- in its place -----------------------------------------------------------------------------------------------


def test_a_round_takes_the_place_of_the_former_one_of_its_place_and_of_no_other(case_of: CaseOf) -> None:
    first = a_round(waves((0.3, 0)))
    others = [
        a_round(waves((0.3, 0)), moved_deg=180.0),
        a_round(waves((0.3, 0)), wheel="rear-left"),
        a_round(waves((0.3, 0)), what="tread-lateral"),
        a_round(waves((0.3, 0)), taken="after"),
    ]
    case = case_of(readings=[each.model_dump() for each in (first, *others)])
    second = a_round(waves((0.1, 0)), moved_deg=360.0)  # a full turn is where it was
    after = with_round(case, second)
    assert after.readings == [*others, second]
    assert round_at(after, "tread-radial", "front-right", 0.0) == second
    assert without_round(after, "tread-radial", "front-right", 0.0).readings == others


# -- told -------------------------------------------------------------------------------------------------------


def test_pure_eccentricity_is_told_with_its_place() -> None:
    # Geometry: a circle whose centre lies 0.30 mm off reads 0.60 mm in all, highest on the side it lies off to.
    seen = see_round(a_round(waves((0.3, 90))))
    assert seen.total is not None
    assert seen.first is not None
    assert seen.total.low <= 0.6 <= seen.total.high
    assert seen.first.amount.low <= 0.3 <= seen.first.amount.high
    assert (seen.sign, seen.first_is, seen.unit) == ("within", "eccentricity", "mm")
    assert high_words(seen.first, seen.turning).startswith("high point near 3 o'clock (90 degrees")
    left = see_round(a_round(waves((0.3, 90)), wheel="front-left"))
    assert left.first is not None
    assert "near 9 o'clock (90 degrees" in high_words(
        left.first, left.turning
    )  # seen from outside it turns the other way
    assert "common practice" in seen.because[0]
    assert not any(says.startswith("eccentricity") for says in seen.because)


def test_thousandths_are_told_in_millimetres_and_too_few_readings_give_a_bound() -> None:
    values = [float(round(each / 0.0254)) for each in waves((0.3, 90))]
    total = see_round(a_round(values, unit="thou")).total
    assert total is not None
    assert total.best == pytest.approx(0.6, abs=0.03)
    few = see_round(a_round([0.0, 0.4, 0.0, -0.4]))
    assert (few.total, few.first, few.sign) == (None, None, "cannot-tell")
    assert 0.0 < few.at_least <= 0.8


@pytest.mark.parametrize("what", ["disc-thickness", "radial-force", "propshaft-middle"])
def test_every_kind_is_told(what: str) -> None:
    values = [22.0 + each for each in waves((0.01, 0), (0.01, 90))]
    unit = "N" if what == "radial-force" else "mm"
    seen = see_round(ReadingSet.model_validate({"what": what, "unit": unit, "values": values}))
    assert seen.because
    assert seen.unit == unit


def test_half_a_turn_on_the_studs_parts_hub_and_wheel(case_of: CaseOf) -> None:
    # Superposition: counted from the valve the wheel's 0.40 stays at 30, the hub's 0.10 turns back by what was moved.
    came, moved = waves((0.4, 30), (0.1, 0)), waves((0.4, 30), (0.1, -180))
    case = case_of(readings=[a_round(came).model_dump()])
    turned = turned_on_studs(case, a_round(moved, moved_deg=180.0))
    assert turned is not None
    assert turned.found.wheel.amount.low <= 0.4 <= turned.found.wheel.amount.high
    assert turned.found.hub.amount.low <= 0.1 <= turned.found.hub.amount.high
    assert turned_on_studs(case, a_round(came)) is None
    assert turned_on_studs(case, a_round(moved, moved_deg=180.0, wheel="rear-left")) is None
    assert turned_on_studs(case, a_round(moved, moved_deg=180.0, taken="after")) is None


def test_a_round_and_a_balance_reading_have_a_name(case_of: CaseOf) -> None:
    assert name_of(a_round(waves((0.3, 0)), moved_deg=144.0)) == "tread radial front right, moved by 144 degrees"
    shown = [
        {"wheel": "front-left", "inner_amount": 30.0, "inner_deg": angle, "shaft_deg": angle} for angle in (0, 180)
    ]
    case = case_of(balance_readings=[{**each, "display_step": 1.0} for each in shown])
    assert balance_words(case, case.balance_readings[0]) == "inner 30 g at 0: differs when mounted again"
    once = case_of(balance_readings=[{"outer_amount": 0.0, "unit": "oz"}])
    assert balance_words(once, once.balance_readings[0]) == "outer 0 oz: mounted once"
