"""The phase of a line before it is heard: what the clock says of it, or what readings of the speed say.

Under the clock only the frequency is unknown. Under the wheel the phase is that of the distance, which the readings
foretell with a covariance (a Gaussian process about their mean; Rasmussen and Williams, Gaussian Processes for Machine
Learning, 2006, section 2.2), and to which the wheel's own way against the car's adds a little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.possible_speeds import ReadSpeed, Wander, matern
from vibdiag.recording.signal import FloatArray

__all__ = ["Turning", "turning_by_clock", "turning_by_readings"]

_KNOT_S = 1.0
_LEVEL_MS = 5.0  # how far the mean of the readings may be from the speed's own
_OWN_WAY, _OWN_WAY_S = 0.001, 5.0  # a wheel's own way against the car's: bends, slip under power (from memory)


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """phase = (1 + stretch) * (mean_rad + per_free @ free), free normal about 0 with this precision.

    mean_rad: (K,), at each slot. per_free: (K, F). precision: (F, F).
    """

    mean_rad: FloatArray
    per_free: FloatArray
    precision: FloatArray

    @property
    def log_precision(self) -> float:
        """Log determinant of the precision."""
        return float(np.linalg.slogdet(self.precision)[1]) if self.precision.size else 0.0


def turning_by_clock(turns: FloatArray, *, rad_per_turn: float) -> Turning:
    """A line that keeps to the turns it is given, (K,), up to their stretch."""
    return Turning(rad_per_turn * turns, np.zeros((turns.size, 0)), np.zeros((0, 0)))


def turning_by_readings(at_s: FloatArray, read: ReadSpeed, wander: Wander, *, rad_per_m: float) -> Turning:
    """A line locked to the distance, if the speed wandered in this way.

    at_s: (K,) times of the slots. rad_per_m: phase per metre, at stretch 0.
    """
    begin, end = min(at_s[0], read.time_s[0]) - 0.25, max(at_s[-1], read.time_s[-1]) + 0.25
    knots = np.arange(begin, end + _KNOT_S, _KNOT_S)
    mean = float(read.read_ms.mean())
    to_readings = matern(knots, read.time_s, wander) + _LEVEL_MS**2
    among = matern(read.time_s, read.time_s, wander) + _LEVEL_MS**2 + wander.noise_ms**2 * np.eye(read.time_s.size)
    gain = np.linalg.solve(among, to_readings.T).T
    left = matern(knots, knots, wander) + _LEVEL_MS**2 - gain @ to_readings.T
    own = matern(knots, knots, Wander(1.0, _OWN_WAY * mean, _OWN_WAY_S, 0.0))
    tiny = 1e-6 * np.eye(knots.size)
    way = _way(at_s, knots)
    course = mean + gain @ (read.read_ms - mean)
    precision = np.asarray(np.linalg.inv(left + own + tiny), dtype=np.float64)
    return Turning(rad_per_m * (way @ course), rad_per_m * way, precision)


def _way(at_s: FloatArray, knots: FloatArray) -> FloatArray:
    """(K, F), metres from the first knot to each time per m/s at each knot, the speed straight between knots."""
    step = float(knots[1] - knots[0])
    place = np.clip((at_s - knots[0]) / step, 0.0, knots.size - 1.000001)
    left = place.astype(np.intp)
    share = place - left
    whole = np.eye(knots.size)
    until = np.vstack([np.zeros(knots.size), np.cumsum(0.5 * step * (whole[1:] + whole[:-1]), axis=0)])
    way = until[left]
    row = np.arange(at_s.size)
    way[row, left] += step * (share - 0.5 * share**2)
    way[row, left + 1] += 0.5 * step * share**2
    return np.asarray(way, dtype=np.float64)
