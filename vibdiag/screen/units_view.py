"""Units as the person at the screen wants them. The case keeps what was entered; only the view changes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

__all__ = ["UnitChoice"]

_MM_PER_THOU, _G_PER_OZ, _KMH_PER_MPH = 0.0254, 28.349523125, 1.609344
_KPA = {"bar": 100.0, "psi": 6.894757, "kPa": 1.0}


@dataclass(frozen=True)
class UnitChoice:
    """One choice for each quantity; `next_set` walks through the usual sets."""

    speed: Literal["km/h", "mph"] = "km/h"
    length: Literal["mm", "thou"] = "mm"
    mass: Literal["g", "oz"] = "g"
    pressure: Literal["bar", "psi", "kPa"] = "bar"

    def next_set(self) -> UnitChoice:
        """Metric, then inch units, then metric with kPa."""
        if self == UnitChoice():
            return UnitChoice("mph", "thou", "oz", "psi")
        if self.speed == "mph":
            return UnitChoice(pressure="kPa")
        return UnitChoice()

    def with_pressure(self, pressure: Literal["bar", "psi", "kPa"]) -> UnitChoice:
        """The same with another unit of pressure."""
        return replace(self, pressure=pressure)

    def show_speed(self, value: float, unit: str) -> str:
        """A speed given in `unit`, in the chosen one."""
        if unit == self.speed:
            return f"{value:g} {self.speed}"
        factor = _KMH_PER_MPH if self.speed == "km/h" else 1 / _KMH_PER_MPH
        return f"{value * factor:.0f} {self.speed}"

    def show(self, value: float, unit: str) -> str:
        """Any measured value given in `unit`, in the chosen unit of its quantity."""
        if unit in ("km/h", "mph"):
            return self.show_speed(value, unit)
        if unit in ("mm", "thou", "in"):
            mm = value * {"mm": 1.0, "thou": _MM_PER_THOU, "in": 25.4}[unit]
            return f"{mm:.3g} mm" if self.length == "mm" else f"{mm / _MM_PER_THOU:.3g} thou"
        if unit in ("g", "oz"):
            grams = value * (_G_PER_OZ if unit == "oz" else 1.0)
            return f"{grams:.3g} g" if self.mass == "g" else f"{grams / _G_PER_OZ:.3g} oz"
        if unit in _KPA:
            return f"{value * _KPA[unit] / _KPA[self.pressure]:.3g} {self.pressure}"
        return f"{value:g} {unit}"

    def __str__(self) -> str:
        return f"{self.speed}, {self.length}, {self.mass}, {self.pressure}"
