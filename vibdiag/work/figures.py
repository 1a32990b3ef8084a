"""What a folder of cases adds up to: what came back, what it cost, whom to call.

Pure functions over cases. A figure that nothing stands behind is None, never zero.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from vibdiag.case.model import Case, FollowUp
from vibdiag.knowledge.base import RuleBase

__all__ = [
    "CALL_QUESTIONS",
    "NO_PERIOD",
    "OPEN",
    "Due",
    "Figures",
    "came_back",
    "cause_of",
    "figures_by",
    "figures_of",
    "follow_ups_due",
    "minutes_spent",
    "month_of",
    "wrong_repairs",
]

# Asked on the telephone some days after the car was handed over; the distance is common practice.
CALL_QUESTIONS = (
    "Is the shake still gone?",
    "Has anything new been felt, heard or smelt?",
    "Were the wheel fasteners checked again after 50 to 100 km (common practice)?",
)
OPEN = "no cause yet"
NO_PERIOD = "undated"
# What reopening a case writes into its notes.
_REOPENED = re.compile(r"^Closed as ([a-z0-9-]+), reopened: ", re.MULTILINE)
_WRONG = ("none", "worse", "came-back")


@dataclass(frozen=True)
class Figures:
    """Counts and sums, so that groups can be added; the rates and means follow from them.

    `mended`: cases that were closed, reopened, or had a repair whose effect is known; only these can come back.
    `closed` have a confirmed cause now, `proven` of them with what showed it. `minutes` are those of every step done,
    by the rule base. `wrong_repairs` are those of closed cases; `with_wrong_repairs` is how many cases had one.
    """

    cases: int
    closed: int
    proven: int
    mended: int
    came_back: int
    minutes: float
    closed_minutes: float
    wrong_repairs: int
    with_wrong_repairs: int

    @property
    def comeback_rate(self) -> float | None:
        """Share of the mended cases that came back, 0 to 1."""
        return self.came_back / self.mended if self.mended else None

    @property
    def minutes_a_closed_case(self) -> float | None:
        return self.closed_minutes / self.closed if self.closed else None

    @property
    def wrong_repairs_a_closed_case(self) -> float | None:
        return self.wrong_repairs / self.closed if self.closed else None


@dataclass(frozen=True)
class Due:
    """One open follow-up; `place` counts from 0 in the case's list, `overdue_days` is 0 on the day itself."""

    case: Case
    place: int
    item: FollowUp
    overdue_days: int


def came_back(case: Case) -> bool:
    """Whether it was closed and reopened, or a repair against this shake held only for a while."""
    return any(repair.effect == "came-back" for repair in case.history.repairs) or _closed_before(case) is not None


def _closed_before(case: Case) -> str | None:
    """The cause it was last closed as before it was reopened."""
    found = _REOPENED.findall(case.notes or "")
    return found[-1] if found else None


def cause_of(case: Case) -> str:
    """The confirmed cause; for a reopened case the one that turned out wrong; else `OPEN`."""
    return case.outcome.confirmed_cause if case.outcome else _closed_before(case) or OPEN


def month_of(case: Case) -> str:
    """Year and month of the outcome, or of the opening where there is none: `2026-03`; else `NO_PERIOD`."""
    at = (case.outcome.at if case.outcome else None) or case.opened_at
    return at.strftime("%Y-%m") if at else NO_PERIOD


def minutes_spent(case: Case, base: RuleBase) -> float:
    """Minutes of every step done, before and after the repair, also where the answer was "unknown".

    Raises KeyError for a step that the rule base does not have.
    """
    return float(sum(base.steps[result.step].minutes for result in case.steps))


def wrong_repairs(case: Case) -> int:
    """Repairs that did nothing, made it worse or did not last, before the one that cured.

    One that helped in part is not wrong: it may have mended a second fault. Work of others before the car came counts.
    """
    effects = [repair.effect for repair in case.history.repairs]
    right = len(effects) - 1 - effects[::-1].index("cured") if "cured" in effects else len(effects)
    return sum(effect in _WRONG for effect in effects[:right])


def figures_of(cases: Sequence[Case], base: RuleBase) -> Figures:
    """All figures over `cases`; raises KeyError for a step that the rule base does not have."""
    closed = [case for case in cases if case.outcome is not None]
    wrong = [wrong_repairs(case) for case in closed]
    return Figures(
        len(cases),
        len(closed),
        sum(bool(case.outcome and case.outcome.proof) for case in closed),
        sum(_mended(case) for case in cases),
        sum(came_back(case) for case in cases),
        float(sum(minutes_spent(case, base) for case in cases)),
        float(sum(minutes_spent(case, base) for case in closed)),
        sum(wrong),
        sum(count > 0 for count in wrong),
    )


def _mended(case: Case) -> bool:
    judged = any(repair.effect != "unknown" for repair in case.history.repairs)
    return case.outcome is not None or judged or came_back(case)


def figures_by(cases: Iterable[Case], key: Callable[[Case], str], base: RuleBase) -> dict[str, Figures]:
    """Figures of each group, sorted by the group's name; `key` names the group, such as `cause_of` or `month_of`."""
    groups: dict[str, list[Case]] = {}
    for case in cases:
        groups.setdefault(key(case), []).append(case)
    return {name: figures_of(groups[name], base) for name in sorted(groups)}


def follow_ups_due(cases: Iterable[Case], *, until: date) -> tuple[Due, ...]:
    """Open follow-ups that fall due up to and on `until`, the oldest first."""
    found = [
        Due(case, place, item, (until - item.due).days)
        for case in cases
        for place, item in enumerate(case.follow_ups)
        if not item.done and item.due <= until
    ]
    return tuple(sorted(found, key=lambda due: (due.item.due, due.case.id, due.place)))
