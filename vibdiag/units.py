"""Conversion of what people say and read (mph, ounces, psi, thousandths) into the units the arithmetic uses.

Conversion happens once, at the edge: everything behind this module carries its unit in its name. The
constants are exact by definition (international yard and pound, 1959; standard gravity for the pound-force),
except the psi, which is given to seven figures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

__all__ = [
    "GRAMS_PER_OUNCE",
    "GRAMS_PER_POUND",
    "KPA_PER_PSI",
    "METRES_PER_MILE",
    "MM_PER_INCH",
    "NEWTONS_PER_POUND_FORCE",
    "to_grams",
    "to_hz",
    "to_km",
    "to_kmh",
    "to_kpa",
    "to_mm",
    "to_newton",
    "to_newton_metre",
]

METRES_PER_MILE: Final = 1609.344
MM_PER_INCH: Final = 25.4
GRAMS_PER_OUNCE: Final = 28.349523125
GRAMS_PER_POUND: Final = 453.59237
NEWTONS_PER_POUND_FORCE: Final = 4.4482216152605
KPA_PER_PSI: Final = 6.894757

_KM_PER_MILE: Final = METRES_PER_MILE / 1000.0

_SPEED: Final[Mapping[str, float]] = {
    "km/h": 1.0,
    "kmh": 1.0,
    "kph": 1.0,
    "mph": _KM_PER_MILE,
    "mi/h": _KM_PER_MILE,
    "m/s": 3.6,
}
_LENGTH: Final[Mapping[str, float]] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "thou": MM_PER_INCH / 1000.0,
    "32nds": MM_PER_INCH / 32.0,
    "32nd": MM_PER_INCH / 32.0,
}
_DISTANCE: Final[Mapping[str, float]] = {
    "km": 1.0,
    "m": 0.001,
    "mile": _KM_PER_MILE,
    "miles": _KM_PER_MILE,
    "mi": _KM_PER_MILE,
}
_MASS: Final[Mapping[str, float]] = {
    "g": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "kg": 1000.0,
    "oz": GRAMS_PER_OUNCE,
    "ounce": GRAMS_PER_OUNCE,
    "ounces": GRAMS_PER_OUNCE,
    "lb": GRAMS_PER_POUND,
    "lbs": GRAMS_PER_POUND,
}
_PRESSURE: Final[Mapping[str, float]] = {"kpa": 1.0, "bar": 100.0, "psi": KPA_PER_PSI}
_FORCE: Final[Mapping[str, float]] = {
    "n": 1.0,
    "kn": 1000.0,
    "lbf": NEWTONS_PER_POUND_FORCE,
    "lb": NEWTONS_PER_POUND_FORCE,
}
_TORQUE: Final[Mapping[str, float]] = {
    "nm": 1.0,
    "n.m": 1.0,
    "n·m": 1.0,
    "lbf.ft": NEWTONS_PER_POUND_FORCE * 12.0 * MM_PER_INCH / 1000.0,
    "lbf·ft": NEWTONS_PER_POUND_FORCE * 12.0 * MM_PER_INCH / 1000.0,
    "lb-ft": NEWTONS_PER_POUND_FORCE * 12.0 * MM_PER_INCH / 1000.0,
    "ft-lb": NEWTONS_PER_POUND_FORCE * 12.0 * MM_PER_INCH / 1000.0,
}
_ROTATION: Final[Mapping[str, float]] = {
    "hz": 1.0,
    "1/s": 1.0,
    "rev/s": 1.0,
    "rpm": 1.0 / 60.0,
    "1/min": 1.0 / 60.0,
    "r/min": 1.0 / 60.0,
    "rev/min": 1.0 / 60.0,
}


def _convert(value: float, unit: str, factors: Mapping[str, float], quantity: str, accepted: str) -> float:
    factor = factors.get(unit.strip().casefold())
    if factor is None:
        raise ValueError(f"{unit!r} is not a unit of {quantity} known here; write one of {accepted}.")
    if not math.isfinite(value):
        raise ValueError(f"A {quantity} must be a finite number, not {value}.")
    return value * factor


def to_kmh(value: float, unit: str) -> float:
    """Speed in km/h from km/h (also kmh, kph), mph or m/s.

    >>> to_kmh(60, "mph")
    96.56064
    """
    return _convert(value, unit, _SPEED, "speed", "km/h, mph, m/s")


def to_mm(value: float, unit: str) -> float:
    """Length in mm from mm, cm, m, in, thou (thousandths of an inch) or 32nds (of an inch, for tread depth).

    >>> round(to_mm(60, "thou"), 3)
    1.524
    """
    return _convert(value, unit, _LENGTH, "length", "mm, cm, m, in, thou, 32nds")


def to_km(value: float, unit: str) -> float:
    """Distance driven, in km, from km, m or miles.

    >>> to_km(50, "miles")
    80.4672
    """
    return _convert(value, unit, _DISTANCE, "distance", "km, m, miles")


def to_grams(value: float, unit: str) -> float:
    """Mass in g from g, kg, oz or lb (both avoirdupois).

    >>> round(to_grams(0.25, "oz"), 3)
    7.087
    """
    return _convert(value, unit, _MASS, "mass", "g, kg, oz, lb")


def to_kpa(value: float, unit: str) -> float:
    """Pressure in kPa from kPa, bar or psi.

    >>> round(to_kpa(32, "psi"), 1)
    220.6
    """
    return _convert(value, unit, _PRESSURE, "pressure", "kPa, bar, psi")


def to_newton(value: float, unit: str) -> float:
    """Force in N from N, kN or lbf (also written lb).

    >>> round(to_newton(30, "lbf"), 1)
    133.4
    """
    return _convert(value, unit, _FORCE, "force", "N, kN, lbf")


def to_newton_metre(value: float, unit: str) -> float:
    """Torque in N.m from N.m (also Nm) or lbf.ft (also lb-ft, ft-lb).

    >>> round(to_newton_metre(80, "lbf.ft"), 1)
    108.5
    """
    return _convert(value, unit, _TORQUE, "torque", "N.m, lbf.ft")


def to_hz(value: float, unit: str) -> float:
    """Rotation or vibration frequency in Hz from Hz, rpm or 1/min.

    >>> to_hz(3000, "rpm")
    50.0
    """
    return _convert(value, unit, _ROTATION, "frequency", "Hz, rpm, 1/min")
