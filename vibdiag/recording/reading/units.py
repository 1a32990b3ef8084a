"""Which unit a column is in, and the factor to SI (m/s2, rad/s, m/s, rev/s, s); as said in a header or by a person.

A scale may follow the unit: `g*16` (one count is 16 g, as in a WAV file whose full scale is 16 g), `g/2048` (2048
counts to the g). Standard gravity 9.80665 m/s2 is exact (3rd CGPM, 1901). Speeds and engine speeds go through
`vibdiag.units`, where their factors live.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal

from vibdiag.units import to_hz, to_kmh

__all__ = ["ACCEPTED", "RECKONED_TURN_M", "STANDARD_GRAVITY_MS2", "Quantity", "factor_to_si", "known_unit"]

Quantity = Literal["time", "acceleration", "rotation", "speed", "engine"]

STANDARD_GRAVITY_MS2: Final = 9.80665
RECKONED_TURN_M: Final = 2.0  # what one turn of a wheel is taken as until its tyre is known
_RAD_PER_DEG: Final = math.pi / 180.0

_FACTORS: Final[Mapping[Quantity, Mapping[str, float]]] = MappingProxyType(
    {
        "time": {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0, "d": 86400.0},
        "acceleration": {
            "m/s2": 1.0,
            "g": STANDARD_GRAVITY_MS2,
            "mg": STANDARD_GRAVITY_MS2 / 1000.0,
            "mm/s2": 1e-3,
            "cm/s2": 1e-2,
        },
        "rotation": {"rad/s": 1.0, "deg/s": _RAD_PER_DEG, "mdeg/s": _RAD_PER_DEG / 1000.0, "mrad/s": 1e-3},
        "speed": {
            "m/s": 1.0,
            **{unit: to_kmh(1.0, unit) / 3.6 for unit in ("km/h", "mph")},
            "kn": 1852.0 / 3600.0,
            "rpm": RECKONED_TURN_M / 60.0,
            "rad/s": RECKONED_TURN_M / (2.0 * math.pi),
        },
        "engine": {unit: to_hz(1.0, unit) for unit in ("rpm", "hz")},
    }
)
ACCEPTED: Final[Mapping[Quantity, str]] = MappingProxyType(
    {
        "time": "s, ms, us, ns, min, h, d, or nothing for dates and clock times",
        "acceleration": "m/s2, g, mg",
        "rotation": "rad/s, deg/s",
        "speed": "m/s, km/h, mph, kn, or rpm or rad/s of a wheel",
        "engine": "rpm, Hz",
    }
)
_WORDS: Final[Mapping[Quantity, Mapping[str, str]]] = MappingProxyType(
    {
        "time": {
            **dict.fromkeys(("sec", "secs", "second", "seconds", "sekunden"), "s"),
            **dict.fromkeys(("msec", "msecs", "millis", "milliseconds", "millisecond"), "ms"),
            **dict.fromkeys(("usec", "micros", "microseconds", "µs", "μs"), "us"),
            **dict.fromkeys(("nsec", "nanos", "nanoseconds"), "ns"),
            **dict.fromkeys(("minutes", "minute"), "min"),
        },
        "acceleration": {
            **dict.fromkeys(("mps2", "ms2", "m/s/s", "ms-2", "m/sec2", "mpss", "m*s-2", "meterspersecond2"), "m/s2"),
            **dict.fromkeys(("gs", "gn", "g0", "gees"), "g"),
            "milli-g": "mg",
            "gal": "cm/s2",
        },
        "rotation": {
            **dict.fromkeys(("radps", "rads", "rps", "radsec", "rad/sec", "rad*s-1", "rads-1"), "rad/s"),
            **dict.fromkeys(("dps", "degps", "degs", "deg/sec", "°/s", "degreespersecond"), "deg/s"),
            "mdps": "mdeg/s",
        },
        "speed": {
            **dict.fromkeys(
                ("mps", "ms", "ms-1", "m/sec", "m*s-1", "meterspersecond", "meters/second", "metres/second"), "m/s"
            ),
            **dict.fromkeys(
                ("kmh", "kph", "kmph", "km/hr", "kmhr", "km/std", "kilometers/hour", "kilometres/hour"), "km/h"
            ),
            **dict.fromkeys(("mi/h", "miles/h", "milesperhour", "miles/hour"), "mph"),
            **dict.fromkeys(("kt", "kts", "knots", "knot"), "kn"),
            **dict.fromkeys(("1/min", "/min", "r/min", "rev/min", "min-1", "u/min"), "rpm"),
            **dict.fromkeys(("radps", "rad/sec", "rad*s-1", "rads-1"), "rad/s"),
        },
        "engine": {
            **dict.fromkeys(("1/min", "/min", "r/min", "rev/min", "min-1", "u/min"), "rpm"),
            **dict.fromkeys(("1/s", "rev/s", "r/s"), "hz"),
        },
    }
)
_SCALED = re.compile(r"(?P<unit>.*?[^*/\d\s.])\s*(?P<how>[*/])\s*(?P<count>\d+(?:\.\d+)?(?:e[+-]?\d+)?)$")


def _plain(unit: str) -> str:
    text = unit.strip().strip("[](){}").casefold().replace(" ", "").replace("²", "2").replace("^", "").replace("**", "")
    return text.replace("⁻¹", "-1").replace("⁻2", "-2").replace("·", "*")


def known_unit(unit: str, quantity: Quantity) -> str | None:
    """The unit in this module's spelling ("m/s2", "km/h"), or None when it is no unit of the quantity.

    >>> known_unit("[m/s²]", "acceleration"), known_unit("ms", "speed"), known_unit("ms", "time")
    ('m/s2', 'm/s', 'ms')
    >>> known_unit("g * 16", "acceleration"), known_unit("furlong", "speed")
    ('g*16', None)
    """
    text = _plain(unit)
    spelt = _WORDS[quantity].get(text, text)
    if spelt in _FACTORS[quantity]:
        return spelt
    scaled = _SCALED.match(text)
    if scaled is None or float(scaled["count"]) <= 0.0 or not math.isfinite(float(scaled["count"])):
        return None
    spelt = _WORDS[quantity].get(scaled["unit"], scaled["unit"])
    return f"{spelt}{scaled['how']}{scaled['count']}" if spelt in _FACTORS[quantity] else None


def factor_to_si(unit: str, quantity: Quantity) -> float:
    """Multiply a value in `unit` by this to get m/s2, rad/s, m/s, rev/s or s.

    Raises ValueError, naming the accepted ones, when the unit is none of the quantity.

    >>> factor_to_si("g", "acceleration"), factor_to_si("km/h", "speed") * 36, factor_to_si("g/1000", "acceleration")
    (9.80665, 10.0, 0.00980665)
    """
    spelt = known_unit(unit, quantity)
    if spelt is None:
        raise ValueError(f"{unit!r} is not a unit of {quantity} known here; write one of {ACCEPTED[quantity]}.")
    if spelt in _FACTORS[quantity]:
        return _FACTORS[quantity][spelt]
    scaled = _SCALED.match(spelt)
    assert scaled is not None  # noqa: S101  known_unit has just matched it
    count = float(scaled["count"])
    return _FACTORS[quantity][scaled["unit"]] * (count if scaled["how"] == "*" else 1.0 / count)
