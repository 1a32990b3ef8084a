"""Balance: planes, splitting, rounding, gaps, the permissible residual, force over speed, trims."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize

from vibdiag.measure import (
    Plane,
    RunPair,
    TwoPlanes,
    UncertainVector,
    best_pieces,
    best_trim,
    couple_and_static_to_planes,
    force_over_speed,
    gap_for_unbalance,
    hidden_by_rounding,
    judge_residual,
    move_correction,
    off_centre,
    permissible_residual,
    split_in_stock,
    split_over_angles,
    spread_two_equal,
    static_trim,
    to_static_and_couple,
    weight,
    wheel_or_mounting,
)
from vibdiag.rotation import Interval, Polar, correction_weight, imbalance_force_n, resultant

PUBLISHED: dict[str, dict[str, Any]] = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "rotation" / "reference_values.yaml").read_text(encoding="utf-8")
    )
}
INNER, OUTER = Plane("inner clip-on", 0.0, 203.2), Plane("outer clip-on", 150.0, 203.2)
WEIGHTS = st.builds(Polar, st.floats(0.0, 200.0), st.floats(0.0, 359.0))
PLANES = st.builds(Plane, st.just("plane"), st.floats(-100.0, 200.0), st.floats(120.0, 260.0))


def two(inner: Polar, outer: Polar) -> TwoPlanes:
    return TwoPlanes(INNER, OUTER, inner, outer)


def load(planes: TwoPlanes) -> tuple[complex, complex]:
    """Force and moment about position 0, from first principles."""
    a, b = planes.inner_gmm.to_complex(), planes.outer_gmm.to_complex()
    return a + b, a * planes.inner.position_mm + b * planes.outer.position_mm


# --- planes


@settings(deadline=None)
@given(WEIGHTS, WEIGHTS)
def test_static_and_couple_go_there_and_back(inner: Polar, outer: Polar) -> None:
    split = to_static_and_couple(two(inner, outer))
    back = couple_and_static_to_planes(split.static, split.pair, inner=INNER, outer=OUTER)
    assert (back.inner_g - inner).amount < 1e-6
    assert (back.outer_g - outer).amount < 1e-6


@settings(deadline=None)
@given(WEIGHTS, WEIGHTS, PLANES, PLANES)
def test_moving_a_correction_keeps_force_and_moment(inner: Polar, outer: Polar, one: Plane, other: Plane) -> None:
    assume(abs(one.position_mm - other.position_mm) > 5.0)
    before = two(inner, outer)
    moved = move_correction(before, inner=one, outer=other)
    for was, now in zip(load(before), load(moved), strict=True):
        assert now == pytest.approx(was, abs=1e-3)
    back = move_correction(moved, inner=INNER, outer=OUTER)
    assert (back.inner_g - inner).amount < 1e-5
    assert (back.outer_g - outer).amount < 1e-5


@settings(deadline=None)
@given(WEIGHTS, WEIGHTS)
def test_ounces_and_grams_are_the_same_weights(inner: Polar, outer: Polar) -> None:
    ounces = two(
        weight(inner.amount / 28.349523125, inner.angle_deg, unit="oz"),
        weight(outer.amount / 28.349523125, outer.angle_deg, unit="oz"),
    )
    assert load(ounces)[0] == pytest.approx(load(two(inner, outer))[0], abs=1e-6)


def test_published_decomposition_into_two_planes() -> None:
    """BAL-001, D. Xie, Flexible rotor dynamic balancing (lecture chapter 4, 2010): -2.5 and 1.5 of U balance it."""
    entry = PUBLISHED["BAL-001"]
    planes = [Plane("", 1000.0 * entry["inputs"][f"x_plane{n}"], 200.0) for n in (1, 2)]
    single = TwoPlanes(Plane("", 100.0, 200.0), Plane("", 500.0, 200.0), Polar(10.0, 0.0), Polar(0.0, 0.0))
    moved = move_correction(single, inner=planes[0], outer=planes[1])
    shares = [part.opposite().to_complex().real / 10.0 for part in (moved.inner_g, moved.outer_g)]
    assert shares == pytest.approx(entry["expected"], abs=entry["tolerance"])


def test_static_part_of_thirty_and_twenty_grams() -> None:
    """BAL-024 (derived, true by construction): 7211.1 g.mm at 33.690 degrees."""
    planes = TwoPlanes(Plane("", 0.0, 200.0), Plane("", 150.0, 200.0), Polar(30.0, 0.0), Polar(20.0, 90.0))
    static = to_static_and_couple(planes).static
    assert static.amount == pytest.approx(PUBLISHED["BAL-024"]["expected"], rel=1e-4)
    assert static.angle_deg == pytest.approx(33.690, abs=1e-3)


@pytest.mark.parametrize(("position", "radius"), [(math.nan, 200.0), (0.0, 5.0), (0.0, math.inf), (0.0, 8000.0)])
def test_impossible_planes_are_refused(position: float, radius: float) -> None:
    with pytest.raises(ValueError, match="of the rim plane"):
        Plane("rim", position, radius)


def test_planes_in_one_place_are_refused() -> None:
    with pytest.raises(ValueError, match="lie apart"):
        TwoPlanes(INNER, INNER, Polar(1, 0), Polar(1, 0))


# --- splitting


@settings(deadline=None)
@given(WEIGHTS, st.floats(1.0, 80.0), st.floats(1.0, 80.0))
def test_split_weights_sum_to_the_correction(correction: Polar, before: float, after: float) -> None:
    parts = split_over_angles(correction, correction.angle_deg - before, correction.angle_deg + after)
    assert (resultant(parts) - correction).amount < 1e-6


@settings(deadline=None)
@given(st.builds(Polar, st.floats(0.1, 100.0), st.floats(0.0, 359.0)), st.floats(0.5, 5.0))
def test_two_equal_weights_sum_to_the_correction(correction: Polar, times: float) -> None:
    assume(times >= 0.5)
    parts = spread_two_equal(correction, correction.amount * times)
    assert (resultant(parts) - correction).amount < 1e-6
    assert parts[0].amount == parts[1].amount


@settings(deadline=None)
@given(
    st.builds(Polar, st.floats(0.0, 100.0), st.floats(0.0, 359.0)),
    st.lists(st.floats(0.0, 359.0), min_size=1, max_size=2),
    st.lists(st.sampled_from([2.5, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0]), min_size=1, max_size=4, unique=True),
)
def test_stock_and_what_is_missing_make_the_correction_and_nothing_does_better(
    correction: Polar, angles: list[float], stock: list[float]
) -> None:
    found = split_in_stock(correction, angles, stock, most_each=2)
    made = resultant(Polar(pieces.together_g, angle) for angle, pieces in found.at)
    assert (made + found.missing - correction).amount < 1e-6
    assert all(piece in stock for _, pieces in found.at for piece in pieces.each_g)
    sums = {0.0, *stock, *(a + b for a in stock for b in stock)}
    least = min(
        (resultant(Polar(s, a) for s, a in zip(choice, angles, strict=True)) - correction).amount
        for choice in itertools.product(sums, repeat=len(angles))
    )
    assert found.missing.amount == pytest.approx(least, abs=1e-6)


def test_pieces_from_the_drawer() -> None:
    assert best_pieces(37.0, [5.0, 10.0, 20.0, 30.0]).each_g == (30.0, 5.0)
    assert best_pieces(1.0, [5.0]).each_g == ()
    assert best_pieces(40.0, [10.0, 20.0, 40.0]).each_g == (40.0,)  # one piece rather than two


def test_splits_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="does not lie between"):
        split_over_angles(Polar(10, 90), 100, 150)
    with pytest.raises(ValueError, match="in one line"):
        split_over_angles(Polar(10, 90), 0, 180)
    with pytest.raises(ValueError, match="heavier"):
        spread_two_equal(Polar(30, 0), 10)
    with pytest.raises(ValueError, match="stock"):
        best_pieces(10, [])
    with pytest.raises(ValueError, match="6 pieces"):
        best_pieces(10, [5], most=9)
    with pytest.raises(ValueError, match="one or two"):
        split_in_stock(Polar(1, 0), [1, 2, 3], [5])


# --- rounding, gaps


def test_what_a_quarter_ounce_display_hides() -> None:
    """BAL-019, service manual of a 2000 SUV: 7 g (1/4 oz) is the step; half in each plane, in line, is 7 g static."""
    step = weight(0.25, 0.0, unit="oz").amount
    hidden = hidden_by_rounding(step, INNER, OUTER, rotation_hz=14.4)
    assert hidden.static_g.high == pytest.approx(PUBLISHED["BAL-019"]["expected"], abs=0.1)
    assert hidden.force_n.high == pytest.approx(imbalance_force_n(step * 203.2, 14.4))
    assert hidden_by_rounding(step, INNER, OUTER, rotation_hz=14.4, blind_below_g=10.0).per_plane_g == 10.0


def test_usual_hidden_amount_is_the_root_mean_square_of_a_simulation() -> None:
    draw = np.random.default_rng(8)
    parts = draw.uniform(0.0, 3.5, (2, 200_000)) * np.exp(2j * np.pi * draw.random((2, 200_000)))
    hidden = hidden_by_rounding(7.0, INNER, OUTER, rotation_hz=14.4)
    assert hidden.static_g.best == pytest.approx(float(np.sqrt(np.mean(np.abs(parts.sum(axis=0)) ** 2))), rel=0.01)
    assert np.abs(parts.sum(axis=0)).max() <= hidden.static_g.high


def test_a_tenth_of_a_millimetre_off_centre() -> None:
    """BAL-022, BAL-023 (ISO 21940-11 identity): 20 kg, 0.1 mm: 2000 g.mm, 9.84 g at a 16-inch rim, 0.2 mm of dial."""
    found = off_centre(57.3, 57.1, mass_kg=20.0, rim_radius_mm=203.2)
    assert found.unbalance_gmm.high == pytest.approx(PUBLISHED["BAL-022"]["expected"])
    assert found.weight_g.high == pytest.approx(PUBLISHED["BAL-023"]["expected"], rel=1e-3)
    assert found.runout_mm.high == pytest.approx(0.2)
    assert found.offset_mm.low == 0.0


@settings(deadline=None)
@given(st.floats(0.0, 3.0), st.floats(1.0, 80.0))
def test_gap_to_unbalance_and_back(gap: float, mass: float) -> None:
    found = off_centre(60.0 + gap, 60.0, mass_kg=mass, rim_radius_mm=200.0)
    assert gap_for_unbalance(found.unbalance_gmm.high, mass_kg=mass) == pytest.approx(gap, abs=1e-9)


def test_impossible_steps_and_gaps_are_refused() -> None:
    with pytest.raises(ValueError, match="does not go into"):
        off_centre(57.0, 57.1, mass_kg=20, rim_radius_mm=200)
    with pytest.raises(ValueError, match="mass must"):
        off_centre(57.2, 57.1, mass_kg=0, rim_radius_mm=200)
    with pytest.raises(ValueError, match="unbalance of zero"):
        gap_for_unbalance(-1.0, mass_kg=20)
    with pytest.raises(ValueError, match="step"):
        hidden_by_rounding(0.0, INNER, OUTER, rotation_hz=10)
    with pytest.raises(ValueError, match="rotation frequency"):
        hidden_by_rounding(7.0, INNER, OUTER, rotation_hz=0)


# --- permissible residual


def test_permissible_residual_of_the_standards_own_example() -> None:
    """BAL-011, BAL-012: ISO 1940-1:2003 (now ISO 21940-11) example, from memory: 3600 kg, 3000 r/min, G 2.5."""
    found = permissible_residual(
        3600.0,
        50.0,
        inner=Plane("A", 0.0, 400.0),
        outer=Plane("B", 2400.0, 400.0),
        centre_mm=1500.0,
        grade_mm_per_s=2.5,
    )
    assert found.total_gmm == pytest.approx(PUBLISHED["BAL-011"]["expected"], rel=0.003)
    assert [found.inner_gmm, found.outer_gmm] == pytest.approx(PUBLISHED["BAL-012"]["expected"], rel=0.005)


def test_a_car_wheel_at_grade_40() -> None:
    """BAL-014 (grade, from memory), BAL-015: 20 kg at 120 km/h on 0.305 m: 7320 g.mm; BAL-010: halves in the middle."""
    hz = 120.0 / 3.6 / (2.0 * math.pi * 0.305)
    found = permissible_residual(20.0, hz, inner=INNER, outer=OUTER, centre_mm=75.0)
    assert found.total_gmm == pytest.approx(PUBLISHED["BAL-015"]["expected"], rel=1e-3)
    assert found.inner_gmm / found.total_gmm == pytest.approx(PUBLISHED["BAL-010"]["expected"])
    assert found.inner_g + found.outer_g == pytest.approx(36.0, abs=0.1)
    assert "ISO 21940-11, G 40" in found.source


@settings(deadline=None)
@given(st.floats(0.0, 150.0))
def test_shares_sum_to_the_whole_and_stay_within_the_standards_bounds(centre: float) -> None:
    found = permissible_residual(20.0, 15.0, inner=INNER, outer=OUTER, centre_mm=centre)
    assert found.inner_gmm + found.outer_gmm == pytest.approx(found.total_gmm)
    assert 0.3 - 1e-9 <= found.inner_gmm / found.total_gmm <= 0.7 + 1e-9


def test_residuals_are_judged_with_what_the_display_hides() -> None:
    limits = permissible_residual(20.0, 17.4, inner=INNER, outer=OUTER, centre_mm=75.0)
    small = judge_residual(two(Polar(3, 0), Polar(3, 180)), limits, step_g=1.0)
    assert (small.inner.sign, small.outer.sign, small.static.sign) == ("within", "within", "within")
    large = judge_residual(two(Polar(60, 0), Polar(60, 180)), limits, step_g=1.0)
    assert (large.inner.sign, large.outer.sign, large.static.sign) == ("over", "over", "within")
    edge = judge_residual(two(Polar(limits.inner_g, 0), Polar(0, 0)), limits, step_g=7.0)
    assert edge.inner.sign == "cannot-tell"
    other = TwoPlanes(INNER, Plane("adhesive", 100.0, 180.0), Polar(1, 0), Polar(1, 0))
    with pytest.raises(ValueError, match="different planes"):
        judge_residual(other, limits, step_g=1.0)
    with pytest.raises(ValueError, match="step"):
        judge_residual(two(Polar(1, 0), Polar(1, 0)), limits, step_g=-1.0)


# --- repeated mountings


def test_a_centring_error_of_the_shaft_is_told_from_the_wheel() -> None:
    wheel, shaft = Polar(20.0, 80.0), Polar(6.0, 200.0)
    shown = [(float(b), wheel + Polar(6.0, 200.0 - b)) for b in (0, 90, 180, 270)]
    by_stem = wheel_or_mounting(shown, display_step=0.3)
    by_shaft = wheel_or_mounting(
        [(b, Polar(z.amount, z.angle_deg + b)) for b, z in shown], display_step=0.3, angles_from="shaft"
    )
    for found in (by_stem, by_shaft):
        assert (found.wheel.value - wheel).amount < 1e-9
        assert (found.mounting.value - shaft).amount < 1e-9
        assert found.repeats.sign == "cannot-tell"  # no scatter at all, but four mountings of a 0.3 g display


def test_scatter_is_judged_by_its_interval() -> None:
    calm = [(b, Polar(20.0, 0.0)) for b in (0.0, 90.0, 180.0, 270.0, 0.0, 90.0)]
    assert wheel_or_mounting(calm, display_step=0.3, repeats_within=1.0).repeats.sign == "within"
    wild = [(b, Polar(20.0, a)) for b, a in ((0.0, 0.0), (90.0, 90.0), (180.0, 200.0), (270.0, 10.0))]
    assert wheel_or_mounting(wild, display_step=0.3).repeats.sign == "over"
    two_only = wheel_or_mounting(calm[:2], display_step=0.3)
    assert two_only.repeatability is None
    assert two_only.repeats.sign == "cannot-tell"
    with pytest.raises(ValueError, match="step"):
        wheel_or_mounting(calm, display_step=0.0)
    with pytest.raises(ValueError, match="wheel or shaft"):
        wheel_or_mounting(calm, display_step=1.0, angles_from="car")  # type: ignore[arg-type]


# --- force over speed


def test_imbalance_against_runout() -> None:
    """20 g at 200 mm: 33 N at 100 km/h on 225/45R17; 0.5 mm total on 200 N/mm: 50 N amplitude at every speed."""
    table = force_over_speed(
        unbalance_gmm=Interval.exact(4000.0),
        eccentricity_mm=Interval.exact(0.25),
        circumference_m=Interval.exact(1.929),
        speeds_kmh=[50.0, 100.0, 200.0],
        tyre_n_per_mm=Interval.exact(200.0),
    )
    assert [row.larger for row in table.rows] == ["runout", "runout", "imbalance"]
    assert table.rows[1].imbalance_n.best == pytest.approx(33.0, abs=0.5)
    assert all(row.runout_n.best == pytest.approx(50.0) for row in table.rows)
    assert table.rows[2].imbalance_n.best == pytest.approx(4.0 * table.rows[1].imbalance_n.best)  # BAL-027
    assert table.equal_at_kmh is not None
    again = force_over_speed(
        unbalance_gmm=Interval.exact(4000.0),
        eccentricity_mm=Interval.exact(0.25),
        circumference_m=Interval.exact(1.929),
        speeds_kmh=[table.equal_at_kmh.best],
        tyre_n_per_mm=Interval.exact(200.0),
        heavy_from_high_deg=0.0,
    ).rows[0]
    assert again.imbalance_n.best == pytest.approx(again.runout_n.best)
    assert again.together_n.best == pytest.approx(0.0, abs=1e-6)


BAND = st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0)).map(lambda t: Interval(*sorted(t)))


@settings(deadline=None)
@given(BAND, BAND, st.none() | st.floats(0.0, 360.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 360.0))
def test_together_encloses_every_combination(
    u: Interval, e: Interval, angle: float | None, x: float, y: float, any_angle: float
) -> None:
    unbalance = Interval(u.low * 9000.0, u.best * 9000.0, u.high * 9000.0)
    row = force_over_speed(
        unbalance_gmm=unbalance,
        eccentricity_mm=e,
        circumference_m=Interval.exact(2.0),
        speeds_kmh=[110.0],
        heavy_from_high_deg=angle,
    ).rows[0]
    a = row.imbalance_n.low + x * row.imbalance_n.width
    b = row.runout_n.low + y * row.runout_n.width
    between = math.radians(any_angle if angle is None else angle)
    together = abs(a * complex(math.cos(between), math.sin(between)) - b)
    assert row.together_n.low - 1e-6 <= together <= row.together_n.high + 1e-6


def test_forces_that_cannot_be_are_refused() -> None:
    good: dict[str, Any] = {
        "unbalance_gmm": Interval.exact(1.0),
        "eccentricity_mm": Interval.exact(0.1),
        "circumference_m": Interval.exact(2.0),
        "speeds_kmh": [100.0],
    }
    with pytest.raises(ValueError, match="speed"):
        force_over_speed(**(good | {"speeds_kmh": [0.0]}))
    with pytest.raises(ValueError, match="zero or more"):
        force_over_speed(**(good | {"unbalance_gmm": Interval.exact(-1.0)}))
    assert force_over_speed(**(good | {"unbalance_gmm": Interval(0.0, 1.0, 2.0)})).equal_at_kmh is None


# --- trims


def run(before: Polar, after: Polar, error: float = 0.01) -> RunPair:
    return RunPair(UncertainVector.even(before, error), UncertainVector.even(after, error))


def test_published_single_plane_balance() -> None:
    """BAL-004, S. S. Rao, Mechanical Vibrations, ch. 9 (inputs seen, answer computed): 67.37 g at 343.14 degrees."""
    inputs = PUBLISHED["BAL-004"]["inputs"]
    pair = run(Polar(*inputs["v0"]), Polar(*inputs["v1"]))
    found = best_trim([pair], Polar(*inputs["trial"]))
    assert found.weight.value.amount == pytest.approx(PUBLISHED["BAL-004"]["expected"], abs=0.01)
    assert found.weight.value.angle_deg == pytest.approx(343.138, abs=0.001)
    assert found.left[0].amount == pytest.approx(0.0, abs=1e-12)
    expected = correction_weight(pair.before.value, pair.with_trial.value, Polar(*inputs["trial"]))
    assert (found.weight.value - expected).amount < 1e-9


@settings(deadline=None)
@given(st.lists(st.tuples(WEIGHTS, WEIGHTS), min_size=1, max_size=4))
def test_no_other_weight_leaves_less(runs: list[tuple[Polar, Polar]]) -> None:
    """Against scipy's minimiser."""
    assume(any((a - b).amount > 10.0 for a, b in runs))
    trial = Polar(10.0, 40.0)
    found = best_trim([run(a, b) for a, b in runs], trial)
    before = np.array([a.to_complex() for a, _ in runs])
    answer = np.array([(b.to_complex() - a.to_complex()) / trial.to_complex() for a, b in runs])
    least = optimize.lsq_linear(
        np.vstack([np.column_stack([answer.real, -answer.imag]), np.column_stack([answer.imag, answer.real])]),
        -np.concatenate([before.real, before.imag]),
    )
    left = math.sqrt(sum(each.amount**2 for each in found.left))
    assert left == pytest.approx(math.sqrt(2.0 * least.cost), rel=1e-6, abs=1e-6)
    assert found.left_share.low <= found.left_share.best <= 1.0 + 1e-9


def test_a_trial_that_changed_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="larger one"):
        best_trim([run(Polar(4, 0), Polar(4.01, 0), 0.1)], Polar(10, 0))
    with pytest.raises(ValueError, match="At least one run"):
        best_trim([], Polar(10, 0))


@settings(deadline=None)
@given(WEIGHTS, WEIGHTS, PLANES)
def test_a_static_trim_leaves_no_static_part(inner: Polar, outer: Polar, plane: Plane) -> None:
    residual = two(inner, outer)
    found = static_trim(residual, plane)
    assert found.couple.static.amount < 1e-6
    force, moment = load(residual)
    fitted = found.weight_g.to_complex() * plane.radius_mm
    assert abs(force + fitted) < 1e-6
    left = abs(moment + fitted * plane.position_mm)  # a pure couple: the same about any point
    assert found.couple.moment == pytest.approx(left, abs=1e-2)
