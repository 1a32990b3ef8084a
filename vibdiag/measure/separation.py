"""Two vectors in one reading, told apart by turning one: what stays with the fixture, what travels with the part.

Mounting j, with the part turned by b_j on the fixture, shows z_j = fixed + travelling * e^{i b_j}. Two mountings
solve it exactly: travelling = (z_1 - z_2) / (1 - e^{i b}); more give a least-squares answer and, from what they
leave over, the repeatability of mounting. Hub and wheel, balancing shaft and wheel are the same sum.

It takes every mounting to seat alike within the stated error: dirt under one mounting only is read as a part
of both vectors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from vibdiag.measure.quantiles import chi_square_quantile
from vibdiag.measure.uncertain import UncertainVector
from vibdiag.rotation import Polar

__all__ = ["Mounting", "Separation", "separate"]

_Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mounting:
    """One mounting. index_deg: how far the part was turned on the fixture, in the direction of turning, from a
    place that is the same for all. vector: what was read, its angle counted from a mark on the fixture.
    """

    index_deg: float
    vector: UncertainVector


@dataclass(frozen=True, slots=True)
class Separation:
    """fixed: stays with the fixture, at its angle on the fixture. travelling: goes with the part, at its angle when
    index_deg is 0. repeatability: standard deviation of one mounting in each of its two parts, as the
    mountings showed it; None from two, which leave nothing over. dof: degrees of freedom behind it.
    """

    fixed: UncertainVector
    travelling: UncertainVector
    repeatability: float | None
    dof: int


def separate(
    mountings: Sequence[Mounting],
    *,
    seating_error: float = 0.0,
    errors_from: Literal["stated", "spread"] = "stated",
) -> Separation:
    """Separate two or more mountings at two or more different index angles.

    seating_error: standard deviation, in each of its two parts, of what seating adds from one mounting to the
    next, in the unit of the vectors (measure it by mounting twice at one index). errors_from: "stated" trusts
    the errors of the vectors unless three or more mountings leave over more than they explain (chi-square,
    99 %); "spread" uses what three or more mountings leave over wherever it is larger, for mountings whose
    repeatability is not known beforehand.

    Raises ValueError for fewer than two mountings, when the part was never turned, or when an error is zero.
    """
    if len(mountings) < 2:
        raise ValueError("One mounting cannot tell the two apart; turn the part on its studs and measure again.")
    turns = np.array([complex(Polar(1.0, each.index_deg).to_complex()) for each in mountings])
    if float(np.max(np.abs(turns - turns[0]))) < 2.0 * math.sin(math.radians(5.0)):
        raise ValueError(
            "All mountings are at the same index angle (within 10 degrees), so nothing can be told apart; "
            "turn the part on its studs, half a turn is best."
        )
    columns = np.vstack([_block(turn) for turn in turns])
    values = np.array([part for each in mountings for part in _parts(each.vector.value.to_complex())])
    stated = np.zeros((len(values), len(values)))
    for place, each in enumerate(mountings):
        v, at = each.vector.widened(seating_error), 2 * place
        stated[at : at + 2, at : at + 2] = [[v.var_x, v.cov_xy], [v.cov_xy, v.var_y]]
    if not bool(np.all(np.diag(stated) > 0.0)):
        raise ValueError("Every mounting needs an error above zero: half a step of the display is never zero.")
    found, covariance = _solve(columns, values, stated)
    left = values - columns @ found
    free = len(values) - 4
    repeatability = math.sqrt(float(left @ left) / free) if free else None
    dof = min(each.vector.dof for each in mountings)
    if free:
        chi_square = float(left @ np.linalg.solve(stated, left))
        if chi_square > (free if errors_from == "spread" else chi_square_quantile(0.99, free)):
            covariance, dof = covariance * (chi_square / free), float(free)
    return Separation(_vector(found, covariance, 0, dof), _vector(found, covariance, 2, dof), repeatability, free)


def _block(turn: complex) -> _Array:
    """Two rows: real and imaginary part of fixed + travelling * turn."""
    return np.array([[1.0, 0.0, turn.real, -turn.imag], [0.0, 1.0, turn.imag, turn.real]])


def _parts(value: complex) -> tuple[float, float]:
    return value.real, value.imag


def _solve(columns: _Array, values: _Array, errors: _Array) -> tuple[_Array, _Array]:
    weighted = np.linalg.solve(errors, columns)
    covariance = np.linalg.inv(columns.T @ weighted)
    return covariance @ (weighted.T @ values), covariance


def _vector(found: _Array, covariance: _Array, at: int, dof: float) -> UncertainVector:
    value = Polar.from_complex(complex(found[at], found[at + 1]))
    var_x, var_y = float(covariance[at, at]), float(covariance[at + 1, at + 1])
    return UncertainVector(value, var_x, var_y, float(covariance[at, at + 1]), dof)
