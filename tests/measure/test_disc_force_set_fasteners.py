"""Brake disc, force variation, the set of wheels, the fasteners."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.measure import (
    RE_TORQUE_CAUTION,
    WheelState,
    brake_disc,
    circumference_differences,
    dial_readings,
    evenly_spaced_deg,
    fastener_torque,
    force_readings,
    force_variation,
    runout,
    stated_force_variation,
    thickness_readings,
    thickness_variation,
    tightening_sequence,
)
from vibdiag.measure.brake_disc import ThicknessVariation
from vibdiag.measure.runout import Runout
from vibdiag.rotation import Interval, beat_period

PUBLISHED = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "rotation" / "reference_values.yaml").read_text(encoding="utf-8")
    )
}


def disc(variation_mm: float, *, waves: int = 1, count: int = 12, maker: float | None = 0.015) -> ThicknessVariation:
    values = [22.0 + variation_mm / 2.0 * math.cos(math.radians(waves * a)) for a in evenly_spaced_deg(count)]
    return thickness_variation(thickness_readings(values), maker_limit_mm=maker)


def wobble(total_mm: float, *, count: int = 12, maker: float | None = 0.08) -> Runout:
    values = [total_mm / 2.0 * math.cos(math.radians(a)) for a in evenly_spaced_deg(count)]
    return runout(dial_readings(values, resolution=0.002, noise=0.002), "brake-disc", maker_limit_mm=maker)


@pytest.mark.parametrize(
    ("variation_mm", "total_mm", "felt"),
    [
        (0.040, 0.02, "thickness-variation"),
        (0.040, 0.30, "thickness-variation"),
        (0.002, 0.30, "runout"),
        (0.002, 0.02, "neither"),
        (0.015, 0.02, "cannot-tell"),
        (0.002, 0.08, "cannot-tell"),
        (0.002, None, "cannot-tell"),
    ],
)
def test_which_is_more_likely_felt(variation_mm: float, total_mm: float | None, felt: str) -> None:
    found = brake_disc(disc(variation_mm), None if total_mm is None else wobble(total_mm))
    assert found.more_likely_felt == felt
    assert found.because


def test_orders_of_the_thickness() -> None:
    found = disc(0.04, waves=2)
    assert [each.order for each in found.orders] == [2]
    assert found.thinnest_mm == pytest.approx(21.98)
    assert disc(0.0).orders == ()


def test_one_thick_place_read_at_eight_is_over_although_its_orders_are_unclear() -> None:
    values = [22.0, 22.0, 22.0, 22.05, 22.0, 22.0, 22.0, 22.0]
    assert thickness_variation(thickness_readings(values)).judgement.sign == "over"


def test_micrometer_in_inches_and_few_places() -> None:
    thou = thickness_readings([866.0 + 0.8 * math.cos(math.radians(a)) for a in evenly_spaced_deg(12)], unit="thou")
    assert thickness_variation(thou).fit.mean == pytest.approx(866.0 * 0.0254, abs=1e-3)
    assert disc(0.002, count=6).judgement.sign == "cannot-tell"
    assert disc(0.06, count=6).judgement.sign == "over"
    with pytest.raises(ValueError, match="Thickness 2"):
        thickness_readings([22.0, 0.0, 22.0, 22.0])
    with pytest.raises(ValueError, match="brake disc"):
        brake_disc(disc(0.0), runout(dial_readings([0.0] * 8), "hub-face"))


# --- force variation


def test_force_variation_is_judged_in_all_and_in_its_first_harmonic() -> None:
    values = [5000.0 + 55.0 * math.cos(math.radians(a)) for a in evenly_spaced_deg(16)]
    found = force_variation(force_readings(values))
    assert (found.total.sign, found.first.sign) == ("within", "over")
    assert found.as_runout_mm is not None
    assert found.as_runout_mm.best == pytest.approx(0.55)
    other = [5000.0 + 55.0 * math.cos(math.radians(3 * a)) for a in evenly_spaced_deg(16)]
    assert force_variation(force_readings(other)).first.sign == "within"


def test_a_thousandth_of_an_inch_is_about_a_pound() -> None:
    """UNI-001 and UNI-002, trade magazine article of 2015: 0.030 in of loaded runout, 30 lbf (175.1 N/mm)."""
    stiffness = Interval.exact(PUBLISHED["UNI-001"]["expected"])
    swing = PUBLISHED["UNI-002"]["expected"] / 2.0
    values = [1000.0 + swing * math.cos(math.radians(a)) for a in evenly_spaced_deg(12)]
    found = force_variation(force_readings(values, unit="lbf", resolution=0.5), tyre_n_per_mm=stiffness)
    assert found.as_runout_mm is not None
    assert found.as_runout_mm.best == pytest.approx(0.030 * 25.4, rel=0.01)
    assert found.reading.total is not None
    assert found.reading.total.best == pytest.approx(133.0, abs=1.0)


def test_printed_figures_and_few_readings() -> None:
    printed = stated_force_variation(total_n=125.0, first_n=60.0, error_n=10.0)
    assert printed.total is not None
    assert printed.first is not None
    assert (printed.total.sign, printed.first.sign) == ("cannot-tell", "within")
    assert "probsee.com" in printed.first.because
    assert stated_force_variation(first_n=60.0, error_n=10.0).total is None
    few = force_variation(force_readings([5000, 5010, 5000, 4990, 5000]))
    assert (few.total.sign, few.first.sign, few.as_runout_mm) == ("cannot-tell", "cannot-tell", None)
    with pytest.raises(ValueError, match="error"):
        stated_force_variation(first_n=60.0, error_n=0.0)
    with pytest.raises(ValueError, match="zero or more"):
        stated_force_variation(first_n=-1.0, error_n=1.0)


# --- the set of wheels


def test_four_millimetres_of_tread() -> None:
    """Geometry: 8 mm of diameter on 634 mm is 1.26 % of circumference; the beat is that of rotation.beat_period."""
    wheels = [WheelState("front-left", 7, 230), WheelState("front-right", 3, 230), WheelState("rear-left", 7, 230)]
    found = circumference_differences(wheels, diameter_mm=634, circumference_m=1.93, speed_kmh=100)
    assert len(found) == 3
    worst = found[0]
    assert {worst.first, worst.second} == {"front-left", "front-right"}
    assert worst.percent.best == pytest.approx(100 * 8 / 634)
    assert worst.is_real
    expected = beat_period(1930 * 8 / 634, Interval.exact(100), Interval.exact(1.93)).best
    assert worst.likely_s == pytest.approx(expected)
    assert worst.longest_s is not None
    assert worst.shortest_s < expected < worst.longest_s
    alike = found[-1]
    assert (alike.is_real, alike.likely_s, alike.longest_s) == (False, None, None)


@settings(deadline=None)
@given(st.floats(1, 9), st.floats(1, 9), st.floats(150, 400), st.floats(150, 400))
def test_exchanging_the_two_wheels_changes_the_sign_only(t1: float, t2: float, p1: float, p2: float) -> None:
    a, b = WheelState("a", t1, p1), WheelState("b", t2, p2)
    one = circumference_differences([a, b], diameter_mm=634, circumference_m=1.93, speed_kmh=100)[0]
    two = circumference_differences([b, a], diameter_mm=634, circumference_m=1.93, speed_kmh=100)[0]
    assert one.percent.best == pytest.approx(-two.percent.best, abs=1e-9)
    assert one.percent.low == pytest.approx(-two.percent.high, abs=1e-9)
    assert one.is_real == two.is_real
    assert one.shortest_s == pytest.approx(two.shortest_s)
    assert one.percent.contains(0.0) != one.is_real


def test_unlike_tyres_and_pressure_widen_the_difference() -> None:
    base = WheelState("a", 7, 230)
    low = circumference_differences([base, WheelState("b", 7, 80)], diameter_mm=634, circumference_m=1.93, speed_kmh=90)
    assert low[0].percent.contains(1.5 * 0.4)
    assert low[0].is_real
    other = circumference_differences(
        [base, WheelState("b", 3, 230, "other tread")], diameter_mm=634, circumference_m=1.93, speed_kmh=90
    )
    assert not other[0].is_real


def test_impossible_wheels_are_refused() -> None:
    with pytest.raises(ValueError, match="tread depth front"):
        WheelState("front", 40, 230)
    with pytest.raises(ValueError, match="pressure front"):
        WheelState("front", 4, 2.3)
    one = WheelState("front", 4, 230)
    with pytest.raises(ValueError, match="place of its own"):
        circumference_differences([one, one], diameter_mm=634, circumference_m=1.93, speed_kmh=90)
    with pytest.raises(ValueError, match="speed"):
        circumference_differences([one, WheelState("rear", 4, 230)], diameter_mm=634, circumference_m=1.93, speed_kmh=0)


# --- fasteners


@pytest.mark.parametrize("studs", range(3, 11))
def test_the_star_takes_every_stud_once_and_never_a_neighbour(studs: int) -> None:
    order = tightening_sequence(studs)
    assert sorted(order) == list(range(1, studs + 1))
    steps = [min((a - b) % studs, (b - a) % studs) for a, b in itertools.pairwise(order)]
    if studs >= 5:
        assert min(steps) >= 2
    if studs % 2 == 0:
        assert all(step == studs // 2 for step in steps[::2])


def test_the_usual_stars() -> None:
    """Common practice for four, five and six studs."""
    assert tightening_sequence(4) == (1, 3, 2, 4)
    assert tightening_sequence(5) == (1, 3, 5, 2, 4)
    assert tightening_sequence(6) == (1, 4, 2, 5, 3, 6)


def test_a_loose_or_missing_fastener_is_a_danger_before_all_else() -> None:
    """SAF-010, DVSA inspection manual 5.2.1."""
    maker = Interval.between(110, 130)
    assert fastener_torque([120, 120, None, 200, 90], maker_nm=maker).sign == "danger"
    assert fastener_torque([120, 0, 120, 120], maker_nm=None).sign == "danger"
    assert fastener_torque([120, 30, 120, 120], maker_nm=None).sign == "danger"
    assert "do not drive" in fastener_torque([120, 20, 120, 120], maker_nm=maker).because


@pytest.mark.parametrize(
    ("torque", "sign"), [(120, "within"), (100, "under"), (145, "over"), (111, "cannot-tell"), (128, "cannot-tell")]
)
def test_torque_is_judged_with_the_error_of_the_wrench(torque: float, sign: str) -> None:
    found = fastener_torque([120, 120, torque, 120, 120], maker_nm=Interval.between(110, 130))
    assert found.sign == sign
    assert found.each[2] == sign
    assert found.caution == RE_TORQUE_CAUTION


def test_without_the_makers_torque_nothing_is_judged() -> None:
    assert fastener_torque([120] * 5, maker_nm=None).sign == "cannot-tell"


def test_the_re_torque_caution_names_the_published_distances() -> None:
    """SAF-013 tyre maker page, 50 km; SAF-014, 50 to 100 km."""
    low, high = PUBLISHED["SAF-014"]["expected"]
    assert f"{low} to {high} km" in RE_TORQUE_CAUTION
    assert PUBLISHED["SAF-013"]["expected"] == low
    assert "maker" in RE_TORQUE_CAUTION


def test_impossible_fasteners_are_refused() -> None:
    with pytest.raises(ValueError, match="3 to 10"):
        tightening_sequence(11)
    with pytest.raises(ValueError, match="3 to 10"):
        fastener_torque([100.0] * 2, maker_nm=None)
    with pytest.raises(ValueError, match="fastener 2"):
        fastener_torque([100.0, -1.0, 100.0], maker_nm=None)
    with pytest.raises(ValueError, match="wrench"):
        fastener_torque([100.0] * 3, maker_nm=None, error_share=0.9)
