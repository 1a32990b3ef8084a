"""What every part of the case form is made of: numbers that are numbers, texts with an end, keys that are known."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, Strict

__all__ = ["Number", "Part", "Short", "SpeedValue", "Text", "When", "Whole"]

# true, false and quoted numbers are no numbers; a lax reader would take `true` for 1.
Number = Annotated[float, Strict()]
Whole = Annotated[int, Strict()]
Text = Annotated[str, Field(max_length=20_000)]
Short = Annotated[str, Field(max_length=500)]
SpeedValue = Annotated[Number, Field(gt=0, le=400, allow_inf_nan=False)]
When = AwareDatetime | datetime


class Part(BaseModel):
    """Unknown keys are refused (a misspelt key would otherwise be lost evidence)."""

    model_config = ConfigDict(extra="forbid", frozen=True)
