"""Forces of imbalance and runout, and what answers to them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import (
    allocate_to_planes,
    balance_grade,
    imbalance_force_n,
    lift_off_amplitude_mm,
    mass_at_radius_g,
    natural_frequency_hz,
    off_centre_unbalance_gmm,
    offset_from_runout_mm,
    permissible_residual_gmm,
    ride_rate_n_per_mm,
    runout_force_n,
    stiffness_n_per_mm,
    tolerance_per_side_g,
    unbalance_gmm,
    weight_moment_nmm,
    wheel_hop_hz,
)

POSITIVE = st.floats(0.1, 1e4)


def test_half_a_millimetre_of_runout_outweighs_twenty_grams() -> None:
    """20 g at 200 mm and 14.4 Hz: 33 N; 0.5 mm on 200 N/mm: 100 N, at every speed (arithmetic)."""
    grams = imbalance_force_n(unbalance_gmm(20, 200), 14.4)
    assert grams == pytest.approx(33, abs=0.5)
    assert runout_force_n(0.5) / grams == pytest.approx(3, abs=0.1)


def test_the_force_is_that_of_a_mass_on_a_circle() -> None:
    """Second derivative of a simulated path: 30 g at 180 mm, 12 turns a second."""
    seconds = np.linspace(0.0, 1.0, 200_001)
    x_m = 0.180 * np.cos(2 * np.pi * 12.0 * seconds)
    acceleration = np.gradient(np.gradient(x_m, seconds), seconds)[10:-10]
    assert imbalance_force_n(30 * 180, 12.0) == pytest.approx(0.030 * np.max(np.abs(acceleration)), rel=1e-4)


def test_wheel_hop_is_the_upper_root_of_the_quarter_car() -> None:
    """Eigenvalues of body and wheel on two springs: the hop formula holds while the body hardly moves."""
    body, wheel, spring, tyre = 400.0, 40.0, 20_630.0, 300_000.0
    stiffness = np.array([[spring, -spring], [-spring, spring + tyre]])
    roots = np.sqrt(np.linalg.eigvals(np.diag([1 / body, 1 / wheel]) @ stiffness)) / (2 * np.pi)
    hop = wheel_hop_hz(spring_n_per_mm=spring / 1000, tyre_n_per_mm=tyre / 1000, unsprung_kg=wheel)
    bounce = natural_frequency_hz(ride_rate_n_per_mm(spring_n_per_mm=spring / 1000, tyre_n_per_mm=tyre / 1000), body)
    assert hop == pytest.approx(max(roots), rel=0.005)
    assert bounce == pytest.approx(min(roots), rel=0.005)


@given(POSITIVE, POSITIVE, st.floats(1.0, 100.0))
def test_the_permissible_residual_has_its_own_grade(grade: float, mass: float, hz: float) -> None:
    residual = permissible_residual_gmm(mass, hz, grade_mm_per_s=grade)
    assert balance_grade(residual, mass, hz) == pytest.approx(grade)


@given(POSITIVE, st.floats(0.0, 1e4), POSITIVE)
def test_planes_share_the_whole_and_the_moment(unbalance: float, to_a: float, to_b: float) -> None:
    a, b = allocate_to_planes(unbalance, distance_a_mm=to_a, distance_b_mm=to_b)
    assert a + b == pytest.approx(unbalance)
    assert a * to_a == pytest.approx(b * to_b)


@given(st.floats(5.0, 60.0), st.floats(20.0, 250.0), st.floats(1.1, 2.5), st.floats(0.3, 0.9))
def test_tolerance_at_the_rim_is_the_standards_residual_there(
    mass: float, speed: float, ratio: float, diameter_m: float
) -> None:
    hz = speed / 3.6 / (math.pi * diameter_m)
    residual = permissible_residual_gmm(mass, hz, grade_mm_per_s=14.0)
    at_rim = mass_at_radius_g(residual, 1000 * diameter_m / ratio / 2)
    assert tolerance_per_side_g(mass, speed, diameter_ratio=ratio, grade_mm_per_s=14.0) == pytest.approx(at_rim)


@given(POSITIVE, POSITIVE)
def test_off_centre_and_dial_reading(mass: float, runout: float) -> None:
    """Total indicator reading is twice the offset; kg times mm is a thousand g.mm."""
    unbalance = off_centre_unbalance_gmm(mass, offset_from_runout_mm(runout))
    assert unbalance == pytest.approx(unbalance_gmm(1000 * mass, runout / 2))


@given(POSITIVE, POSITIVE)
def test_stiffness_undoes_force(runout: float, stiffness: float) -> None:
    assert stiffness_n_per_mm(runout_force_n(runout, tyre_n_per_mm=stiffness), runout) == pytest.approx(stiffness)


def test_at_lift_off_the_inertia_force_is_the_load() -> None:
    amplitude_mm = lift_off_amplitude_mm(3000.0, 40.0, 12.0)
    assert imbalance_force_n(40_000.0 * amplitude_mm, 12.0) == pytest.approx(3000.0)


def test_a_weights_moment_is_not_its_force() -> None:
    """2600 g.mm: 25.5 N.mm at standstill (printed 25.4 in a small-car repair manual), and no force at all."""
    assert weight_moment_nmm(2600) == pytest.approx(25.5, abs=0.05)
    assert imbalance_force_n(2600, 0.0) == 0.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: mass_at_radius_g(100, 0), "radius"),
        (lambda: permissible_residual_gmm(20, 0), "rotation frequency"),
        (lambda: balance_grade(100, 0, 10), "mass"),
        (lambda: stiffness_n_per_mm(100, 0), "travel"),
        (lambda: tolerance_per_side_g(20, 0, diameter_ratio=1.3), "speed"),
        (lambda: natural_frequency_hz(100, math.nan), "mass"),
        (lambda: lift_off_amplitude_mm(100, 40, 0), "frequency"),
        (lambda: ride_rate_n_per_mm(spring_n_per_mm=0, tyre_n_per_mm=0), "two rates"),
        (lambda: allocate_to_planes(100, distance_a_mm=-10, distance_b_mm=60), "between the planes"),
    ],
)
def test_bad_input_is_refused(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
