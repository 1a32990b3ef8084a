"""An invented case with recordings on both sides of the repair, and rounds of readings, for the tests of reports."""

from __future__ import annotations

import math
from typing import Any

from vibdiag.case.model import Case

__all__ = ["order", "recorded"]


def order(amplitude: float, name: str = "1x wheel", **more: Any) -> dict[str, Any]:
    """One order as `vibdiag road --keep` writes it; three per cent either way."""
    steps = [
        {"kmh": kmh, "amplitude": level, "low": 0.95 * level, "high": 1.05 * level}
        for kmh in (90.3, 95.1, 99.8, 104.7, 109.2)
        for level in [round(amplitude * (kmh / 100.0) ** 3, 5)]
    ]
    found = {"order": name, "part": "wheel", "axis": "az_m/s2", "unit": "m/s2", "hz": 14.3, "kmh": 100.1}
    return found | {
        "amplitude": amplitude, "low": 0.97 * amplitude, "high": 1.03 * amplitude, "over_speed": steps, **more
    }  # fmt: skip


def recorded(case: Case) -> Case:
    """`case` with two recordings and a round of readings."""
    sign = {"sign": "follows", "word": "wheel-1x", "trust": 0.9, "because": "1x wheel stands out."}
    values = [round(0.4 * math.cos(math.radians(30 * place - 60)), 2) for place in range(12)]
    parts = {
        "attachments": [
            {
                "path": "before.csv", "sensor_place": "seat-rail", "taken": "before", "signs": [sign],
                "orders": [order(0.145), order(0.031, "2x wheel", over_speed=[])],
            },
            {
                "path": "after.csv", "sensor_place": "seat-rail", "taken": "after", "signs": [sign],
                "orders": [order(0.02)],
            },
        ],
        "readings": [{"what": "tread-radial", "wheel": "front-left", "values": values, "taken": "before"}],
    }  # fmt: skip
    return Case.model_validate(case.model_dump(mode="json", exclude_defaults=True) | parts)
