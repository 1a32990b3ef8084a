"""A tyre: its marking, its shape, its ratings, and how far it rolls in one turn."""

from vibdiag.rotation.tyre.marking import parse_tyre
from vibdiag.rotation.tyre.ratings import load_capacity_kg, speed_limit_kmh
from vibdiag.rotation.tyre.rolling import (
    Contribution,
    circumference_contributions,
    free_circumference_m,
    revolutions_per_km,
    revolutions_per_mile,
    rolling_circumference,
)
from vibdiag.rotation.tyre.shape import TyreMarkingError
from vibdiag.rotation.tyre.size import Construction, Tyre

__all__ = [
    "Construction",
    "Contribution",
    "Tyre",
    "TyreMarkingError",
    "circumference_contributions",
    "free_circumference_m",
    "load_capacity_kg",
    "parse_tyre",
    "revolutions_per_km",
    "revolutions_per_mile",
    "rolling_circumference",
    "speed_limit_kmh",
]
