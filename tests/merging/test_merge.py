"""Two people on one case: what is merged, what is a conflict, and the laws any three-way merge must obey."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.store.conftest import case_of
from vibdiag.case.model import Case
from vibdiag.merging.conflict import Conflict
from vibdiag.merging.differ import changes
from vibdiag.merging.match import IDENTITY, ONE_OF_EACH, WHOLE
from vibdiag.merging.merge import merge
from vibdiag.merging.plain import case_of as read_plain
from vibdiag.merging.plain import plain

T1, T2, T3 = "2026-03-09T08:00:00Z", "2026-03-09T09:00:00Z", "2026-03-09T10:00:00Z"


def data(**parts: Any) -> dict[str, Any]:
    return plain(case_of(**parts))


def merged(base: dict[str, Any], yours: dict[str, Any], theirs: dict[str, Any]) -> dict[str, Any]:
    found = merge(data(**base), data(**yours), data(**theirs))
    assert found.conflicts == ()
    return found.data


def conflicts(base: dict[str, Any], yours: dict[str, Any], theirs: dict[str, Any]) -> list[str]:
    return [one.field for one in merge(data(**base), data(**yours), data(**theirs)).conflicts]


def step(name: str, outcome: str, **more: Any) -> dict[str, Any]:
    return {"step": name, "outcome": outcome, **more}


def runout(value: float, **more: Any) -> dict[str, Any]:
    return {"quantity": "tread-radial-runout", "value": value, "unit": "mm", "wheel": "front-left", **more}


def test_each_field_goes_to_whoever_changed_it() -> None:
    both = merged(
        {"title": "old", "complaint": {"rhythm": "steady"}},
        {"title": "yours", "complaint": {"rhythm": "steady"}},
        {"title": "old", "complaint": {"rhythm": "bursts", "pull": "no"}, "notes": "theirs"},
    )
    assert both == data(title="yours", complaint={"rhythm": "bursts", "pull": "no"}, notes="theirs")


def test_a_true_conflict_names_field_and_all_three_values() -> None:
    found = merge(data(title="old"), data(title="yours"), data(title="theirs"))
    assert found.conflicts == (Conflict("title", "old", "yours", "theirs"),)


def test_the_same_change_by_both_is_none() -> None:
    assert merged({}, {"title": "new", "notes": "a"}, {"title": "new"}) == data(title="new", notes="a")


def test_taking_a_field_out_and_changing_it_is_a_conflict() -> None:
    assert conflicts({"notes": "old"}, {}, {"notes": "new"}) == ["notes"]


def test_answers_to_different_steps_are_all_kept_in_order() -> None:
    found = merged(
        {"steps": [step("ask-where", "seat")]},
        {"steps": [step("ask-where", "seat"), step("ask-growth", "slow")]},
        {"steps": [step("ask-where", "seat"), step("road-brake", "unchanged")]},
    )
    assert [one["step"] for one in found["steps"]] == ["ask-where", "road-brake", "ask-growth"]


def test_the_same_step_answered_differently_is_a_conflict() -> None:
    """Also when nobody had answered it before, and whatever else is signed with it."""
    mine = {"steps": [step("ask-where", "seat", by="Ada", at=T1)]}
    other = {"steps": [step("ask-where", "steering-wheel", by="Bo", at=T2)]}
    assert conflicts({}, mine, other) == ["steps[ask-where].outcome"]


def test_the_same_step_answered_alike_is_one_answer() -> None:
    mine = {"steps": [step("ask-where", "seat", by="Ada", at=T1)]}
    other = {"steps": [step("ask-where", "seat", by="Bo", at=T2)]}
    assert merged({}, mine, other) == data(**other)


def test_two_signed_answers_are_never_mixed() -> None:
    """One's outcome with the other's wheel, under one name, is what nobody said."""
    base = {"steps": [step("bay-seat-face", "clean", by="Cy", at=T1)]}
    mine = {"steps": [step("bay-seat-face", "dirty-or-off", by="Ada", at=T2)]}
    other = {"steps": [step("bay-seat-face", "clean", wheel="front-left", by="Bo", at=T3)]}
    assert conflicts(base, mine, other) == ["steps[bay-seat-face].outcome", "steps[bay-seat-face].wheel"]


def test_before_and_after_the_repair_are_two_answers() -> None:
    found = merged(
        {}, {"steps": [step("road-brake", "unchanged")]}, {"steps": [step("road-brake", "gone", taken="after")]}
    )
    assert len(found["steps"]) == 2


def test_a_step_answered_again_goes_to_the_end_with_the_other_changes_kept() -> None:
    found = merged(
        {"steps": [step("ask-where", "seat"), step("ask-growth", "slow")]},
        {"steps": [step("ask-growth", "slow"), step("ask-where", "floor")]},
        {"steps": [step("ask-where", "seat"), step("ask-growth", "slow"), step("road-brake", "unchanged")]},
    )
    assert [(one["step"], one["outcome"]) for one in found["steps"]] == [
        ("ask-growth", "slow"),
        ("road-brake", "unchanged"),
        ("ask-where", "floor"),
    ]


def test_a_step_withdrawn_and_changed_is_a_conflict() -> None:
    base = {"steps": [step("ask-where", "seat")]}
    changed = {"steps": [step("ask-where", "floor")]}
    assert conflicts(base, {}, changed) == ["steps[ask-where]"]
    assert conflicts(base, changed, {}) == ["steps[ask-where]"]


def test_what_two_people_measured_stands_twice() -> None:
    found = merged({}, {"measurements": [runout(1.3)]}, {"measurements": [runout(1.2)]})
    assert sorted(one["value"] for one in found["measurements"]) == [1.2, 1.3]


def test_one_measurement_corrected_by_both_is_a_conflict() -> None:
    base, mine, other = ({"measurements": [runout(value)]} for value in (1.3, 1.4, 1.5))
    assert conflicts(base, mine, other) == [
        "measurements[tread-radial-runout, front-left].value",
    ]


def test_a_unit_and_its_number_belong_together() -> None:
    base = {"complaint": {"speed": {"starts": 60}}}
    mine = {"complaint": {"speed": {"starts": 60, "unit": "mph"}}}
    other = {"complaint": {"speed": {"starts": 60, "worst": 110}}}
    assert conflicts(base, mine, other) == ["complaint.speed"]
    assert conflicts(base, other, mine) == ["complaint.speed"]


def test_the_speed_of_a_new_measurement_belongs_to_the_unit_of_the_complaint() -> None:
    mine = {"complaint": {"speed": {"unit": "mph"}}}
    other = {"measurements": [{"quantity": "frequency", "value": 14, "unit": "Hz", "speed": 100}]}
    assert conflicts({}, mine, other) == ["complaint.speed.unit"]
    assert conflicts({}, other, mine) == ["complaint.speed.unit"]


def test_sound_alone_and_not_together_is_a_conflict() -> None:
    base = {"complaint": {"speed": {"starts": 60, "fades": 130}}}
    mine = {"complaint": {"speed": {"starts": 110, "fades": 130}}}
    other = {"complaint": {"speed": {"starts": 60, "fades": 100}}}
    assert conflicts(base, mine, other) == ["complaint.speed"]


def test_places_felt_are_joined_and_no_noise_contradicts_a_noise() -> None:
    found = merged(
        {"complaint": {"felt_at": ["seat", "floor"]}},
        {"complaint": {"felt_at": ["floor", "steering-wheel"]}},
        {"complaint": {"felt_at": ["seat", "floor", "brake-pedal"]}},
    )
    assert found["complaint"]["felt_at"] == ["floor", "brake-pedal", "steering-wheel"]
    assert conflicts({}, {"complaint": {"noise": ["none"]}}, {"complaint": {"noise": ["whine"]}}) == ["complaint.noise"]


def test_two_effects_of_one_repair() -> None:
    def repair(**more: str) -> dict[str, Any]:
        return {"history": {"repairs": [{"what": "balance", **more}]}}

    assert merged(repair(), repair(effect="none"), repair(note="10 g")) == data(**repair(effect="none", note="10 g"))
    assert conflicts(repair(), repair(effect="none"), repair(effect="cured")) == ["history.repairs[balance].effect"]


def test_what_two_people_read_in_one_recording() -> None:
    def recording(*signs: tuple[str, str]) -> dict[str, Any]:
        told = [{"sign": sign, "word": word, "trust": 0.8} for sign, word in signs]
        return {"attachments": [{"path": "seat.csv", "signs": told}]}

    base, mine = recording(), recording(("follows", "wheel-1x"))
    found = merged(base, mine, recording(("rhythm", "steady")))
    assert [one["sign"] for one in found["attachments"][0]["signs"]] == ["rhythm", "follows"]
    assert conflicts(base, mine, recording(("follows", "engine-2x"))) == ["attachments[seat.csv].signs[follows].word"]


def test_every_list_of_entries_in_the_form_says_what_makes_an_entry_that_entry() -> None:
    """Otherwise two people's entries in it would be a conflict, though they do not touch each other."""
    schema = Case.model_json_schema()
    parts = [schema, *schema["$defs"].values()]
    lists = {
        name
        for part in parts
        for name, field in part.get("properties", {}).items()
        if field.get("type") == "array" and "$ref" in field["items"]
    }
    assert lists == set(IDENTITY)
    assert lists >= ONE_OF_EACH | WHOLE


