"""Limits that are used when the vehicle maker's figure for this car is not at hand, each with its source.

"common practice" is what the trade works to with no single source. Published figures are those of service
manuals and bulletins, given by kind and year of car; they differ by a factor of about three, which is why the
maker's figure always wins and why most limits here are a range.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, get_args

from vibdiag.measure.judgement import Limit

__all__ = ["LIMITS", "RE_TORQUE_KM", "LimitId", "limit_for"]

LimitId = Literal[
    "tread-radial",
    "tread-lateral",
    "rim-alloy-radial",
    "rim-alloy-lateral",
    "rim-steel-radial",
    "rim-steel-lateral",
    "rim-radial",
    "rim-lateral",
    "hub-face",
    "hub-pilot",
    "brake-disc",
    "disc-thickness-variation",
    "propshaft",
    "radial-force-total",
    "radial-force-first",
]

_CP: Final = "common practice"
_ALLOY: Final = "common practice 0.8 to 1.0; the loosest figure seen published for alloy is 0.7"
_STEEL: Final = "common practice 1.0 to 1.2; published for steel 0.8"
_LAW: Final = "; in the USA 3.175 mm (1/8 in) is unlawful: 49 CFR 570.10(b)"

LIMITS: Final[Mapping[LimitId, Limit]] = MappingProxyType(
    {
        "tread-radial": Limit(
            1.0, 1.5, "mm", _CP, "1.0 (sedan 2012), 1.52 (pickup 2004), 1.59 (minivan 1997), 0.8 (sedan 1990)"
        ),
        "tread-lateral": Limit(1.5, 2.0, "mm", _CP, "1.3 (sedan 2012), 1.52 (pickup 2004), 1.78 (minivan 1997)"),
        "rim-alloy-radial": Limit(
            0.7, 1.0, "mm", _ALLOY, "0.7 (compact, 2000s), 0.3 (minivan 1997), 0.25 (compact 2006)" + _LAW
        ),
        "rim-alloy-lateral": Limit(
            0.7, 1.0, "mm", _ALLOY, "0.8 (compact, 2000s), 0.3 (minivan 1997), 0.25 (compact 2006)" + _LAW
        ),
        "rim-steel-radial": Limit(0.8, 1.2, "mm", _STEEL, "0.8 (minivan 1997; compact, 2000s)" + _LAW),
        "rim-steel-lateral": Limit(0.8, 1.2, "mm", _STEEL, "0.8 (minivan 1997), 1.0 (compact, 2000s)" + _LAW),
        "rim-radial": Limit(0.7, 1.2, "mm", "common practice, alloy and steel together", "0.25 to 0.8" + _LAW),
        "rim-lateral": Limit(0.7, 1.2, "mm", "common practice, alloy and steel together", "0.25 to 1.0" + _LAW),
        "hub-face": Limit(0.05, 0.10, "mm", _CP, "0.05 (sedan 1996), 0.254 (sedan 1999)"),
        "hub-pilot": Limit(0.05, 0.10, "mm", _CP, "0.15 (sedan 1999)"),
        "brake-disc": Limit(0.05, 0.10, "mm", _CP, "0.03 (multi-purpose vehicle 2005)"),
        "disc-thickness-variation": Limit(
            0.010, 0.020, "mm", _CP, "0.0127 (large car 1993), 0.025 (sedan 2001), 0.03 (multi-purpose vehicle 2005)"
        ),
        "propshaft": Limit(0.5, 1.0, "mm", _CP),
        "radial-force-total": Limit(
            120.0, 120.0, "N", "encyclopaedia page on radial force variation (probsee.com), passenger cars"
        ),
        "radial-force-first": Limit(
            80.0, 80.0, "N", "encyclopaedia page on radial force variation (probsee.com), passenger cars"
        ),
    }
)

# Common practice 50 to 100 km; a tyre maker's page says 50 km, a newspaper of 2019 (Ottawa Citizen) 100 km.
RE_TORQUE_KM: Final = (50.0, 100.0)


def limit_for(limit_id: LimitId, *, maker: float | None = None) -> Limit:
    """The limit in use: the maker's figure where given (same unit, above zero), else the table's.

    >>> print(limit_for("hub-face", maker=0.08))
    0.08 mm (the vehicle maker's figure for this car, as entered)

    Raises ValueError for an id not in the table or a figure that is not above zero.
    """
    if limit_id not in LIMITS:
        raise ValueError(f"There is no limit {limit_id!r}; known are {', '.join(get_args(LimitId))}.")
    usual = LIMITS[limit_id]
    return usual if maker is None else Limit.of_maker(maker, usual.unit)
