"""What a tyre rolls in one turn, and how wide the doubt about it is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import (
    Interval,
    circumference_contributions,
    free_circumference_m,
    parse_tyre,
    revolutions_per_km,
    revolutions_per_mile,
    rolling_circumference,
)

CAR = parse_tyre("205/55R16")


def test_a_workshop_note_and_the_nominal_factor_both_lie_inside() -> None:
    """835 rev/mile by the 3.05 factor, about 818 to 820 by a public workshop note: 2 % apart."""
    turns = revolutions_per_mile(rolling_circumference(CAR))
    assert turns.contains(835)
    assert turns.contains(818)


def test_an_encyclopaedias_regression_lies_inside() -> None:
    """1854 mm for 245/35R17, diracdelta.co.uk (fit to two tyre databooks)."""
    assert rolling_circumference(parse_tyre("245/35R17")).contains(1.854)


def test_makers_spread_lies_inside() -> None:
    """19 measured diameters of one maker's sheets stand -0.2 to +1.3 % from the marking."""
    circumference = rolling_circumference(CAR)
    for fraction in (-0.002, 0.013):
        assert circumference.contains(3.05e-3 * CAR.free_diameter_mm * (1 + fraction))


def test_wear_takes_about_two_per_cent() -> None:
    """8 mm to 1.6 mm of tread on a car tyre (common practice)."""
    new = rolling_circumference(CAR, tread_mm=8.0).best
    worn = rolling_circumference(CAR, tread_mm=1.6).best
    assert 1 - worn / new == pytest.approx(0.02, abs=0.001)


@given(st.floats(1.6, 8.0))
def test_unknown_tread_encloses_every_known_tread_at_its_best(tread: float) -> None:
    assert rolling_circumference(CAR).contains(rolling_circumference(CAR, tread_mm=tread).best)


def test_everything_known_makes_it_narrower() -> None:
    unknown = rolling_circumference(CAR)
    tread = rolling_circumference(CAR, tread_mm=6.0)
    pressure = rolling_circumference(CAR, tread_mm=6.0, pressure_checked=True)
    diameter = rolling_circumference(CAR, measured_diameter_mm=630.0, pressure_checked=True)
    widths = [each.relative_width for each in (unknown, tread, pressure, diameter)]
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == 4


def test_a_roll_out_overrides_everything() -> None:
    found = rolling_circumference(CAR, circumference_m=1.95, tread_mm=3.0)
    assert found == Interval.around_fraction(1.95, 0.005)


def test_an_assumed_aspect_ratio_widens() -> None:
    """185R14: 80 % and the inspection text's 82 % must both lie inside."""
    van = parse_tyre("185R14")
    circumference = rolling_circumference(van, tread_mm=8.0, pressure_checked=True)
    assert circumference.contains(3.05e-3 * (355.6 + 2 * 185 * 0.82))
    assert any("aspect" in each.reason for each in circumference_contributions(van))


def test_contributions_add_up_and_name_their_source() -> None:
    contributions = circumference_contributions(CAR)
    circumference = rolling_circumference(CAR)
    assert sum(each.down for each in contributions) == pytest.approx(1 - circumference.low / circumference.best)
    assert sum(each.up for each in contributions) == pytest.approx(circumference.high / circumference.best - 1)
    assert all(each.source for each in contributions)


def test_a_cross_ply_rolls_less_than_a_radial_of_its_diameter() -> None:
    radial, cross_ply = parse_tyre("165R15"), parse_tyre("165-15")
    assert cross_ply.free_diameter_mm == radial.free_diameter_mm
    assert rolling_circumference(cross_ply).best / rolling_circumference(radial).best == pytest.approx(2.99 / 3.05)


@given(st.sampled_from(["175/65R14", "225/45R17", "LT265/75R16", "31x10.50R15LT", "11R22.5", "T125/80D15"]))
def test_it_rolls_less_than_its_free_circumference(marking: str) -> None:
    tyre = parse_tyre(marking)
    circumference = rolling_circumference(tyre)
    assert circumference.low < circumference.best < free_circumference_m(tyre)


def test_turns_times_circumference_is_the_distance() -> None:
    circumference = rolling_circumference(CAR)
    assert revolutions_per_km(circumference).best * circumference.best == pytest.approx(1000.0)
    assert revolutions_per_mile(circumference).best / revolutions_per_km(circumference).best == pytest.approx(1.609344)


@pytest.mark.parametrize(
    ("given_value", "named"),
    [
        ({"tread_mm": -1.0}, "tread depth"),
        ({"tread_mm": 31.0}, "tread depth"),
        ({"new_tread_mm": 0.0}, "new tread"),
        ({"measured_diameter_mm": 63.0}, "overall diameter"),
        ({"circumference_m": 195.0}, "roll-out"),
        ({"circumference_m": float("nan")}, "roll-out"),
    ],
)
def test_impossible_readings_are_refused(given_value: dict[str, float], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        rolling_circumference(CAR, **given_value)  # type: ignore[arg-type]
