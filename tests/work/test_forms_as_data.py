"""What is typed into the forms of vehicle and reading becomes the case's own parts, or one sentence a field."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.case.model import Case, Measurement, Repair, Tyres, Vehicle
from vibdiag.work.form import FormField
from vibdiag.work.reading_form import READING_FIELDS, read_reading, taken_now
from vibdiag.work.vehicle_form import VEHICLE_FIELDS, read_vehicle, typed_of, wheel_value_typed

FULL = Vehicle(
    description="estate car",
    driven="all",
    engine_placement="longitudinal",
    power="combustion",
    gearbox="manual",
    cylinders=6,
    axle_ratio=3.65,
    gear_ratio=0.76,
    engine_rpm=2450.0,
    reduction_ratio=9.3,
    solid_front_axle="no",
    wheels_not_original="yes",
    tyres=Tyres(front="225/45R17 91W", rear="255/40R17", old_or_used="yes"),
    odometer_km=84321.5,
)


def test_the_table_has_every_field_of_the_vehicle_once() -> None:
    in_model = set(Vehicle.model_fields) - {"tyres"} | {f"tyres.{name}" for name in Tyres.model_fields}
    paths = [field.path for field in VEHICLE_FIELDS]
    assert sorted(paths) == sorted(in_model)


def test_the_table_of_a_reading_has_every_field_a_person_fills_in() -> None:
    assert {field.path for field in READING_FIELDS} == set(Measurement.model_fields) - {"by", "at", "note"}


@pytest.mark.parametrize("vehicle", [Vehicle(), FULL])
def test_what_is_shown_reads_back_to_the_same_vehicle(vehicle: Vehicle) -> None:
    draft = read_vehicle(typed_of(vehicle))
    assert not draft.faults
    assert draft.vehicle == vehicle


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        ("tyres.front", "225/45R77", "rim diameter of 77"),
        ("tyres.rear", "225/450R17", "An aspect ratio of 450 % does not exist"),
        ("axle_ratio", "three", "Axle ratio: 'three' is no number; write for example 3.65."),
        ("axle_ratio", "25", "Axle ratio: must be below 20, and 25 is not."),
        ("cylinders", "4.5", "Cylinders: '4.5' is no whole number"),
        ("cylinders", "17", "at most 16"),
        ("engine_rpm", "nan", "Engine, 1/min"),
        ("odometer_km", "-5", "at least 0"),
        ("odometer_km", "84.00.0", "Odometer, km: '84.00.0' is no number"),
        ("odometer_km", "9000000", "must be at most 5 000 000, and 9000000 is not"),
        ("odometer_km", "far", "Odometer, km: 'far' is no number"),
        ("driven", "sideways", "Driven axle: must be 'front', 'rear', 'all' or 'unknown'"),
    ],
)
def test_a_field_that_cannot_be_is_said_in_one_sentence_and_the_others_are_read(
    path: str, text: str, said: str
) -> None:
    draft = read_vehicle({"gearbox": "manual", path: text})
    assert said in draft.faults[path]
    assert list(draft.faults) == [path]
    assert draft.vehicle == Vehicle(gearbox="manual")


@pytest.mark.parametrize(
    ("text", "km"),
    [
        ("84.000", 84000),
        ("84,000", 84000),
        ("84 000", 84000),
        ("84'000", 84000),
        ("1.084.000 km", 1_084_000),
        ("84000.5", 84000.5),
        ("52 000 mi", 52_000 * 1.609344),  # the mile is 1609.344 m (international yard and pound agreement, 1959)
    ],
)
def test_an_odometer_is_read_as_it_is_written(text: str, km: float) -> None:
    draft = read_vehicle({"odometer_km": text})
    assert not draft.faults
    assert draft.vehicle.odometer_km == pytest.approx(km)


def test_only_where_thousands_are_meant_a_point_before_three_digits_sets_them_off() -> None:
    draft = read_vehicle({"engine_rpm": "2.400", "axle_ratio": "3.733"})
    assert not draft.faults
    assert (draft.vehicle.engine_rpm, draft.vehicle.axle_ratio) == (2400, 3.733)


def test_a_ratio_no_car_has_is_refused_though_the_file_would_take_it() -> None:
    # Else it would be kept, and the first measured frequency could not be assessed.
    draft = read_vehicle({"axle_ratio": "0.7"})
    assert "axle ratio is 0.7" in draft.faults["driveline"]


def test_a_decimal_comma_and_miles_are_read() -> None:
    draft = read_vehicle({"axle_ratio": "3,65", "odometer_km": "10 mi"})
    assert draft.vehicle.axle_ratio == 3.65
    assert draft.vehicle.odometer_km == pytest.approx(16.09344)  # a mile is 1.609344 km by definition (1959)


def test_a_wheel_value_is_a_number_of_zero_or_more_or_nothing() -> None:
    assert wheel_value_typed("  ") is None
    assert wheel_value_typed("2,3") == 2.3
    for text in ("-1", "nan", "inf", "full"):
        with pytest.raises(ValueError, match=text):
            wheel_value_typed(text)


@given(st.text(max_size=30), st.sampled_from(VEHICLE_FIELDS))
def test_nothing_typed_breaks_the_form(text: str, field: FormField) -> None:
    draft = read_vehicle({field.path: text})
    assert "" not in draft.faults.values()


def test_a_reading_is_read_and_a_wrong_unit_is_said() -> None:
    typed = {"quantity": "hub-face-runout", "wheel": "rear-left", "value": "0,12", "unit": "mm", "limit": "0.08"}
    draft = read_reading(typed | {"taken": "before"})
    assert draft.reading == Measurement(
        quantity="hub-face-runout", value=0.12, unit="mm", wheel="rear-left", limit=0.08, taken="before"
    )
    assert "'bar' is no unit" in read_reading(typed | {"unit": "bar"}).faults["unit"]


def test_without_a_value_there_is_no_reading_and_no_fault() -> None:
    draft = read_reading({"quantity": "hub-face-runout", "value": " ", "unit": "mm"})
    assert draft.reading is None
    assert not draft.faults


def test_a_reading_belongs_after_the_repair_while_its_effect_is_open() -> None:
    case = Case(vibdiag_case=1, id="repairs")
    assert taken_now(case) == "before"
    done = case.history.model_copy(update={"repairs": [Repair(what="balance")]})
    assert taken_now(case.model_copy(update={"history": done})) == "after"
    judged = case.history.model_copy(update={"repairs": [Repair(what="balance", effect="none")]})
    assert taken_now(case.model_copy(update={"history": judged})) == "before"
