"""Tyre or rim? What each has of the assembly's first harmonic, and what turning the tyre on the rim would leave.

tyre = assembly - rim, as vectors in the rim's frame (0 at the valve). With the tyre's high point turned to the
rim's low point, the two amounts are subtracted: | |rim| - |tyre| | is left. The angle is chosen to make that
smallest, so the error across it is used up: the truth is spread about the prediction, and its interval
accounts for that (and for how exactly the tyre can be turned and seated).

The rim's vector must be read on the bead seats (both lips, averaged: `rim_of`), because the tyre sits there. The first
harmonic only: oval adds nothing to it and is not mended by turning.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vibdiag.measure.judgement import Limit
from vibdiag.measure.quantiles import student_t_95
from vibdiag.measure.uncertain import UncertainVector, weighted_sum
from vibdiag.rotation import Interval, Polar

__all__ = ["Advice", "AsPredicted", "MatchMount", "as_predicted", "match_mount", "predicted_left", "rim_of", "tyre_of"]

Advice = Literal["turn", "leave", "not-enough", "cannot-tell"]
TURN_ERROR_DEG = 3.0  # how exactly a tyre is turned to a chalk mark (common practice; about 15 mm on the tread)


@dataclass(frozen=True, slots=True)
class MatchMount:
    """What turning the tyre would do; amounts are first harmonics (half of a dial's total reading), mm.

    turn_deg: by how much to turn the tyre on the rim, in the direction of turning, 0 to 360. before, left,
    gain: amounts now, predicted, and the difference, each 95 %. left_vector: the prediction in the rim's
    frame. advice: turn; leave (gains too little, or within the limit as it is); not-enough (gains, but
    stays over the limit: change a part); cannot-tell. because: one sentence.
    """

    tyre: UncertainVector
    rim: UncertainVector
    turn_deg: float
    before: Interval
    left: Interval
    gain: Interval
    left_vector: UncertainVector
    advice: Advice
    because: str


@dataclass(frozen=True, slots=True)
class AsPredicted:
    """sign: as-predicted, better, worse, or cannot-tell; because: one sentence."""

    sign: Literal["as-predicted", "better", "worse", "cannot-tell"]
    because: str


def rim_of(inner: UncertainVector, outer: UncertainVector) -> UncertainVector:
    """What the rim gives the tyre: the mean of the radial first harmonics of both bead seats."""
    return weighted_sum([(0.5, inner), (0.5, outer)])


def tyre_of(assembly: UncertainVector, rim: UncertainVector) -> UncertainVector:
    """The tyre's own first harmonic in the rim's frame: assembly less rim."""
    return assembly - rim


def predicted_left(
    rim: UncertainVector,
    tyre: UncertainVector,
    *,
    turn_error_deg: float = TURN_ERROR_DEG,
    seating_error_mm: float = 0.0,
) -> tuple[float, UncertainVector]:
    """Angle to turn an independent tyre on a rim (both measured apart), and the vector that will be left."""
    turn = (rim.value.angle_deg + 180.0 - tyre.value.angle_deg) % 360.0
    left = weighted_sum([(1.0, rim), (Polar(1.0, turn).to_complex(), tyre)])
    return turn, _with_hands(left, tyre.value.amount, rim.value.angle_deg, turn_error_deg, seating_error_mm)


def match_mount(
    assembly: UncertainVector,
    rim: UncertainVector,
    *,
    turn_error_deg: float = TURN_ERROR_DEG,
    seating_error_mm: float = 0.0,
    limit: Limit | None = None,
) -> MatchMount:
    """Tyre and rim apart, the best turn of the tyre, what it leaves and whether it is worth breaking the bead.

    assembly, rim: first harmonics in mm, both counted from the valve, errors independent. turn_error_deg: standard
    deviation of turning the tyre to a mark. seating_error_mm: of seating the bead anew. limit: for the total
    reading (twice the first harmonic), to say whether it is needed or enough.

    >>> tyre, rim = UncertainVector.even(Polar(0.35, 200), 0.005), UncertainVector.even(Polar(0.25, 150), 0.005)
    >>> found = match_mount(UncertainVector.even(tyre.value + rim.value, 0.005), rim)
    >>> f"turn {found.turn_deg:.0f}: {found.before:.2f} -> {found.left:.2f}, {found.advice}"
    'turn 130: 0.55 (0.54 to 0.56) -> 0.10 (0.08 to 0.12), turn'

    Raises ValueError for a negative error.
    """
    tyre = tyre_of(assembly, rim)
    turn = (rim.value.angle_deg + 180.0 - tyre.value.angle_deg) % 360.0
    by = Polar(1.0, turn).to_complex()
    measured = weighted_sum([(1.0 - by, rim), (by, assembly)])  # rim + (assembly - rim) * by: rim is in both
    left = _with_hands(measured, tyre.value.amount, rim.value.angle_deg, turn_error_deg, seating_error_mm)
    before, after = assembly.amount, left.amount_to_expect
    gain = _gain(assembly, rim, left, by, turn_error_deg, seating_error_mm)
    advice, because = _advice(before, after, gain, limit)
    return MatchMount(tyre, rim, turn, before, after, gain, left, advice, because)


def as_predicted(plan: MatchMount, measured: UncertainVector) -> AsPredicted:
    """Compare the first harmonic measured after turning with what was predicted before.

    cannot-tell: the measurement agrees with the prediction, but also with nothing having changed.
    """
    now = measured.amount
    said = f"{now:.2f} mm now, {plan.left:.2f} mm predicted, {plan.before:.2f} mm before"
    if now.low > plan.left.high:
        return AsPredicted("worse", f"More is left than predicted: {said}; check marks, seating and the rim readings.")
    if now.high < plan.left.low:
        return AsPredicted("better", f"Less is left than predicted: {said}.")
    if now.overlaps(plan.before):
        return AsPredicted("cannot-tell", f"The measurement cannot tell turned from unturned: {said}.")
    return AsPredicted("as-predicted", f"It came out as predicted: {said}.")


def _with_hands(
    left: UncertainVector, tyre_mm: float, along_deg: float, turn_error_deg: float, seating_error_mm: float
) -> UncertainVector:
    """Add the errors of turning (across the tyre's new direction, which lies along the rim's) and of seating."""
    if turn_error_deg < 0.0 or seating_error_mm < 0.0:
        raise ValueError("The errors of turning and seating must be zero or more.")
    across = Polar(1.0, along_deg + 90.0).to_complex()
    variance = (tyre_mm * math.radians(turn_error_deg)) ** 2
    more = seating_error_mm**2
    return UncertainVector(
        left.value,
        left.var_x + variance * across.real**2 + more,
        left.var_y + variance * across.imag**2 + more,
        left.cov_xy + variance * across.real * across.imag,
        left.dof,
    )


def _gain(
    assembly: UncertainVector,
    rim: UncertainVector,
    left: UncertainVector,
    by: complex,
    turn_error_deg: float,
    seating_error_mm: float,
) -> Interval:
    """Before less left, with the errors of assembly and rim followed into both, by a fixed-seed simulation.

    A straight-line propagation fails where little is left: the amount of a short vector is bent there.
    """
    draw = np.random.default_rng(21940)
    number = 4000
    scale = student_t_95(min(assembly.dof, rim.dof)) / student_t_95(math.inf)
    a = assembly.value.to_complex() + scale * _errors(draw, assembly, number)
    r = rim.value.to_complex() + scale * _errors(draw, rim, number)
    turned = by * np.exp(1j * np.radians(turn_error_deg) * draw.standard_normal(number))
    seated = seating_error_mm * (draw.standard_normal(number) + 1j * draw.standard_normal(number))
    gains = np.abs(a) - np.abs(r + (a - r) * turned + seated)
    low, high = (float(each) for each in np.quantile(gains, (0.025, 0.975)))
    if left.amount_to_expect.low == 0.0:  # then all of it may go
        high = max(high, assembly.amount.high)
    best = max(0.0, assembly.value.amount - left.value.amount)
    return Interval(min(low, best), best, max(high, best))


def _errors(
    draw: np.random.Generator, vector: UncertainVector, number: int
) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    covariance = np.array([[vector.var_x, vector.cov_xy], [vector.cov_xy, vector.var_y]])
    parts = draw.multivariate_normal([0.0, 0.0], covariance, size=number, method="eigh")
    return np.asarray(parts[:, 0] + 1j * parts[:, 1], dtype=np.complex128)


def _advice(before: Interval, left: Interval, gain: Interval, limit: Limit | None) -> tuple[Advice, str]:
    said = f"{before:.2f} mm now, {left:.2f} mm after turning, a gain of {gain:.2f} mm"
    if limit is not None and 2.0 * before.high <= limit.strict:
        return "leave", f"Within the limit of {limit} as it is: {said}."
    if gain.low <= 0.0:
        return "leave", f"The gain is not more than the error of measuring it: {said}; not worth breaking the bead."
    if limit is not None and 2.0 * left.low > limit.loose:
        return "not-enough", f"It would still be over the limit of {limit}: {said}; a part must be changed."
    if limit is not None and 2.0 * left.high > limit.strict:
        return "cannot-tell", f"It gains, but whether it gets within the limit of {limit} is not sure: {said}."
    return "turn", f"Worth turning: {said}."
