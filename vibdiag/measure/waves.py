"""The columns of a harmonic fit, how many waves a set of angles can carry, and which higher wave folds onto the first.

N evenly spaced readings cannot tell harmonic N - 1 from the first: an oval of the right order is then read as
eccentricity. Uneven angles spread the folding over several harmonics; here it is computed for the angles as
they are.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["FIRST_HARMONIC_NEEDS", "folding_harmonic", "harmonics_carried", "wave_columns", "why_untrusted"]

_Array = npt.NDArray[np.float64]
FIRST_HARMONIC_NEEDS: Final = 8
_READINGS_PER_WAVE: Final = 4
# Of its amount: two readings missing of twelve, not side by side, fold a half and are still used (our choice).
_FOLDED: Final = 0.75
_HIGHEST_OF_CONCERN: Final = 6  # the highest harmonic that 8 even readings keep off the first
_WIDEST_GAP_DEG: Final = 90.0  # a quarter of the part unseen can hide the high point (our choice)
_MOST_ERROR_GROWTH: Final = 2.0  # times the variance of as many evenly spaced readings (our choice)


def wave_columns(angles_deg: npt.ArrayLike, harmonics: int) -> _Array:
    """Columns 1, cos t, sin t, cos 2t, sin 2t ...: shape (readings, 1 + 2 * harmonics)."""
    turn = np.radians(np.asarray(angles_deg, dtype=np.float64))
    columns = [np.ones_like(turn)]
    for order in range(1, harmonics + 1):
        columns += [np.cos(order * turn), np.sin(order * turn)]
    return np.stack(columns, axis=-1)


def harmonics_carried(count: int, *, most: int) -> int:
    """How many harmonics so many readings can carry: four readings to a wave.

    None from 4 or 5 readings (the third or fourth harmonic would be read as the first), the first from 6 or 7
    as a hint only, two from 8, three from 12.

    >>> [harmonics_carried(count, most=3) for count in (5, 7, 8, 11, 12, 36)]
    [0, 1, 2, 2, 3, 3]
    """
    if count < FIRST_HARMONIC_NEEDS:
        return 1 if count >= 6 else 0
    return min(most, count // _READINGS_PER_WAVE)


def folding_harmonic(angles_deg: Sequence[float], harmonics: int) -> int | None:
    """The lowest harmonic above the fitted ones of which three quarters or more are read as the first.

    None when there is none up to 60. The gain is that of the worst phase.

    >>> folding_harmonic([0, 45, 90, 135, 180, 225, 270, 315], 2)
    7
    """
    turn = np.radians(np.asarray(angles_deg, dtype=np.float64))
    inverse = np.linalg.pinv(wave_columns(angles_deg, harmonics))
    first = inverse[1] + 1j * inverse[2]
    for order in range(harmonics + 1, 61):
        wave = np.exp(1j * order * turn)
        if (abs(first @ wave) + abs(first @ wave.conj())) / 2.0 >= _FOLDED:
            return order
    return None


def why_untrusted(angles_deg: Sequence[float], harmonics: int) -> str | None:
    """Why a first harmonic from these angles cannot carry a verdict, as a sentence; None when it can."""
    return _why_untrusted(tuple(sorted({round(angle % 360.0, 6) % 360.0 for angle in angles_deg})), harmonics)


@functools.lru_cache(maxsize=64)
def _why_untrusted(places: tuple[float, ...], harmonics: int) -> str | None:
    count = len(places)
    if count < FIRST_HARMONIC_NEEDS:
        return (
            f"{count} readings cannot separate eccentricity from shape (harmonic {count - 1} is read as the first); "
            f"take {FIRST_HARMONIC_NEEDS} at least, 12 are better."
        )
    gaps = np.diff([*places, places[0] + 360.0])
    if float(gaps.max()) > _WIDEST_GAP_DEG:
        start = places[int(gaps.argmax())]
        return (
            f"Nothing was read for {gaps.max():.0f} degrees after {start:.0f}; read that part too, "
            "so that no gap is wider than 90 degrees."
        )
    columns = wave_columns(places, harmonics)
    growth = float(np.linalg.inv(columns.T @ columns)[1:3, 1:3].trace()) * count / 4.0
    if growth > _MOST_ERROR_GROWTH:
        return "The angles are too uneven to separate eccentricity from oval; add readings in the widest gaps."
    folding = folding_harmonic(places, harmonics)
    if folding is not None and folding <= _HIGHEST_OF_CONCERN:
        return f"At these angles harmonic {folding} is read as the first; add readings in the widest gaps."
    return None
