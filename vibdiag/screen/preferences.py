"""What the person chose last: theme, units, role, name, and the case under the hand. Kept between runs."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from vibdiag.files.atomic import write_atomically
from vibdiag.screen.themes import DEFAULT_THEME
from vibdiag.screen.units_view import UnitChoice

__all__ = ["ROLES", "Preferences"]

ROLES = ("desk", "road", "bay", "all")


@dataclass
class Preferences:
    """Read from and written to `path`; a damaged file is set aside and the defaults are used."""

    path: Path
    theme: str = DEFAULT_THEME
    role: str = "desk"
    name: str = ""
    last_case: str = ""
    last_step: str = ""
    units: UnitChoice = field(default_factory=UnitChoice)
    problem: str | None = None

    @classmethod
    def load(cls, path: Path) -> Preferences:
        """What is stored, or the defaults; `problem` says when a stored file could not be used."""
        chosen = cls(path)
        if not path.exists():
            return chosen
        try:
            data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
            chosen.units = UnitChoice(**data.pop("units", {}))
            for name in ("theme", "role", "name", "last_case", "last_step"):
                setattr(chosen, name, str(data.get(name, getattr(chosen, name))))
        except (OSError, ValueError, TypeError, AttributeError) as error:
            return cls(path, problem=f"the settings in {path.name} could not be read ({error}); defaults are used")
        if chosen.role not in ROLES:
            chosen.role = "desk"
        return chosen

    def save(self) -> None:
        """Write to `path`; raises OSError when that is not possible."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        data = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in ("path", "units", "problem")}
        text = json.dumps(data | {"units": vars(self.units)}, indent=2) + "\n"
        # Asked for at every answer, and mostly nothing has changed: waiting for the disk would hold the keys up.
        if not self.path.is_file() or self.path.read_bytes() != text.encode():
            write_atomically(self.path, text)