# --- laws

EDITS: list[dict[str, Any]] = [
    {"title": "a"},
    {"title": "b"},
    {"notes": "note"},
    {"complaint": {"rhythm": "bursts"}},
    {"complaint": {"rhythm": "steady", "felt_at": ["seat"]}},
    {"steps": [step("ask-where", "seat", by="Ada", at=T1)]},
    {"steps": [step("ask-where", "floor"), step("ask-where", "seat"), step("ask-growth", "slow")]},
    {"steps": [step("ask-growth", "slow"), step("ask-where", "floor", taken="after")]},
    {"measurements": [runout(1.0), runout(1.0), runout(1.5, at=T1)]},
    {"measurements": [runout(1.5, at=T1), runout(0.5, taken="after")]},
    {"outcome": {"confirmed_cause": "bent-rim", "by": "Bo"}},
    {"history": {"events": [{"what": "pothole-or-kerb", "ago_days": 3}]}},
    {"vehicle": {"driven": "rear", "tyres": {"front": "225/45R17"}}},
]
sides = st.lists(st.sampled_from(EDITS), max_size=5).map(
    lambda parts: data(**{key: value for part in copy.deepcopy(parts) for key, value in part.items()})
)


@given(base=sides, other=sides)
def test_who_changed_nothing_takes_the_others_version_exactly(base: dict[str, Any], other: dict[str, Any]) -> None:
    assert merge(base, base, other).data == other
    assert merge(base, other, base).data == other
    assert merge(base, other, other).data == other
    assert merge(base, other, other).conflicts == ()


