"""The best single weight on the car, from trial runs with a pick-up or from what is left in two planes.

Trial runs: with the car's answer c = (after - before) / trial at each measuring point or speed, the weight that
leaves the smallest sum of squares is w = -sum(conj(c) v) / sum(|c|^2) (least-squares balancing; with one point
it is the classical w = -v / c). It holds for the speeds and the place that were measured, and only as far as the
readings repeat. A wheel spinning on a lift is dangerous: guard, nobody near, the maker's procedure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vibdiag.measure.planes import Plane, TwoPlanes, to_static_and_couple
from vibdiag.measure.uncertain import UncertainVector, weighted_sum
from vibdiag.rotation import Interval, Polar, StaticAndCouple, influence_coefficient, mass_at_radius_g

__all__ = ["RunPair", "StaticTrim", "Trim", "best_trim", "static_trim"]


@dataclass(frozen=True, slots=True)
class RunPair:
    """One measuring point at one speed: vibration (any unit, phase in degrees) before and with the trial weight."""

    before: UncertainVector
    with_trial: UncertainVector


@dataclass(frozen=True, slots=True)
class Trim:
    """weight: in the unit of the trial, at its radius, with error; the trial comes off first. before, left: vibration
    at each point now and as predicted (points). left_share: root mean square left over that before, with what
    the error of the weight adds at 95 %.
    """

    weight: UncertainVector
    before: tuple[Polar, ...]
    left: tuple[Polar, ...]
    left_share: Interval


@dataclass(frozen=True, slots=True)
class StaticTrim:
    """One weight that cancels the static part, and the couple that is left (g.mm2 in `couple.moment`)."""

    weight_g: Polar
    couple: StaticAndCouple


def best_trim(pairs: Sequence[RunPair], trial: Polar) -> Trim:
    """The single weight that leaves the least vibration over all points and speeds given.

    trial: weight and angle of the trial. Errors of the readings are followed to first order.

    >>> run = RunPair(UncertainVector.even(Polar(4, 0), 0.1), UncertainVector.even(Polar(2, 0), 0.1))
    >>> found = best_trim([run], Polar(10, 30))
    >>> f"{found.weight.amount:.0f} g at {found.weight.value.angle_deg:.0f}"
    '20 (18 to 22) g at 30'

    Raises ValueError without a run, without a trial weight, or when the trial changed the vibration no more
    than the readings scatter: then use a larger one.
    """
    if not pairs:
        raise ValueError("At least one run before and one with the trial weight are needed.")
    changes = [pair.with_trial - pair.before for pair in pairs]
    if not any(change.is_detected for change in changes):
        raise ValueError("The trial weight changed no more than the readings scatter; use a larger one.")
    t = trial.to_complex()
    answers = [influence_coefficient(pair.before.value, pair.with_trial.value, trial) for pair in pairs]
    strength = sum(abs(answer) ** 2 for answer in answers)
    terms: list[tuple[complex, UncertainVector]] = []
    for pair, change, answer in zip(pairs, changes, answers, strict=True):
        difference = change.value.to_complex()
        share = abs(answer) ** 2 / strength
        if share < 1e-12:  # a point that the trial did not reach says nothing of the weight
            continue
        # w_j = -v0 t / (v1 - v0), so dw = -t v1 / (v1 - v0)^2 dv0 + t v0 / (v1 - v0)^2 dv1.
        terms.append((-share * t * pair.with_trial.value.to_complex() / difference**2, pair.before))
        terms.append((share * t * pair.before.value.to_complex() / difference**2, pair.with_trial))
    error = weighted_sum(terms)
    best = (
        -sum(a.conjugate() * pair.before.value.to_complex() for a, pair in zip(answers, pairs, strict=True)) / strength
    )
    weight = UncertainVector(Polar.from_complex(best), error.var_x, error.var_y, error.cov_xy, error.dof)
    left = [pair.before.value.to_complex() + a * best for a, pair in zip(answers, pairs, strict=True)]
    before_rms = math.sqrt(sum(pair.before.value.amount**2 for pair in pairs))
    left_rms = math.sqrt(sum(abs(each) ** 2 for each in left))
    off = math.sqrt(strength) * weight.smallest_detectable
    share_left = Interval(0.0, 0.0, 0.0)
    if before_rms > 0.0:
        share_left = Interval(left_rms, left_rms, math.hypot(left_rms, off)).scale(1.0 / before_rms)
    return Trim(
        weight,
        tuple(pair.before.value for pair in pairs),
        tuple(Polar.from_complex(each) for each in left),
        share_left,
    )


def static_trim(residual: TwoPlanes, plane: Plane) -> StaticTrim:
    """One weight in `plane` that cancels the static part of what two planes show, and the couple it leaves.

    residual: the unbalance left, as weights in its planes. The couple is over the residual's plane distance.
    """
    static = to_static_and_couple(residual).static
    fitted_gmm = static.opposite()
    inner, outer = residual.inner.position_mm, residual.outer.position_mm
    part = (plane.position_mm - inner) / (outer - inner)
    left = TwoPlanes(
        residual.inner,
        residual.outer,
        _weight(residual.inner_gmm + fitted_gmm.times(1.0 - part), residual.inner),
        _weight(residual.outer_gmm + fitted_gmm.times(part), residual.outer),
    )
    return StaticTrim(_weight(fitted_gmm, plane), to_static_and_couple(left))


def _weight(gmm: Polar, plane: Plane) -> Polar:
    return Polar(mass_at_radius_g(gmm.amount, plane.radius_mm), gmm.angle_deg)
