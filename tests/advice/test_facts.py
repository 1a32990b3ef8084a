"""From a case to facts: every declared name can be produced, units are converted once, free text never gets through."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, Literal, get_args, get_origin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from vibdiag.advice.facts import FACTS, facts_of
from vibdiag.case.model import Balance, Case, Complaint, Conditions, History, Seen, SpeedTold, Tyres, Vehicle
from vibdiag.case.vocabulary import EventKind, Noise, Place, ReadOn, RepairEffect, RepairKind

CaseOf = Callable[..., Case]
Parts = dict[str, Any]
# One kind of part turns as the other at every speed (3x wheel and 3x halfshaft), or is no turning part at all: a
# measured frequency alone never says so, only a road observation does.
NEVER_FROM_A_FREQUENCY = {("frequency-follows", "halfshaft-3x"), ("frequency-follows", "fixed-frequency")}


def each_word(model: type[BaseModel], *path: str) -> Iterator[Parts]:
    """The parts of a case with one field of `model` told, for every word it can have."""
    for name, field in model.model_fields.items():
        if get_origin(field.annotation) is Literal:
            for word in get_args(field.annotation):
                told: Parts = {name: word}
                for step in reversed(path):
                    told = {step: told}
                yield told


def runouts() -> Iterator[Parts]:
    for quantity in (
        "tread-radial-runout",
        "tread-lateral-runout",
        "rim-radial-runout",
        "rim-lateral-runout",
        "hub-face-runout",
        "hub-pilot-runout",
        "disc-runout",
        "disc-thickness-variation",
        "propshaft-runout",
    ):
        for limit in (0.5, 1.5):
            yield {"measurements": [{"quantity": quantity, "value": 1.0, "unit": "mm", "limit": limit}]}
    for limit in (50.0, 150.0):
        force = {"quantity": "radial-force-variation", "value": 100.0, "unit": "N", "limit": limit}
        yield {"measurements": [force]}
    heat = {"quantity": "brake-temperature", "unit": "C"}
    yield {"measurements": [{**heat, "value": 200.0}, {**heat, "value": 60.0}]}


def rounds() -> Iterator[Parts]:
    """Twelve places of pure eccentricity, far over and far under any limit; a wheel moved on its studs; mountings."""
    wave = [math.cos(math.radians(30.0 * place)) for place in range(12)]
    for what in get_args(ReadOn):
        unit, middle = ("N", 0.0) if what == "radial-force" else ("mm", 25.0 if what == "disc-thickness" else 0.0)
        for size, resolution in ((300.0 if unit == "N" else 3.0, 0.01), (0.001, 0.0005)):
            values = [middle + size * each for each in wave]
            yield {"readings": [{"what": what, "unit": unit, "values": values, "resolution": resolution}]}
    far = [math.cos(math.radians(30.0 * place + 180.0)) for place in range(12)]
    for second in (wave, far, [0.0] * 12):  # counted from the valve: the same again is the wheel's
        yield {
            "readings": [
                {"what": "tread-radial", "values": wave},
                {"what": "tread-radial", "values": second, "moved_deg": 180.0},
            ]
        }
    for angle in (90.0, 270.0):
        shown = {"wheel": "front-left", "inner_amount": 20.0, "display_step": 1.0}
        mounted = [{**shown, "inner_deg": 90.0, "shaft_deg": 0.0}, {**shown, "inner_deg": angle, "shaft_deg": 180.0}]
        yield {"balance_readings": mounted}


def frequencies() -> Iterator[Parts]:
    """At a true 100 km/h on 2 m of circumference or so the wheel turns some 14 times a second."""
    vehicle = {
        "driven": "rear",
        "engine_placement": "longitudinal",
        "power": "combustion",
        "axle_ratio": 5.5,
        "engine_rpm": 2000,
        "cylinders": 4,
        "tyres": {"front": "205/55R16"},
    }
    speed = {"worst": 100, "read_from": "gps"}
    for hz in (14.4, 28.8, 79.3, 158.5, 33.3):
        measurement = {"quantity": "frequency", "value": hz, "unit": "Hz"}
        yield {"vehicle": vehicle, "complaint": {"speed": speed}, "measurements": [measurement]}


def telling_cases() -> Iterator[Parts]:
    yield from each_word(Vehicle, "vehicle")
    yield from each_word(Tyres, "vehicle", "tyres")
    yield from each_word(Complaint, "complaint")
    yield from each_word(SpeedTold, "complaint", "speed")
    yield from each_word(Conditions, "complaint", "conditions")
    yield from each_word(History, "history")
    yield from each_word(Balance, "history", "balance")
    yield from each_word(Seen, "seen")
    yield {"vehicle": {"driven": "rear", "engine_placement": "longitudinal", "power": "combustion"}}
    yield {"complaint": {"speed": {"starts": 80, "worst": 100, "fades": 120}, "beat_period_s": 4.0}}
    yield from ({"complaint": {"felt_at": [place]}} for place in get_args(Place))
    yield from ({"complaint": {"noise": [noise]}} for noise in get_args(Noise))
    for event in get_args(EventKind):
        yield {"history": {"events": [{"what": event, "ago_days": 2}]}}
        yield {"history": {"not_happened": [event]}}
    yield {"vehicle": {"odometer_km": 84_000}}
    yield {"history": {"balance": {"times": 3, "found_g": 25.0, "display_step_g": 5.0}}}
    for kind in get_args(RepairKind):
        for effect in get_args(RepairEffect):
            yield {"history": {"repairs": [{"what": kind, "effect": effect}]}}
    yield from runouts()
    yield from rounds()
    yield from frequencies()


def test_every_declared_fact_can_come_from_a_case(case_of: CaseOf) -> None:
    produced = {(name, value) for told in telling_cases() for name, value in facts_of(case_of(**told)).items()}
    names = {name for name, _ in produced}
    assert names == set(FACTS)
    declared = {(name.name, word) for name in FACTS.values() for word in name.words}
    assert declared - produced == NEVER_FROM_A_FREQUENCY


def test_no_case_produces_anything_that_is_not_declared(case_of: CaseOf) -> None:
    for told in telling_cases():
        for name, value in facts_of(case_of(**told)).items():
            if FACTS[name].is_number:
                assert isinstance(value, (int, float)), name
                assert not isinstance(value, bool), name
            else:
                assert value in FACTS[name].words, name


def test_nothing_said_and_everything_unknown_are_no_facts(case_of: CaseOf) -> None:
    unknown: Parts = {
        "vehicle": {"tyres": {}},
        "complaint": {"speed": {}, "conditions": {}},
        "history": {"balance": {}},
    }
    for told in telling_cases():
        for part, fields in told.items():
            if isinstance(fields, dict):
                write_unknown(fields, unknown.setdefault(part, {}))
    unknown["complaint"]["felt_at"] = ["unknown"]
    unknown["history"]["repairs"] = [{"what": "brake-work", "effect": "unknown"}]
    assert unknown["seen"]["tyre"] == unknown["complaint"]["conditions"]["braking"] == "unknown"
    assert facts_of(case_of(**unknown)) == facts_of(case_of()) == {}


def write_unknown(fields: Parts, into: Parts) -> None:
    for name, value in fields.items():
        if value == "unknown":
            into[name] = value
        elif isinstance(value, dict):
            write_unknown(value, into.setdefault(name, {}))


def test_miles_an_hour_become_kilometres_an_hour(case_of: CaseOf) -> None:
    """1 mile is 1.609344 km exactly (international yard and pound agreement, 1959)."""
    facts = facts_of(case_of(complaint={"speed": {"unit": "mph", "starts": 50, "worst": 60, "fades": 70}}))
    assert facts["starts-kmh"] == pytest.approx(80.4672)
    assert facts["worst-kmh"] == pytest.approx(96.56064)
    assert facts["fades-kmh"] == pytest.approx(112.65408)
    assert facts["band-kmh"] == pytest.approx(20 * 1.609344)


@pytest.mark.parametrize(
    ("measurement", "fact", "value"),
    [
        ({"quantity": "tread-radial-runout", "value": 60.0, "unit": "thou"}, "tread-radial-mm", 1.524),
        ({"quantity": "rim-lateral-runout", "value": 0.03, "unit": "in"}, "rim-lateral-mm", 0.762),
        ({"quantity": "hub-face-runout", "value": 0.05, "unit": "mm"}, "hub-face-mm", 0.05),
        # 1 lbf is 4.4482216152605 N exactly.
        ({"quantity": "radial-force-variation", "value": 30.0, "unit": "lbf"}, "radial-force-n", 133.4466),
    ],
)
def test_measurements_are_converted(case_of: CaseOf, measurement: Parts, fact: str, value: float) -> None:
    assert facts_of(case_of(measurements=[measurement]))[fact] == pytest.approx(value, rel=1e-6)


def reading(value: float, *, limit: float | None = None, taken: str = "unknown", unit: str = "mm") -> Parts:
    return {"quantity": "tread-radial-runout", "value": value, "unit": unit, "limit": limit, "taken": taken}


def test_the_largest_reading_over_the_wheels_counts_whatever_its_unit(case_of: CaseOf) -> None:
    readings = [reading(0.4), reading(60.0, unit="thou"), reading(-1.2)]
    for order in (readings, readings[::-1]):
        assert facts_of(case_of(measurements=order))["tread-radial-mm"] == pytest.approx(1.524)
    below_zero = [reading(0.4), reading(-1.2)]
    assert facts_of(case_of(measurements=below_zero))["tread-radial-mm"] == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("readings", "verdict"),
    [
        ([reading(0.9, limit=1.0)], "within"),
        ([reading(1.1, limit=1.0)], "over"),
        ([reading(-1.1, limit=1.0)], "over"),
        ([reading(0.9, limit=1.0), reading(1.1, limit=1.0)], "over"),
        ([reading(0.9, limit=1.0), reading(0.5)], None),  # one wheel has no limit to be judged by
        ([reading(0.5)], None),
    ],
)
def test_the_makers_limit_is_applied_in_its_own_unit(
    case_of: CaseOf, readings: list[Parts], verdict: str | None
) -> None:
    assert facts_of(case_of(measurements=readings)).get("tread-radial-against-maker") == verdict


def test_a_reading_after_the_repair_says_nothing_of_the_complaint(case_of: CaseOf) -> None:
    before, after = reading(1.8, limit=1.0), reading(0.3, limit=1.0, taken="after")
    assert facts_of(case_of(measurements=[before, after])) == facts_of(case_of(measurements=[before]))
    assert facts_of(case_of(measurements=[after])) == {}


def test_one_brake_is_hotter_by_the_gap_to_the_next(case_of: CaseOf) -> None:
    heat = [{"quantity": "brake-temperature", "value": value, "unit": "C"} for value in (55.0, 210.0, 60.0, 58.0)]
    assert facts_of(case_of(measurements=heat))["one-brake-hotter-c"] == pytest.approx(150.0)
    assert "one-brake-hotter-c" not in facts_of(case_of(measurements=heat[1:2]))


def test_where_it_is_felt(case_of: CaseOf) -> None:
    facts = facts_of(case_of(complaint={"felt_at": ["seat", "seat", "unknown"], "strongest": "floor"}))
    assert facts["places-felt"] == 2
    assert facts["felt-seat"] == facts["felt-floor"] == "yes"
    assert facts["felt-brake-pedal"] == "no"


def test_noises_are_denied_only_when_none_was_said(case_of: CaseOf) -> None:
    """A customer who names one noise was not asked about the others."""
    assert facts_of(case_of(complaint={"noise": ["click"]})) == {"hears-click": "yes"}
    denied = facts_of(case_of(complaint={"noise": ["none"]}))
    assert set(denied.values()) == {"no"}
    assert len(denied) == len(get_args(Noise)) - 1


def test_the_most_recent_time_the_wheels_were_off_counts(case_of: CaseOf) -> None:
    off = [{"what": "wheels-off", "ago_days": days} for days in (200.0, 4.0, 90.0)]
    facts = facts_of(case_of(history={"events": [*off, {"what": "wheels-off"}], "not_happened": ["wheels-off"]}))
    assert facts == {"had-wheels-off": "yes", "wheels-off-days": 4.0}


@pytest.mark.parametrize(
    ("events", "days"),
    [
        ([("new-tyres", 900.0), ("brake-work", 12.0)], {"wheel-work-days": 12.0}),
        ([("engine-work", 700.0)], {"engine-work-days": 700.0}),
        ([("new-tyres", 900.0), ("rotation", None)], {}),
        ([("pothole-or-kerb", 3.0)], {}),
    ],
)
def test_the_youngest_work_of_a_kind_gives_its_age_and_only_if_all_of_it_is_dated(
    case_of: CaseOf, events: list[tuple[str, float | None]], days: Parts
) -> None:
    """What was done at an unknown time may be the youngest."""
    facts = facts_of(case_of(history={"events": [{"what": what, "ago_days": ago} for what, ago in events]}))
    assert {name: value for name, value in facts.items() if name.endswith("-work-days")} == days


def test_the_last_report_of_a_repair_counts_and_an_unknown_one_is_none(case_of: CaseOf) -> None:
    reports = [{"what": "balance", "effect": effect} for effect in ("none", "better", "unknown") if effect != "better"]
    assert facts_of(case_of(history={"repairs": reports})) == {"tried-balance": "none"}
    later = [*reports, {"what": "balance", "effect": "worse"}]
    assert facts_of(case_of(history={"repairs": later})) == {"tried-balance": "worse"}


SECRET = "loose-wheel, steering-wheel, 100 km/h: it's the propshaft"


@settings(max_examples=50)
@given(words=st.text(min_size=1, max_size=60) | st.just(SECRET) | st.sampled_from(sorted(FACTS)))
def test_free_text_never_becomes_a_fact(case_of: CaseOf, words: str) -> None:
    silent: Parts = {
        "vehicle": {"driven": "front"},
        "complaint": {"strongest": "seat"},
        "history": {"events": [{"what": "balance"}], "repairs": [{"what": "alignment", "effect": "none"}]},
        "measurements": [{"quantity": "hub-face-runout", "value": 0.1, "unit": "mm"}],
    }
    spoken: Parts = {
        "title": words,
        "notes": words,
        "source": words,
        "opened_by": words,
        "vehicle": {**silent["vehicle"], "description": words},
        "complaint": {**silent["complaint"], "words": words},
        "history": {
            "events": [{"what": "balance", "note": words}],
            "repairs": [{"what": "alignment", "effect": "none", "by": words, "note": words}],
        },
        "seen": {"note": words},
        "measurements": [{**silent["measurements"][0], "by": words, "note": words}],
        "steps": [{"step": "ask-where", "outcome": "unknown", "words": words, "by": words}],
        "outcome": {"confirmed_cause": "loose-wheel", "place": words, "proof": words},
    }
    assert facts_of(case_of(**spoken)) == facts_of(case_of(**silent))
