"""The road test for this case: which speeds to hold, and which observations tell the leading causes apart.

After the repair the same test is driven again: at the complaint's own speeds, with every observation made before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.danger import how_to_clear
from vibdiag.advice.next_step import StepAdvice, next_steps
from vibdiag.case.model import Case, SpeedTold, StepResult
from vibdiag.case.strengths import Held, read_words
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.forms import StepText

__all__ = [
    "HOLDING",
    "SAFETY",
    "Observation",
    "RoadPlan",
    "plan_repeat",
    "plan_road_test",
    "speeds_to_hold",
    "why_not_yet",
]

SAFETY = (
    "Licensed driver, legal speeds. The driver never writes and never reads a screen; the passenger records. "
    "No mount in the airbag's way. Stop if anything worsens."
)
# The road observation that carries the strengths at held speeds.
HOLDING = "road-hold-speeds"
# Speeds in steps of 10 km/h or 5 mph, from about 15 km/h below the complaint's own to as much above; eight at most, so
# that a road test takes minutes (common practice).
_STEP = {"km/h": 10.0, "mph": 5.0}
_MARGIN = {"km/h": 15.0, "mph": 10.0}
_USUAL = {"km/h": (80.0, 90.0, 100.0, 110.0), "mph": (50.0, 55.0, 60.0, 70.0)}
_MOST_SPEEDS = 8


@dataclass(frozen=True)
class Observation:
    """A road observation on the sheet; `advice` says what each answer would do, and is None where it is not planned
    anew: already observed, or to be repeated."""

    step: StepText
    advice: StepAdvice | None = None


@dataclass(frozen=True)
class RoadPlan:
    """A sheet for the passenger.

    `not_yet`: why the car does not move yet, a sentence for each open danger. `checks`: to be made before it moves.
    `hold`: speeds, slowest first. `observations`: what pays first on top.
    """

    not_yet: tuple[str, ...]
    checks: tuple[StepText, ...]
    hold: tuple[Held, ...]
    observations: tuple[Observation, ...]


def speeds_to_hold(told: SpeedTold) -> tuple[Held, ...]:
    """Speeds below, at and above the complaint's own, in its unit; the usual ones when it names none.

    A named speed is held as it was told; round speeds closer than half a step to it are left out.
    """
    step, margin = _STEP[told.unit], _MARGIN[told.unit]
    named = sorted({value for value in (told.starts, told.worst, told.fades) if value is not None})
    if not named:
        return tuple(Held(speed, told.unit) for speed in _USUAL[told.unit])
    low = max(step, round((named[0] - margin) / step) * step)
    high = round((named[-1] + margin) / step) * step
    count = round((high - low) / step) + 1
    grid = [low + step * place for place in range(count)]
    between = [speed for speed in grid if all(abs(speed - one) >= step / 2 for one in named)]
    hold = sorted({*named, *between})
    if len(hold) > _MOST_SPEEDS:
        ends = {speed for speed in (low, high) if speed in between}
        hold = sorted({*named, *ends})
    return tuple(Held(speed, told.unit) for speed in hold)


def plan_road_test(assessment: Assessment, adviser: Adviser, *, count: int = 8) -> RoadPlan:
    """The road test that tells most: holding speeds, then at most `count` observations, best per minute first.

    Observations made already stand below, to be changed. With an open danger the plan says why the car does not move
    yet.
    """
    base, case = adviser.base, assessment.case
    # A question about the same sign must not take the place of looking oneself.
    road = replace(base, steps={step.id: step for step in base.steps.values() if step.kind == "road"})
    found = next_steps(assessment.belief, assessment.findings, (), road, count=len(road.steps))
    advised = [Observation(advice.step, advice) for advice in found]
    holding = next((item for item in advised if item.step.id == HOLDING), None)
    if holding is None and HOLDING in base.steps:
        holding = Observation(base.steps[HOLDING])
    first = [holding] if holding else []
    planned = [item for item in advised if item is not holding][:count]
    shown = {item.step.id for item in (*first, *planned)}
    made = [Observation(step) for step in _observed(case, base) if step.id not in shown]
    return RoadPlan(why_not_yet(assessment, base), (), speeds_to_hold(case.complaint.speed), (*first, *planned, *made))


def plan_repeat(assessment: Assessment, adviser: Adviser, *, wheels_were_off: bool) -> RoadPlan:
    """The same test after the repair: checks before the car moves, the complaint's own speeds, what was observed.

    Speeds at which a shake was noted before are driven again too. The checks are those that clear an open danger, and
    the wheel fasteners when wheels were off.
    """
    base, case = adviser.base, assessment.case
    told = case.complaint.speed
    noted = read_words(next((one.words for one in _before(case) if one.step == HOLDING), None))[0]
    own = {Held(value, told.unit) for value in (told.starts, told.worst, told.fades) if value is not None}
    own |= {held for held, strength in noted.items() if strength > 0}
    hold = sorted(own, key=lambda held: held.kmh) if own else speeds_to_hold(told)
    observed = [step for step in _observed(case, base) if step.id != HOLDING]
    first = [base.steps[HOLDING]] if HOLDING in base.steps else []
    clearing = [danger.clear_with for danger in assessment.dangers if danger.status == "open"]
    loose = base.causes["loose-wheel"].danger if "loose-wheel" in base.causes else None
    if wheels_were_off and loose is not None:
        clearing.append(loose.cleared_by)
    clearing += [one.step for one in case.steps if one.taken == "after" and base.steps[one.step].kind == "check"]
    checks = tuple(base.steps[step] for step in dict.fromkeys(clearing) if step is not None)
    return RoadPlan(
        why_not_yet(assessment, base), checks, tuple(hold), tuple(Observation(step) for step in (*first, *observed))
    )


def _before(case: Case) -> list[StepResult]:
    return [result for result in case.steps if result.taken == "before"]


def _observed(case: Case, base: RuleBase) -> list[StepText]:
    """Road observations made before the repair, in the order they were made."""
    made = dict.fromkeys(result.step for result in _before(case))
    return [base.steps[step] for step in made if base.steps[step].kind == "road"]


def why_not_yet(assessment: Assessment, base: RuleBase) -> tuple[str, ...]:
    """Why the car does not move yet: a sentence for each open danger, with the check that clears it."""
    dangers = [danger for danger in assessment.dangers if danger.status == "open"]
    return tuple(f"{danger.says} {how_to_clear(danger, base)}" for danger in dangers)
