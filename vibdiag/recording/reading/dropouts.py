"""Speeds that no car had: readings that fall to zero between fast ones, or leap away and back."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from vibdiag.recording.signal import FloatArray

__all__ = ["dropouts"]

# A car on a dry road brakes and pulls by less than 10 m/s2 (from memory); receivers err by less than 4 m/s.
_HARDEST_MS2: Final = 10.0
_ERROR_MS: Final = 4.0
_STILL_MS: Final = 0.5
_LONGEST: Final = 5  # readings of a leap that is not to zero
_MOST_SHARE: Final = 0.5


def dropouts(time_s: FloatArray, speed_ms: FloatArray) -> npt.NDArray[np.bool_]:
    """(M,), True where a reading is a dropout. time_s: (M,), rising, s; speed_ms: (M,), finite, m/s.

    A run of readings is one where no car could have come to it and away from it, and it is at zero or shorter than
    the runs beside it. Nothing is marked when that would be most of the readings.

    >>> dropouts(np.arange(6.0), np.array([28.0, 28.0, 0.0, 28.0, 28.0, 28.0])).tolist()
    [False, False, True, False, False, False]
    """
    out = np.zeros(speed_ms.size, dtype=np.bool_)
    leaps = np.abs(np.diff(speed_ms)) > _ERROR_MS + _HARDEST_MS2 * np.abs(np.diff(time_s))
    if not leaps.any():
        return out
    runs = np.split(np.arange(speed_ms.size), np.flatnonzero(leaps) + 1)
    for number, run in enumerate(runs):
        beside = [runs[k] for k in (number - 1, number + 1) if 0 <= k < len(runs)]
        still = bool(np.all(np.abs(speed_ms[run]) < _STILL_MS))
        short = run.size <= _LONGEST and len(beside) == 2 and run.size < min(other.size for other in beside)
        out[run] = still or short
    return out if np.count_nonzero(out) < _MOST_SHARE * out.size else np.zeros_like(out)
