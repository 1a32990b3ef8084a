"""A universal joint against its own geometry: tan(out) = tan(in) / cos(angle), differentiated numerically."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import equivalent_joint_angle_deg, joint_ratio_at, joint_speed_ratio

ANGLE = st.floats(0.5, 45.0)


@given(ANGLE, st.floats(0.0, 360.0))
def test_the_speed_ratio_is_the_slope_of_the_output_angle(angle: float, position: float) -> None:
    def output(turned: float) -> float:
        return math.atan2(math.sin(turned), math.cos(turned) * math.cos(math.radians(angle)))

    here, step = math.radians(position), 1e-5
    turned = math.remainder(output(here + step) - output(here - step), 2 * math.pi)
    assert joint_ratio_at(angle, position) == pytest.approx(turned / (2 * step), rel=1e-5)


@given(ANGLE)
def test_extremes_are_those_of_a_whole_turn(angle: float) -> None:
    ratios = [joint_ratio_at(angle, position) for position in range(360)]
    extremes = joint_speed_ratio(angle)
    assert max(ratios) == pytest.approx(extremes.fastest)
    assert min(ratios) == pytest.approx(extremes.slowest)
    assert extremes.peak_error_percent == pytest.approx(100 * (max(ratios) - 1))


@given(ANGLE)
def test_over_a_whole_turn_output_and_input_agree(angle: float) -> None:
    assert np.mean([joint_ratio_at(angle, position / 2) for position in range(720)]) == pytest.approx(1.0, rel=1e-6)


def test_no_angle_no_error() -> None:
    assert joint_speed_ratio(0.0).peak_error_percent == 0.0


def test_two_equal_joints_cancel_in_phase_and_add_out_of_phase() -> None:
    assert equivalent_joint_angle_deg(5.0, 5.0) == 0.0
    assert equivalent_joint_angle_deg(3.0, 4.0, in_phase=False) == pytest.approx(5.0)
    assert equivalent_joint_angle_deg(5.0, 3.0) == pytest.approx(4.0)


@given(st.floats(0.5, 8.0), st.floats(0.5, 8.0), st.booleans())
def test_the_equivalent_angle_is_as_uneven_as_the_two_joints(first: float, second: float, in_phase: bool) -> None:
    """Turn two joints in a row by their exact geometry and compare the peak with the one-joint formula."""
    turned = np.linspace(0.0, 2 * np.pi, 2881)
    middle = np.unwrap(np.arctan2(np.sin(turned), np.cos(turned) * math.cos(math.radians(first))))
    # In phase, the second joint's driving fork stands where it undoes the first one's unevenness.
    fork = middle + (np.pi / 2 if in_phase else 0.0)
    out = np.unwrap(np.arctan2(np.sin(fork), np.cos(fork) * math.cos(math.radians(second))))
    peak_percent = 100 * np.max(np.abs(np.gradient(out, turned) - 1.0))
    one_joint = joint_speed_ratio(equivalent_joint_angle_deg(first, second, in_phase=in_phase)).peak_error_percent
    assert one_joint == pytest.approx(peak_percent, rel=0.06, abs=0.02)


@pytest.mark.parametrize("angle", [-1.0, 90.0, math.nan])
def test_impossible_angles_are_refused(angle: float) -> None:
    with pytest.raises(ValueError, match="0 up to 90"):
        joint_speed_ratio(angle)