@given(base=sides, yours=sides, theirs=sides)
def test_either_order_sees_the_same_conflicts(
    base: dict[str, Any], yours: dict[str, Any], theirs: dict[str, Any]
) -> None:
    one, two = merge(base, yours, theirs), merge(base, theirs, yours)
    assert sorted(found.field for found in one.conflicts) == sorted(found.field for found in two.conflicts)
    for found in one.conflicts:
        assert found.yours != found.theirs


@given(base=sides, yours=sides, theirs=sides)
def test_who_insists_gets_every_field_that_both_changed_and_nothing_else(
    base: dict[str, Any], yours: dict[str, Any], theirs: dict[str, Any]
) -> None:
    found = merge(base, yours, theirs)
    insisted = merge(base, yours, theirs, insist=True)
    if not found.conflicts:
        assert insisted == found
        return
    assert insisted.conflicts == ()
    assert plain(read_plain(insisted.data)) == insisted.data
    # What stands now is yours at each conflict: to have it so again, nothing is to be done.
    assert merge(base, yours, insisted.data).conflicts == ()
    for key in {*yours, *theirs, *base}:
        sides_of = [side.get(key) for side in (base, yours, theirs)]
        if not isinstance(sides_of[1], list | dict) and sides_of[0] not in sides_of[1:] and sides_of[1] is not None:
            assert insisted.data.get(key) == yours[key]
        if sides_of[1] == sides_of[0]:
            assert insisted.data.get(key) == theirs.get(key)


def test_what_cannot_stand_together_cannot_be_insisted_on() -> None:
    """Each end of a speed band alone is sound, both together are not; and a speed in another unit is another speed."""
    band = ({"starts": 60, "fades": 120}, {"starts": 60, "fades": 70}, {"starts": 100, "fades": 120})
    base, yours, theirs = (data(complaint={"speed": {"unit": "km/h", **speed}}) for speed in band)
    assert merge(base, yours, theirs, insist=True).conflicts
    old = data(complaint={"speed": {"unit": "km/h"}})
    mine = data(complaint={"speed": {"unit": "mph"}})
    hers = data(complaint={"speed": {"unit": "km/h"}}, measurements=[runout(1.0, speed=110.0)])
    assert [one.field for one in merge(old, mine, hers, insist=True).conflicts] == ["complaint.speed.unit"]


@given(base=sides, yours=sides, theirs=sides)
def test_a_merge_fits_the_form_and_drops_nobodys_entries(
    base: dict[str, Any], yours: dict[str, Any], theirs: dict[str, Any]
) -> None:
    found = merge(base, yours, theirs)
    if found.conflicts:
        return
    assert plain(read_plain(found.data)) == found.data
    for name in ("steps", "measurements"):
        for side, other in ((yours, theirs), (theirs, yours)):
            for item in side.get(name, []):
                # Signed alike apart from the name, one of two equal answers stands.
                kept = item in found.data.get(name, []) or any(
                    one["step"] == item["step"] and one["outcome"] == item["outcome"]
                    for one in found.data.get("steps", [])
                    if name == "steps"
                )
                assert kept or item in base.get(name, []), (item, other)


@given(before=sides, after=sides)
def test_there_is_a_change_exactly_where_something_changed(before: dict[str, Any], after: dict[str, Any]) -> None:
    found = changes(before, after)
    assert bool(found) == (before != after)
    assert all(one.before != one.after and "\n" not in one.sentence() for one in found)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ({}, {"steps": [step("ask-where", "seat")]}, "steps[ask-where]: step ask-where, outcome seat"),
        (
            {"steps": [step("ask-where", "seat")]},
            {"steps": [step("ask-where", "floor")]},
            "steps[ask-where].outcome: seat -> floor",
        ),
        ({"notes": "a"}, {}, "notes: a taken out"),
        ({}, {"outcome": {"confirmed_cause": "bent-rim"}}, "outcome.confirmed_cause: bent-rim"),
    ],
)
def test_a_change_in_words(before: dict[str, Any], after: dict[str, Any], told: str) -> None:
    assert [one.sentence() for one in changes(data(**before), data(**after))] == [told]
