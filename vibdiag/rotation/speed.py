"""The true road speed behind a speed that was read somewhere."""

from __future__ import annotations

import math
from typing import Final, Literal, get_args

from vibdiag.rotation.interval import Interval
from vibdiag.units import to_kmh

__all__ = ["ReadFrom", "dashboard_reading_range", "true_speed"]

ReadFrom = Literal["dashboard", "held-by-cruise", "gps", "obd", "unknown"]

HIGHEST_KMH: Final = 400.0

# UN R39, 5.3 (seen quoted): 0 <= shown - true <= true / 10 + 4 km/h. A reading is never low.
_R39_FRACTION: Final = 0.1
_R39_OFFSET_KMH: Final = 4.0

# Where the truth usually lies below the reading: dashboards show some 3 to 5 % too much (common practice).
_USUAL_OVERSTATEMENT: Final = 0.04

# A dashboard made for a country without UN R39, or tyres that are not the original size, may read low by
# about this much (from memory; it is also the 4 % of the older American practice).
_MAY_READ_LOW: Final = 0.04

# A satellite speed is good to some 0.1 km/h at steady speed; the display shows whole units and lags (common
# practice).
_GPS_DISPLAY_STEP: Final = 1.0

# The diagnostic socket gives whole km/h computed from wheel turns and a nominal circumference, so it carries
# the tyre's wear and size: 2 % (from memory).
_OBD_STEP_KMH: Final = 1.0
_OBD_FRACTION: Final = 0.02


def true_speed(value: float, unit: str, read_from: ReadFrom = "unknown") -> Interval:
    """True speed in km/h, with its limits, from a reading.

    value: zero or more, in `unit` (km/h, mph, m/s). read_from:

    - "dashboard": by UN R39 the truth lies in [(shown - 4) / 1.1, shown] km/h. Best is 4 % below the
      reading: makers aim a few per cent high so as never to read low (common practice).
    - "held-by-cruise": the speed control holds what the dashboard shows, with the same error.
    - "gps": within one unit of the display; best is the reading.
    - "obd": within 2 % and one km/h; best is the reading.
    - "unknown": as the dashboard, but the truth may also lie 4 % above the reading.

    >>> f"{true_speed(100, 'km/h', 'dashboard'):.1f}"
    '96.0 (87.3 to 100.0)'

    Raises ValueError for a negative speed, one that is no number, more than 400 km/h, or an unknown source.
    """
    if read_from not in get_args(ReadFrom):
        raise ValueError(f"{read_from!r} is not where a speed is read; write one of {', '.join(get_args(ReadFrom))}.")
    if not math.isfinite(value) or value < 0:
        raise ValueError(f"A speed must be a number of zero or more, not {value}.")
    shown = to_kmh(value, unit)
    if shown > HIGHEST_KMH:
        raise ValueError(f"A speed of {value:g} {unit} is not a road vehicle's; it must be at most 400 km/h (249 mph).")
    if read_from == "gps":
        step = to_kmh(_GPS_DISPLAY_STEP, unit) if unit.strip().casefold() != "m/s" else 1.0
        return Interval(max(0.0, shown - step), shown, shown + step)
    if read_from == "obd":
        error = _OBD_STEP_KMH + _OBD_FRACTION * shown
        return Interval(max(0.0, shown - error), shown, shown + error)
    low = max(0.0, (shown - _R39_OFFSET_KMH) / (1.0 + _R39_FRACTION))
    high = shown * (1.0 + _MAY_READ_LOW) if read_from == "unknown" else shown
    return Interval(low, shown * (1.0 - _USUAL_OVERSTATEMENT), high)


def dashboard_reading_range(true_kmh: float) -> tuple[float, float]:
    """Lowest and highest reading UN R39 allows at a true speed, km/h.

    >>> dashboard_reading_range(100)
    (100, 114.0)

    Raises ValueError for a negative speed or one that is no number.
    """
    if not math.isfinite(true_kmh) or true_kmh < 0:
        raise ValueError(f"A speed must be a number of zero or more, not {true_kmh}.")
    return true_kmh, true_kmh + _R39_FRACTION * true_kmh + _R39_OFFSET_KMH
