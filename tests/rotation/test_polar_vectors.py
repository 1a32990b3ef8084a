"""Vectors of unbalance and vibration."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from vibdiag.rotation import (
    Polar,
    correction_weight,
    influence_coefficient,
    resolve_into_planes,
    resultant,
    static_and_couple,
)

POLARS = st.builds(Polar, st.floats(0.0, 1e4), st.floats(-720.0, 720.0))
WEIGHTS = st.builds(Polar, st.floats(1.0, 100.0), st.floats(0.0, 360.0))


def close(a: Polar, b: Polar, allowance: float = 1e-6) -> bool:
    """Whether two vectors agree, whatever the angle of a vanishing one."""
    return abs(a.to_complex() - b.to_complex()) <= allowance


@given(POLARS)
def test_angles_are_kept_within_one_turn(vector: Polar) -> None:
    assert 0.0 <= vector.angle_deg < 360.0
    assert close(Polar.from_complex(vector.to_complex()), vector)
    assert close(vector + vector.opposite(), Polar(0, 0))


def test_a_hair_below_zero_is_not_a_whole_turn() -> None:
    assert Polar(1.0, -1e-20).angle_deg == 0.0


def test_an_angle_below_the_smallest_normal_number_is_no_error() -> None:
    assert (Polar(2.0, 0.0) + Polar(5e-324, 31.0)).amount == 2.0
    assert (Polar(2.0, 0.0) + Polar(2.0, 2.2250738585072014e-308)).amount == 4.0


@given(st.lists(POLARS, max_size=6), st.floats(-360.0, 360.0))
def test_rotating_all_rotates_the_sum(vectors: list[Polar], by: float) -> None:
    turned = resultant(Polar(v.amount, v.angle_deg + by) for v in vectors)
    total = resultant(vectors)
    assert close(turned, Polar(total.amount, total.angle_deg + by), 1e-6)


@given(POLARS, POLARS)
def test_static_part_and_couple_put_together_are_the_two_planes(first: Polar, second: Polar) -> None:
    split = static_and_couple(first, second, plane_distance_mm=200.0)
    assert close(split.static.times(0.5) + split.pair, first)
    assert close(split.static.times(0.5) - split.pair, second)
    assert split.moment == pytest.approx(200.0 * split.pair.amount)


def test_pure_static_and_pure_couple() -> None:
    """Equal and alike is all static; equal and opposite is all couple (common practice)."""
    alike = static_and_couple(Polar(20, 30), Polar(20, 30))
    assert alike.static.amount == pytest.approx(40)
    assert alike.pair.amount == pytest.approx(0, abs=1e-9)
    assert alike.moment is None
    against = static_and_couple(Polar(20, 30), Polar(20, 210))
    assert against.static.amount == pytest.approx(0, abs=1e-9)
    assert against.pair.amount == pytest.approx(20)


@given(POLARS, st.floats(-1.0, 2.0), st.floats(-1.0, 0.4), st.floats(0.6, 2.0))
def test_resolved_planes_keep_force_and_moment(unbalance: Polar, at: float, plane_1: float, plane_2: float) -> None:
    one, two = resolve_into_planes(unbalance, at=at, plane_1=plane_1, plane_2=plane_2)
    whole = unbalance.to_complex()
    assert one.to_complex() + two.to_complex() == pytest.approx(whole, abs=1e-6)
    assert one.to_complex() * plane_1 + two.to_complex() * plane_2 == pytest.approx(whole * at, abs=1e-6)


@given(WEIGHTS, WEIGHTS, st.floats(0.01, 10.0), st.floats(0.0, 360.0))
def test_the_correction_stills_a_simulated_rotor(imbalance: Polar, trial: Polar, gain: float, lag: float) -> None:
    """A rotor that answers with gain and lag: whatever they are, imbalance plus correction leaves nothing."""
    response = cmath.rect(gain, math.radians(lag))

    def vibration(weights: Polar) -> Polar:
        return Polar.from_complex(response * weights.to_complex())

    before, after = vibration(imbalance), vibration(imbalance + trial)
    assert influence_coefficient(before, after, trial) == pytest.approx(response, abs=1e-6 * gain * 100)
    assert close(correction_weight(before, after, trial), imbalance.opposite(), 1e-5)


@given(POLARS, st.floats(-10.0, 10.0))
def test_times_is_that_of_complex_numbers(vector: Polar, factor: float) -> None:
    assume(vector.amount > 0)
    assert close(vector.times(factor), Polar.from_complex(factor * vector.to_complex()))


def test_bad_input_is_refused() -> None:
    with pytest.raises(ValueError, match="turn the angle"):
        Polar(-1, 0)
    with pytest.raises(ValueError, match="finite"):
        Polar(1, math.inf)
    with pytest.raises(ValueError, match="lie apart"):
        resolve_into_planes(Polar(1, 0), at=0.1, plane_1=0.5, plane_2=0.5)
    with pytest.raises(ValueError, match="trial weight must be above zero"):
        influence_coefficient(Polar(1, 0), Polar(2, 0), Polar(0, 0))
    with pytest.raises(ValueError, match="did not change"):
        correction_weight(Polar(1, 0), Polar(1, 0), Polar(10, 0))
    with pytest.raises(ValueError, match="distance between the planes"):
        static_and_couple(Polar(1, 0), Polar(1, 0), plane_distance_mm=0)
