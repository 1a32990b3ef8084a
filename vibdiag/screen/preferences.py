"""What was chosen last: theme and units of whoever works here; role, name and the case in hand of each session."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vibdiag.files.atomic import write_atomically
from vibdiag.screen.themes import DEFAULT_THEME
from vibdiag.screen.units_view import UnitChoice
from vibdiag.work.on_disk import alone_in

__all__ = ["ROLES", "Preferences"]

ROLES = ("desk", "road", "bay", "all")
_SHARED = ("theme", "units")
_OWN = ("role", "name", "last_case", "last_step")
# Browser tabs come and go; the places of the latest are enough to go on from.
_TABS_KEPT = 20


@dataclass
class Preferences:
    """Read from and written to `path`; a damaged file is set aside and the defaults are used.

    Sessions share the file and not their places: each browser tab has its own name, role and case under `tab`, and the
    terminal those without one. What another session wrote meanwhile stays.
    """

    path: Path
    theme: str = DEFAULT_THEME
    role: str = "desk"
    name: str = ""
    last_case: str = ""
    last_step: str = ""
    units: UnitChoice = field(default_factory=UnitChoice)
    problem: str | None = None
    tab: str = ""
    _kept: dict[str, Any] = field(default_factory=dict, repr=False)

    @classmethod
    def load(cls, path: Path, *, tab: str = "") -> Preferences:
        """What is stored, or the defaults; `problem` says when a stored file could not be used."""
        chosen = cls(path, tab=tab)
        if path.exists():
            try:
                data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
                chosen.units = UnitChoice(**data.get("units", {}))
                chosen.theme = str(data.get("theme", chosen.theme))
                own = data.get("tabs", {}).get(tab, {}) if tab else data
                for name in _OWN:
                    setattr(chosen, name, str(own.get(name, getattr(chosen, name))))
            except (OSError, ValueError, TypeError, AttributeError) as error:
                problem = f"the settings in {path.name} could not be read ({error}); defaults are used"
                return cls(path, tab=tab, problem=problem)
        if chosen.role not in ROLES:
            chosen.role = "desk"
        chosen._kept = chosen._now()
        return chosen

    def _now(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in (*_SHARED[:1], *_OWN)} | {"units": dict(vars(self.units))}

    def save(self) -> None:
        """Write what this session changed; raises OSError when that is not possible."""
        now = self._now()
        # Asked for at every answer, and mostly nothing has changed: waiting for the disk would hold the keys up.
        if now == self._kept and self.path.is_file():
            return
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with alone_in(self.path.parent):
            data = _stored(self.path)
            data |= {name: now[name] for name in _SHARED if now[name] != self._kept.get(name) or name not in data}
            own = {name: now[name] for name in _OWN}
            if self.tab:
                tabs = {name: one for name, one in dict(data.get("tabs", {})).items() if name != self.tab}
                data["tabs"] = dict([*tabs.items(), (self.tab, own)][-_TABS_KEPT:])
            else:
                data |= own
            write_atomically(self.path, json.dumps(data, indent=2) + "\n")
        self._kept = now


def _stored(path: Path) -> dict[str, Any]:
    """What stands in the file; nothing when it is damaged or not there, which was said when it was loaded."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    sound = (
        isinstance(data, dict) and isinstance(data.get("tabs", {}), dict) and isinstance(data.get("units", {}), dict)
    )
    return data if sound else {}
