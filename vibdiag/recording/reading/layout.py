"""What was taken for what, in lines that a person can check at a glance and correct with one answer."""

from __future__ import annotations

from dataclasses import dataclass

from vibdiag.recording.reading.choice import Choice
from vibdiag.recording.reading.dialect import Dialect

__all__ = ["FileLayout", "Layout"]

_WORDS = {
    "accel": "acceleration",
    "gyro": "rotation",
    "speed": "speed",
    "engine": "engine speed",
    "time": "time",
    "date": "date",
}


@dataclass(frozen=True, slots=True)
class FileLayout:
    """One clock of one file. dialect: how its text is written, else None. rate_hz: where it has no stamps."""

    label: str
    form: str
    columns: tuple[Choice, ...]
    dialect: Dialect | None = None
    rate_hz: float | None = None

    def lines(self) -> tuple[str, ...]:
        """The file in one line, then one line a column."""
        how = f", {self.dialect.said()}" if self.dialect is not None else ""
        rate = f", {self.rate_hz:g} samples a second" if self.rate_hz else ""
        width = max((len(choice.name) for choice in self.columns), default=0)
        told = [f"{self.label}: {self.form}{how}{rate}"]
        for choice in self.columns:
            role = choice.role
            if role.kind == "ignore":
                what = "not used"
            else:
                axis = f" {role.axis}" if role.axis else ""
                what = f"{_WORDS[role.kind]}{axis}" + (f", {role.unit}" if role.unit else "")
            why = f" ({choice.why})" if choice.why else ""
            doubt = f" - {choice.doubt}" if choice.doubt else ""
            told.append(f"  {choice.index + 1:>3} {choice.name:<{width}}  {what}{why}{doubt}")
        return tuple(told)


@dataclass(frozen=True, slots=True)
class Layout:
    """All files, in the order given."""

    files: tuple[FileLayout, ...]

    def lines(self) -> tuple[str, ...]:
        """One line a file and one a column, to show before anything is computed."""
        return tuple(line for file in self.files for line in file.lines())

    def doubts(self) -> tuple[str, ...]:
        """Only what may be wrong, one line each."""
        told: dict[tuple[str, str], list[str]] = {}
        for file in self.files:
            for choice in file.columns:
                if choice.doubt:
                    told.setdefault((file.label, choice.doubt), []).append(choice.name)
        return tuple(f"{label}: {', '.join(names)}: {doubt}." for (label, doubt), names in told.items())
