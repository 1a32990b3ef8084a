"""What the road alone puts where an order would be: the neighbourhood, carried across by a curve.

A polynomial of fifth degree in the logarithm of power is fitted to everything within 14 % of the order except the
candidate itself, by the likelihood of averaged noise power (gamma, log link). Two things were measured on the car
model: a straight line is three to five times over-confident near wheel hop, and leaving out the whole searched range
instead of the candidate alone costs a fifth in grams, because a curve carried across a wide hole is not well known in
its middle.

What it cannot do: a hump narrower than the neighbourhood (two axles over the same bump make a comb of v / wheelbase)
is followed only as far as such a curve can; `alarm.py` is calibrated with that included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vibdiag.recording.signal import FloatArray
from vibdiag.recording.spectrum import StretchSpectrum

__all__ = ["Floor", "fit_floor"]

_OUTER = 0.14
_DEGREE = 5
_GUARD_WIDTHS = 1.2  # of the smoothing, to either side of the candidate
_LEAST_INDEPENDENT = 8
_REPEATS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """power: (M,) expected without an order, on the stretches of the spectrum. looks: as many independent complex looks
    would know it as well as the fit does at the middle. peak: index of the strongest place within the searched range.
    """

    power: FloatArray
    looks: float
    peak: int


def fit_floor(
    spectrum: StretchSpectrum, *, low: float, high: float, outer: float = _OUTER, guard: float = 0.003
) -> Floor | None:
    """Fit the surroundings of the strongest candidate between the stretches low and high.

    outer: how far the surroundings reach; less where the filter is not flat so far. guard: extra stretch left out
    beside the candidate. Returns None when fewer than eight independent values lie there (the recording is too short,
    or the speed too uncertain).
    """
    among = np.abs(spectrum.stretch) <= outer
    searched = (spectrum.stretch >= low) & (spectrum.stretch <= high)
    independent = 2.0 * outer / max(spectrum.width, 1e-12)
    if independent < _LEAST_INDEPENDENT or np.count_nonzero(among) < 16 or not np.any(searched & among):
        return None
    x = spectrum.stretch / outer
    columns = np.stack([x**power for power in range(_DEGREE + 1)], axis=1)
    fitted = _gamma_fit(columns, spectrum, among)
    ratio = np.where(searched & among, spectrum.power / fitted, 0.0)
    peak = int(np.argmax(ratio))
    apart = np.abs(spectrum.stretch - spectrum.stretch[peak]) > _GUARD_WIDTHS * spectrum.width + guard
    keep = among & apart
    loud = 1.0 + 6.0 / np.sqrt(spectrum.looks)
    for _ in range(2):  # lines of other parts in the neighbourhood are not floor
        if np.count_nonzero(keep) < 0.4 * np.count_nonzero(among):
            return None
        fitted = _gamma_fit(columns, spectrum, keep)
        other_lines = among & apart & (spectrum.power > loud * fitted)
        if not other_lines.any():
            break
        keep = among & apart & ~_widened(other_lines, spectrum)
    share = np.count_nonzero(keep) / np.count_nonzero(among)
    normal = columns[keep].T @ columns[keep] / np.count_nonzero(keep)
    there = columns[peak]
    leverage = float(there @ np.linalg.solve(normal + 1e-9 * np.eye(_DEGREE + 1), there))
    peak = int(np.argmax(np.where(searched & among, spectrum.power / fitted, 0.0)))
    return Floor(fitted, spectrum.looks * independent * share / leverage, peak)


def _gamma_fit(columns: FloatArray, spectrum: StretchSpectrum, keep: npt.NDArray[np.bool_]) -> FloatArray:
    tiny = max(float(spectrum.power[keep].max()), 1e-300) * 1e-9
    power, used = spectrum.power[keep] + tiny, columns[keep]
    inverse = np.linalg.solve(used.T @ used + 1e-12 * np.eye(used.shape[1]), used.T)
    answer = inverse @ (np.log(power) + 0.5 / spectrum.looks)
    for _ in range(_REPEATS):
        expected = np.exp(np.clip(used @ answer, -600.0, 600.0))
        answer = answer + inverse @ np.clip((power - expected) / expected, -2.0, 2.0)
    return np.asarray(np.exp(np.clip(columns @ answer, -600.0, 600.0)), dtype=np.float64)


def _widened(marked: npt.NDArray[np.bool_], spectrum: StretchSpectrum) -> npt.NDArray[np.bool_]:
    reach = max(int(spectrum.width / (spectrum.stretch[1] - spectrum.stretch[0])), 1)
    return np.asarray(np.convolve(marked, np.ones(2 * reach + 1), mode="same") > 0.5, dtype=np.bool_)
