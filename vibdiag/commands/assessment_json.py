"""The assessment as plain data. The keys are documented in README and kept stable."""

from __future__ import annotations

from typing import Any

from vibdiag.advice.assess import Assessment, RankedCause, Reason
from vibdiag.advice.next_step import RepairAdvice, StepAdvice

__all__ = ["assessment_data"]


def _round(value: float) -> float:
    return round(value, 6)


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "sign": reason.sign,
        "value": reason.word,
        "decibans": round(reason.decibans, 2),
        "because": reason.because,
        "trust": reason.trust,
    }


def _cause(cause: RankedCause) -> dict[str, Any]:
    return {
        "id": cause.id,
        "name": cause.name,
        "axle": cause.axle,
        "probability": _round(cause.probability),
        "at_work": _round(cause.at_work),
        "together": [{"id": other, "probability": _round(chance)} for other, chance in cause.together],
        "axles": {axle: _round(share) for axle, share in cause.axles.items()},
        "wheel": cause.wheel,
        "wheels": {wheel: _round(share) for wheel, share in cause.wheels.items()},
        "for": [_reason(reason) for reason in cause.speaks_for],
        "against": [_reason(reason) for reason in cause.speaks_against],
    }


def _step(advice: StepAdvice) -> dict[str, Any]:
    step = advice.step
    return {
        "id": step.id,
        "kind": step.kind,
        "title": step.title,
        "minutes": step.minutes,
        "gain_bits": _round(advice.gain_bits),
        "worth_bits": _round(advice.worth_bits),
        "clears": advice.clears,
        "ask": step.ask,
        "why": step.why,
        "who": list(step.who),
        "tools": list(step.tools),
        "caution": step.caution,
        "outcomes": [
            {
                "value": outcome.word,
                "says": outcome.says,
                "probability": _round(outcome.probability),
                "leaves": [{"id": cause, "probability": _round(share)} for cause, share in outcome.leaves],
            }
            for outcome in advice.outcomes
        ],
    }


def _repair(repair: RepairAdvice | None) -> dict[str, Any] | None:
    if repair is None:
        return None
    return {
        "cause": repair.cause,
        "probability": _round(repair.probability),
        "minutes": repair.minutes,
        "does": repair.does,
        "proof": repair.proof,
        "caution": repair.caution,
    }


def assessment_data(assessment: Assessment) -> dict[str, Any]:
    """causes, dangers, contradictions, next, repair, surprise, signs: lists sorted as they are shown."""
    return {
        "case": assessment.case.id,
        "invented": assessment.case.invented,
        "undecided": assessment.undecided,
        "stands_still": assessment.stands_still,
        "causes": [_cause(cause) for cause in assessment.causes],
        "dangers": [
            {
                "cause": danger.cause,
                "says": danger.says,
                "because": list(danger.because),
                "probability": _round(danger.probability),
                "clear_with": danger.clear_with,
                "status": danger.status,
            }
            for danger in assessment.dangers
        ],
        "contradictions": [{"id": clash.id, "says": clash.says, "ask": clash.ask} for clash in assessment.clashes],
        "next": [_step(advice) for advice in assessment.next],
        "repair": _repair(assessment.repair),
        "surprise": {
            "bits": _round(assessment.surprise.bits),
            "expected_bits": _round(assessment.surprise.expected_bits),
            "score": _round(assessment.surprise.score),
            "verdict": assessment.surprise.verdict,
        },
        "signs": {item.sign: item.word for item in assessment.belief.evidence},
        "excluded": sorted(assessment.belief.excluded),
    }
