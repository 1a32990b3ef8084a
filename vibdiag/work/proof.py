"""From a repair to the proof: what was done, what it did, close, or reopen with what was learned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from vibdiag.advice.assess import Assessment
from vibdiag.advice.danger import how_to_clear
from vibdiag.advice.next_step import RepairAdvice, repair_order
from vibdiag.case.model import Case, FollowUp, Outcome, Repair
from vibdiag.case.strengths import read_words
from vibdiag.case.vocabulary import Axle, CauseId, RepairEffect, RepairKind, Wheel
from vibdiag.knowledge.base import RuleBase
from vibdiag.work.before_after import compare, proof_sentences
from vibdiag.work.desk import now
from vibdiag.work.phrases import said

__all__ = [
    "EFFECT_FIRST",
    "Closing",
    "Stage",
    "add_repair",
    "close",
    "compare",
    "draft_closing",
    "judge_repair",
    "refusal",
    "reopen",
    "repair_kind",
    "repairs_to_try",
    "stage_of",
    "takes_wheels_off",
]

Stage = Literal["mend", "prove", "close", "closed"]
EFFECT_FIRST = "Say first what the repair did: 1 cured, 2 partly, 3 none, 4 worse."

_KINDS: dict[str, RepairKind] = {
    "residual-imbalance": "balance",
    "balanced-off-centre": "balance",
    "debris-in-wheel": "wheels-cleaned",
    "hub-centring-error": "wheel-seat-cleaned",
    "loose-wheel": "fasteners-tightened",
    "bent-rim": "rims-renewed",
    "tyre-runout": "tyres-renewed",
    "tyre-force-variation": "tyres-renewed",
    "tyre-belt-damage": "tyres-renewed",
    "tyre-flat-spot": "tyres-renewed",
    "tyre-uneven-wear": "tyres-renewed",
    "tyre-mismatch": "tyres-renewed",
    "wheel-bearing": "bearing-renewed",
    "hub-runout": "bearing-renewed",
    "steering-suspension-play": "steering-suspension-work",
    "damper-worn": "steering-suspension-work",
    "alignment-fault": "alignment",
    "brake-disc-variation": "brake-work",
    "brake-drag": "brake-work",
    "engine-rough-running": "engine-work",
    "powertrain-mount": "mounts-renewed",
    "accessory-or-exhaust": "engine-work",
    "converter-or-clutch-judder": "driveline-work",
}
_DRIVELINE = ("propshaft", "drive-joint", "halfshaft", "final-drive")
# Work on the wheels asks for the fasteners to be checked again after 50 to 100 km; two days stand for that distance,
# and a call after a week (both common practice).
_TORQUE_DAYS, _CALL_DAYS = 2, 7
_LINE = 200
# Below this share the axle is not known well enough to be written down for somebody.
_SURE = 0.6
_AT_THE_WHEELS: frozenset[RepairKind] = frozenset(
    {
        "balance",
        "rotation",
        "tyres-renewed",
        "rims-renewed",
        "brake-work",
        "bearing-renewed",
        "steering-suspension-work",
        "driveline-work",
        "wheel-seat-cleaned",
        "wheels-cleaned",
        "fasteners-tightened",
    }
)


def repair_kind(cause: str) -> RepairKind:
    """The kind of work that mends a cause."""
    if any(part in cause for part in _DRIVELINE):
        return "driveline-work"
    return _KINDS.get(cause, "other")


def takes_wheels_off(kind: RepairKind) -> bool:
    """Whether wheels, or their fasteners, were touched, so that the torque must be checked again."""
    return kind in _AT_THE_WHEELS


def stage_of(case: Case) -> Stage:
    """What is to be done: mend; prove a repair whose effect is not known; close what was cured; or it is closed."""
    if case.outcome is not None:
        return "closed"
    effect = case.history.repairs[-1].effect if case.history.repairs else None
    if effect == "unknown":
        return "prove"
    return "close" if effect == "cured" else "mend"


def repairs_to_try(assessment: Assessment, base: RuleBase) -> tuple[RepairAdvice, ...]:
    """The repair of the first cause, then the others by probability per minute.

    None when no known cause leads: there is nothing to mend before the shake is understood.
    """
    first = assessment.causes[0].id
    if first == "not-in-rule-base":
        return ()
    order = [advice for advice in repair_order(assessment.belief, base) if advice.cause != "not-in-rule-base"]
    return tuple(sorted(order, key=lambda advice: advice.cause != first))


def add_repair(case: Case, cause: str, note: str, *, by: str | None) -> Case:
    """The case with a repair whose effect is not known yet."""
    repair = Repair(what=repair_kind(cause), effect="unknown", by=by or None, at=now(), note=note.strip() or None)
    return _with_repairs(case, [*case.history.repairs, repair])


def judge_repair(case: Case, effect: RepairEffect) -> Case:
    """The case with the effect of its last repair; raises ValueError when there is no repair."""
    if not case.history.repairs:
        raise ValueError("no repair has been recorded yet")
    last = case.history.repairs[-1].model_copy(update={"effect": effect})
    return _with_repairs(case, [*case.history.repairs[:-1], last])


def _with_repairs(case: Case, repairs: list[Repair]) -> Case:
    return case.model_copy(update={"history": case.history.model_copy(update={"repairs": repairs})})


@dataclass(frozen=True)
class Closing:
    """What is written down when a case is closed. `wheels_were_off`: the torque check falls due."""

    cause: CauseId
    axle: Axle = "unknown"
    wheel: Wheel = "unknown"
    place: str = ""
    proof: str = ""
    confirming_step: str | None = None
    wheels_were_off: bool = True


def draft_closing(assessment: Assessment, base: RuleBase) -> Closing:
    """The closing as far as the case tells it: the likeliest cause that the last repair mends, the check that spoke
    most for it, the wheel and words of that check, and what was got before and after."""
    case = assessment.case
    kind = case.history.repairs[-1].what if case.history.repairs else None
    ranked = assessment.causes[0]
    if kind is not None:
        ranked = next((one for one in assessment.causes if repair_kind(one.id) == kind), ranked)
    signs = {reason.sign: reason.decibans for reason in ranked.speaks_for}
    checks = [
        result
        for result in assessment.findings.results.values()
        if base.steps[result.step].kind == "check" and base.steps[result.step].sign in signs
    ]
    told = max(checks, key=lambda result: signs[base.steps[result.step].sign], default=None)
    likely = ranked.axle if ranked.axle and ranked.axles[ranked.axle] >= _SURE * ranked.probability else None
    draft = Outcome.model_validate(
        {
            "confirmed_cause": ranked.id,
            "axle": likely or ("unknown" if ranked.axles else "none"),
            "wheel": told.wheel if told else "unknown",
        }
    )
    return Closing(
        draft.confirmed_cause,
        draft.axle,
        draft.wheel,
        _first_sentence(told.words if told else None),
        " ".join(proof_sentences(case, base)),
        told.step if told else None,
        kind is None or takes_wheels_off(kind),
    )


def _first_sentence(words: str | None) -> str:
    """What was noted with the check, as far as it fits one line."""
    line = read_words(words)[1].strip().partition("\n")[0]
    return line.partition(". ")[0].removesuffix(".")[:_LINE]


def refusal(assessment: Assessment, base: RuleBase) -> str | None:
    """Why the case cannot be closed: the first open danger and the check that clears it; None when nothing is open."""
    for danger in assessment.dangers:
        if danger.status == "open":
            return f"A case with an open danger is not closed. {danger.says} {how_to_clear(danger, base)}"
    return None


def close(assessment: Assessment, closing: Closing, base: RuleBase, *, by: str | None, today: date) -> Case:
    """The case with its confirmed cause and proof, and with what falls due afterwards.

    Raises ValueError, with the check to make, while a danger is open; while it is not known what the last repair did;
    and when a place is longer than the form holds.
    """
    refused = refusal(assessment, base)
    if refused is not None:
        raise ValueError(refused)
    if stage_of(assessment.case) == "prove":
        raise ValueError(EFFECT_FIRST)
    outcome = Outcome(
        confirmed_cause=closing.cause,
        axle=closing.axle,
        wheel=closing.wheel,
        place=closing.place.strip() or None,
        proof=closing.proof.strip() or None,
        confirming_step=closing.confirming_step,
        by=by or None,
        at=now(),
    )
    due = [FollowUp(what="call-back", due=today + timedelta(days=_CALL_DAYS), note="Is the shake still gone?")]
    if closing.wheels_were_off:
        due.insert(
            0,
            FollowUp(
                what="check-torque",
                due=today + timedelta(days=_TORQUE_DAYS),
                note="After 50 to 100 km (common practice); the maker's torque.",
            ),
        )
    case = assessment.case
    return case.model_copy(update={"outcome": outcome, "follow_ups": [*case.follow_ups, *due]})


def _as_it_was(outcome: Outcome) -> str:
    """Everything that closing had written down, so that nothing of it is lost when the case is open again."""
    parts = [f"on {outcome.at:%Y-%m-%d}" if outcome.at else "", f"by {outcome.by}" if outcome.by else ""]
    parts += [said(one) for one in (outcome.axle, outcome.wheel) if one != "unknown"]
    parts += [outcome.place or "", f"with {said(outcome.secondary_cause)}" if outcome.secondary_cause else ""]
    parts += [f"settled by {said(outcome.confirming_step)}" if outcome.confirming_step else ""]
    told = ", ".join(part for part in parts if part) or "no more was written"
    return f"It had been closed: {told}. Proof: {outcome.proof or 'none was written down'}"


def reopen(case: Case, learned: str, *, came_back: bool = True) -> Case:
    """The case without its outcome; what was learned is kept, and what closing had written down stands in the notes.

    Where it `came_back` the last repair is now known not to have held; otherwise its effect stays as it was.

    A call that was still due has been answered by this; a torque check stays due. Raises ValueError for an open case
    and when nothing was learned.
    """
    if case.outcome is None:
        raise ValueError("the case is open already")
    if not learned.strip():
        raise ValueError("write what was learned: what is different from what the proof said")
    again = "reopened" if came_back else "opened again for something else"
    before = f"Closed as {case.outcome.confirmed_cause}, {again}: {learned.strip()}\n{_as_it_was(case.outcome)}"
    notes = f"{case.notes}\n{before}" if case.notes else before
    called = [one.model_copy(update={"done": True}) if one.what == "call-back" else one for one in case.follow_ups]
    reopened = case.model_copy(update={"outcome": None, "notes": notes, "follow_ups": called})
    return judge_repair(reopened, "came-back") if came_back and case.history.repairs else reopened
