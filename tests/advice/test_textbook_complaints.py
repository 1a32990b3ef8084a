"""One plain textbook complaint for each cause, as a handbook would tell it: the cause it describes is found.

All complaints are invented, and what each is the picture of is common practice with no published source. They hold what
a customer tells at the desk, before anything is measured. Where two causes tell the same story at the desk, the second
place is the honest one; the bay tells them apart.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.case.model import Case

CaseOf = Callable[..., Case]
Parts = dict[str, Any]

FRONT: Parts = {"strongest": "steering-wheel", "seems_from": "front"}
STEADY: Parts = {"braking": "unchanged", "accelerating": "unchanged", "constant_speed": "brings"}
LOADED: Parts = {"accelerating": "brings", "coasting": "eases", "constant_speed": "eases"}
AT_SPEED: Parts = {"starts": 85, "worst": 110}


def told(
    vehicle: Parts | None = None,
    speed: Parts | None = None,
    conditions: Parts | None = None,
    history: Parts | None = None,
    seen: Parts | None = None,
    steps: dict[str, str] | None = None,
    **complaint: Any,
) -> Parts:
    """The parts of a case; `steps` are answers to questions."""
    return {
        "vehicle": vehicle or {},
        "complaint": {**complaint, "speed": speed or {}, "conditions": conditions or {}},
        "history": history or {},
        "seen": seen or {},
        "steps": [{"step": step, "outcome": outcome} for step, outcome in (steps or {}).items()],
    }


def events(*kinds: str, days: float | None = None) -> Parts:
    return {"events": [{"what": kind, **({} if days is None else {"ago_days": days})} for kind in kinds]}


def kept(history: Parts, **more: Any) -> Parts:
    return {**history, **more}


# Cause, or cause and the way in which it shows itself -> (complaint, place that it must reach).
TEXTBOOK: dict[str, tuple[Parts, int]] = {
    "residual-imbalance": (
        told(
            speed=AT_SPEED, conditions=STEADY, growth="sudden", rhythm="steady", seen={"weight_missing": "yes"}, **FRONT
        ),
        1,
    ),
    "debris-in-wheel": (
        told(speed=AT_SPEED, conditions=STEADY, growth="sudden", history=events("mud-snow-or-wash", days=0), **FRONT),
        1,
    ),
    "balanced-off-centre": (
        told(
            speed=AT_SPEED,
            conditions=STEADY,
            growth="stable",
            rhythm="steady",
            history=kept(
                events("new-tyres", "balance", days=20),
                balance={"times": 2, "effect": "none", "centring": "doubtful", "repeats_on_remount": "no"},
            ),
            **FRONT,
        ),
        1,
    ),
    "hub-centring-error": (
        told(
            vehicle={"wheels_not_original": "yes"},
            speed=AT_SPEED,
            conditions=STEADY,
            growth="stable",
            rhythm="steady",
            history=kept(events("other-wheels", days=40), balance={"times": 2, "effect": "none", "needed": "little"}),
            steps={"ask-came": "first-drive"},
            **FRONT,
        ),
        1,
    ),
    "loose-wheel": (
        told(
            conditions=STEADY,
            growth="days",
            severity="violent",
            noise=["clunk"],
            history=events("wheels-off", days=3),
            steps={"ask-came": "after-some-driving"},
            **FRONT,
        ),
        1,
    ),
    "bent-rim": (
        told(
            speed=AT_SPEED,
            conditions=STEADY,
            growth="sudden",
            rhythm="steady",
            history=events("pothole-or-kerb", days=0),
            steps={"ask-how-many-wheels": "one"},
            **FRONT,
        ),
        1,
    ),
    "tyre-runout": (
        told(
            speed={"starts": 40, "worst": 80},
            conditions=STEADY,
            growth="stable",
            rhythm="once-per-turn",
            direction="up-down",
            history=kept(events("new-tyres", days=10), balance={"times": 2, "effect": "none"}),
            steps={"ask-came": "first-drive"},
        ),
        1,
    ),
    "tyre-force-variation": (
        told(
            speed=AT_SPEED,
            conditions=STEADY,
            growth="stable",
            rhythm="steady",
            direction="up-down",
            history=kept(
                events("new-tyres", days=10),
                balance={"times": 3, "effect": "none", "centring": "true-bore", "repeats_on_remount": "yes"},
                axle_swap="moved",
            ),
            steps={"ask-came": "first-drive", "bay-tread-radial": "within", "bay-balance-audit": "in-balance"},
        ),
        1,
    ),
    "tyre-belt-damage": (
        told(
            vehicle={"tyres": {"old_or_used": "yes"}},
            speed={"pattern": "slow-worst"},
            conditions=STEADY,
            growth="days",
            rhythm="once-per-turn",
            noise=["thump-or-slap"],
        ),
        1,
    ),
    "tyre-belt-damage that the customer saw nothing of": (
        told(
            vehicle={"tyres": {"old_or_used": "yes"}},
            speed=AT_SPEED,
            conditions=STEADY,
            growth="days",
            rhythm="once-per-turn",
            noise=["thump-or-slap"],
            seen={"tyre": "nothing"},
        ),
        1,
    ),
    "tyre-flat-spot": (
        told(
            conditions={**STEADY, "cold": "brings", "warm": "eases"},
            growth="sudden",
            rhythm="once-per-turn",
            history=events("long-standing", days=0),
            steps={"ask-how-many-wheels": "several"},
        ),
        1,
    ),
    "tyre-uneven-wear": (
        told(
            vehicle={"tyres": {"old_or_used": "yes"}},
            speed={"pattern": "from-slow"},
            conditions=STEADY,
            growth="slow",
            noise=["hum-or-growl"],
            seen={"tyre": "cupped-or-worn"},
        ),
        1,
    ),
    "tyre-mismatch": (
        told(
            conditions=STEADY,
            growth="sudden",
            pull="yes",
            wanders="yes",
            history=events("other-wheels", "new-tyres", days=5),
            steps={"ask-came": "first-drive"},
        ),
        1,
    ),
    "tyre-mismatch that binds": (
        told(
            vehicle={"driven": "all"},
            speed={"pattern": "slow-worst"},
            conditions={"turning_left": "brings", "turning_right": "brings"},
            growth="sudden",
            sluggish="yes",
            history=events("new-tyres", days=5),
            steps={"ask-lock": "full-lock", "ask-came": "first-drive"},
        ),
        1,
    ),
    "hub-runout": (
        told(
            speed=AT_SPEED,
            conditions=STEADY,
            rhythm="steady",
            growth="sudden",
            pull="no",
            wanders="no",
            history=kept(
                events("pothole-or-kerb", days=2),
                balance={"times": 2, "effect": "none"},
                axle_swap="no-change",
                known_good_wheels="stays",
            ),
            **FRONT,
        ),
        1,
    ),
    "wheel-bearing": (
        told(
            speed={"pattern": "from-slow"},
            conditions={**STEADY, "turning_left": "worsens", "turning_right": "eases"},
            growth="slow",
            noise=["hum-or-growl"],
            shake="no",
        ),
        1,
    ),
    "steering-suspension-play that wobbles": (
        told(
            vehicle={"solid_front_axle": "yes"},
            conditions={"rough_road": "brings"},
            rhythm="bursts",
            severity="violent",
            direction="steering-rotates",
            **FRONT,
        ),
        1,
    ),
    "steering-suspension-play that is worn": (
        told(
            speed=AT_SPEED,
            conditions={"accelerating": "unchanged", "constant_speed": "brings"},
            growth="slow",
            wanders="yes",
            noise=["clunk"],
            steps={"ask-knock": "bumps"},
            **FRONT,
        ),
        1,
    ),
    "damper-worn": (
        told(
            conditions={"accelerating": "unchanged", "smooth_road": "eases"},
            growth="slow",
            direction="up-down",
            rhythm="bursts",
            keeps_bouncing="yes",
            steps={"ask-quickness": "sway"},
        ),
        1,
    ),
    "alignment-fault": (
        told(
            conditions=STEADY,
            growth="stable",
            pull="yes",
            wanders="yes",
            history=events("alignment", "suspension-work", days=20),
            seen={"tyre": "cupped-or-worn"},
            **FRONT,
        ),
        1,
    ),
    "brake-disc-variation": (
        told(
            speed={"pattern": "fast"},
            conditions={"braking": "brings", "constant_speed": "eases"},
            growth="slow",
            strongest="steering-wheel",
        ),
        1,
    ),
    "brake-disc-variation at the rear": (
        told(
            conditions={"braking": "brings", "constant_speed": "eases", "parking_brake": "brings"},
            growth="slow",
            strongest="seat",
            seems_from="rear",
        ),
        1,
    ),
    "brake-drag": (
        told(
            conditions={"warm": "brings", "constant_speed": "brings"},
            growth="sudden",
            pull="yes",
            sluggish="yes",
            heat_or_smell="yes",
        ),
        1,
    ),
    "propshaft-imbalance": (
        told(
            vehicle={"driven": "rear"},
            speed={"starts": 80, "worst": 105},
            conditions=STEADY,
            growth="sudden",
            rhythm="steady",
            strongest="floor",
            seems_from="middle",
            history=events("driveline-work", days=3),
            steps={"ask-driveline-part": "propshaft", "ask-came": "first-drive", "ask-quickness": "buzz"},
        ),
        1,
    ),
    "propshaft-joint that is worn": (
        told(
            vehicle={"driven": "rear"},
            conditions={"accelerating": "brings", "pulling_away": "brings", "loaded": "worsens"},
            growth="slow",
            noise=["clunk"],
            strongest="floor",
            seems_from="middle",
            steps={"ask-knock": "load-change"},
        ),
        1,
    ),
    "propshaft-joint at a wrong angle": (
        told(
            vehicle={"driven": "rear"},
            conditions={"accelerating": "brings", "pulling_away": "brings", "loaded": "worsens"},
            growth="stable",
            strongest="floor",
            seems_from="middle",
            history=events("suspension-work", days=10),
            steps={"ask-raised": "yes", "ask-came": "first-drive"},
        ),
        1,
    ),
    "propshaft-centre-bearing": (
        told(
            vehicle={"driven": "rear"},
            speed={"pattern": "slow-worst"},
            conditions={
                "pulling_away": "brings",
                "accelerating": "brings",
                "constant_speed": "eases",
                "loaded": "worsens",
            },
            growth="slow",
            noise=["boom", "thump-or-slap"],
            strongest="floor",
            seems_from="middle",
        ),
        1,
    ),
    "inner-drive-joint": (
        told(
            vehicle={"driven": "front"},
            conditions={**LOADED, "loaded": "worsens"},
            growth="slow",
            direction="side-to-side",
            steps={"ask-pedal": "more-is-worse"},
        ),
        1,
    ),
    "outer-drive-joint": (
        told(
            vehicle={"driven": "front"},
            conditions={"turning_left": "brings", "turning_right": "brings"},
            growth="slow",
            noise=["click"],
            steps={"ask-lock": "full-lock"},
        ),
        1,
    ),
    "halfshaft-bent": (
        told(
            vehicle={"driven": "rear"},
            speed={"pattern": "from-slow"},
            conditions=STEADY,
            growth="sudden",
            seems_from="rear",
            history=kept(events("blow-underneath", days=0), axle_swap="no-change", known_good_wheels="stays"),
            seen={"wheel_wobbles": "yes"},
        ),
        1,
    ),
    "final-drive": (
        told(
            vehicle={"driven": "rear"},
            conditions={"coasting": "brings", "constant_speed": "brings"},
            growth="slow",
            noise=["whine", "hum-or-growl"],
            seems_from="rear",
            steps={"ask-leak": "oil-at-axle-or-wheel"},
        ),
        1,
    ),
    "converter-or-clutch-judder: converter": (
        told(
            vehicle={"gearbox": "automatic"},
            speed={"starts": 40, "fades": 56},
            conditions={"accelerating": "brings", "coasting": "eases", "warm": "brings", "clutch_or_lockup": "eases"},
            growth="slow",
            direction="fore-aft",
            steps={"ask-pedal": "light-only"},
        ),
        1,
    ),
    "converter-or-clutch-judder: clutch": (
        told(
            vehicle={"gearbox": "manual"},
            conditions={"pulling_away": "brings", "constant_speed": "eases"},
            growth="slow",
            direction="fore-aft",
            steps={"ask-clutch-pedal": "letting-in"},
        ),
        1,
    ),
    "engine-rough-running at idle": (
        told(
            conditions={"idle": "brings", "idle_out_of_gear": "unchanged"},
            growth="sudden",
            rhythm="bursts",
            sluggish="yes",
            warning_lamp="yes",
            tracks="engine-speed",
        ),
        1,
    ),
    "engine-rough-running that dipping the clutch stops": (
        told(
            vehicle={"gearbox": "manual"},
            conditions={**LOADED, "clutch_or_lockup": "eases"},
            rhythm="bursts",
            sluggish="yes",
            warning_lamp="yes",
        ),
        1,
    ),
    "powertrain-mount": (
        told(
            conditions={"idle": "brings", "idle_out_of_gear": "eases", "accelerating": "brings"},
            growth="slow",
            noise=["clunk"],
            seen={"engine_rocks": "yes"},
        ),
        1,
    ),
    "powertrain-mount that is quiet at idle": (
        told(
            vehicle={"driven": "front"},
            conditions={"idle": "eases", "accelerating": "brings", "pulling_away": "brings"},
            growth="slow",
            noise=["clunk"],
            steps={"ask-knock": "load-change"},
            seen={"engine_rocks": "yes"},
        ),
        1,
    ),
    "accessory-or-exhaust": (
        told(
            conditions={"idle": "brings", "constant_speed": "brings"},
            growth="sudden",
            same_engine_speed="yes",
            noise=["rattle-or-buzz"],
            history=events("engine-work", days=2),
        ),
        1,
    ),
    "aerodynamic": (
        told(
            speed={"pattern": "very-fast"},
            conditions={**STEADY, "windows_or_wind": "worsens"},
            growth="stable",
            history=events("outside-part-fitted", days=1),
        ),
        1,
    ),
    "road-or-normal": (
        told(
            conditions={"certain_roads": "brings", "smooth_road": "eases"},
            growth="stable",
            severity="slight",
            same_in_another_car="yes",
        ),
        1,
    ),
}


def cause_of(name: str) -> str:
    return name.replace(":", "").split()[0]


def place_of(assessment: Assessment, cause: str) -> int:
    return [ranked.id for ranked in assessment.causes].index(cause) + 1


@pytest.mark.parametrize("name", TEXTBOOK)
def test_the_textbook_cause_is_found(adviser: Adviser, case_of: CaseOf, name: str) -> None:
    complaint, place = TEXTBOOK[name]
    assert place <= 2
    assert place_of(adviser.assess(case_of(**complaint)), cause_of(name)) <= place


def test_each_cause_has_its_complaint(adviser: Adviser) -> None:
    assert {cause_of(name) for name in TEXTBOOK} == set(adviser.base.causes) - {"not-in-rule-base"}


def test_no_textbook_complaint_contradicts_itself(adviser: Adviser, case_of: CaseOf) -> None:
    clashes = {name: adviser.assess(case_of(**complaint)).clashes for name, (complaint, _) in TEXTBOOK.items()}
    assert {name: found for name, found in clashes.items() if found} == {}


def test_no_more_than_about_half_of_them_show_a_danger(adviser: Adviser, case_of: CaseOf) -> None:
    """A danger that is always shown is read by nobody."""
    shown = [name for name, (complaint, _) in TEXTBOOK.items() if adviser.assess(case_of(**complaint)).dangers]
    assert len(shown) <= 0.55 * len(TEXTBOOK)
