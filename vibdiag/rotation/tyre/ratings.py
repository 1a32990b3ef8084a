"""Load index and speed symbol, as they stand in a tyre's service description (`91V`, `121/118S`)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

__all__ = [
    "HIGHEST_LOAD_INDEX",
    "LOWEST_LOAD_INDEX",
    "SPEED_SYMBOL_KMH",
    "load_capacity_kg",
    "speed_limit_kmh",
]

LOWEST_LOAD_INDEX: Final = 50

# UN R30 and R54 Annex 4. 71 to 110 seen in a dealer's table; 50 to 160 agree with several public copies; 161
# to 170 from memory. All keep the law of the table, which a test checks: 80 steps are a factor of ten.
_LOAD_KG: Final[tuple[float, ...]] = (
    *(190, 195, 200, 206, 212, 218, 224, 230, 236, 243),  # 50
    *(250, 257, 265, 272, 280, 290, 300, 307, 315, 325),  # 60
    *(335, 345, 355, 365, 375, 387, 400, 412, 425, 437),  # 70
    *(450, 462, 475, 487, 500, 515, 530, 545, 560, 580),  # 80
    *(600, 615, 630, 650, 670, 690, 710, 730, 750, 775),  # 90
    *(800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030),  # 100
    *(1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360),  # 110
    *(1400, 1450, 1500, 1550, 1600, 1650, 1700, 1750, 1800, 1850),  # 120
    *(1900, 1950, 2000, 2060, 2120, 2180, 2240, 2300, 2360, 2430),  # 130
    *(2500, 2575, 2650, 2725, 2800, 2900, 3000, 3075, 3150, 3250),  # 140
    *(3350, 3450, 3550, 3650, 3750, 3875, 4000, 4125, 4250, 4375),  # 150
    *(4500, 4625, 4750, 4875, 5000, 5150, 5300, 5450, 5600, 5800),  # 160
    6000,
)

HIGHEST_LOAD_INDEX: Final = LOWEST_LOAD_INDEX + len(_LOAD_KG) - 1

# Q to Y: seen in a dealer's table, W confirmed on a public product fiche. A1 to P and R: from memory of UN
# R30 clause 2.29 and UN R54. Z promises "above 240" and no more.
SPEED_SYMBOL_KMH: Final[Mapping[str, int]] = {
    **{f"A{n}": 5 * n for n in range(1, 9)},
    "B": 50,
    "C": 60,
    "D": 65,
    "E": 70,
    "F": 80,
    "G": 90,
    "J": 100,
    "K": 110,
    "L": 120,
    "M": 130,
    "N": 140,
    "P": 150,
    "Q": 160,
    "R": 170,
    "S": 180,
    "T": 190,
    "U": 200,
    "H": 210,
    "V": 240,
    "Z": 240,
    "W": 270,
    "Y": 300,
}


def load_capacity_kg(load_index: int) -> float:
    """Load one tyre may carry, kg. Raises ValueError outside 50 to 170.

    >>> load_capacity_kg(91)
    615
    """
    if not LOWEST_LOAD_INDEX <= load_index <= HIGHEST_LOAD_INDEX:
        raise ValueError(f"Load index {load_index} is not in the table ({LOWEST_LOAD_INDEX} to {HIGHEST_LOAD_INDEX}).")
    return _LOAD_KG[load_index - LOWEST_LOAD_INDEX]


def speed_limit_kmh(speed_symbol: str) -> int:
    """Highest speed the tyre is made for, km/h. Raises ValueError for a letter that is no speed symbol.

    >>> speed_limit_kmh("H")
    210
    """
    limit = SPEED_SYMBOL_KMH.get(speed_symbol.strip().upper())
    if limit is None:
        raise ValueError(f"{speed_symbol!r} is not a speed symbol; they are {', '.join(SPEED_SYMBOL_KMH)}.")
    return limit
