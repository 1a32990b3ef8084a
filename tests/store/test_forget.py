"""Personal data goes out of a case and all its past; what speaks about the car stays, and weighs the same."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.store.conftest import ADA, BO, case_of, with_parts
from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_folder, save_case
from vibdiag.merging.plain import case_of as read_plain
from vibdiag.merging.plain import plain, texts
from vibdiag.store.exchange import export_folder, import_files
from vibdiag.store.face import Signature, UnknownCaseError
from vibdiag.store.forget import forget
from vibdiag.store.personal import EVIDENCE, PERSONAL, without_personal
from vibdiag.store.recordings import attach_file, kept_files
from vibdiag.store.search import search
from vibdiag.store.store import CaseStore, open_store

NAME = "Zebulon"
SIGNED: dict[str, Any] = {
    "title": f"{NAME} shakes",
    "opened_by": NAME,
    "source": NAME,
    "notes": f"ring {NAME}",
    "vehicle": {"description": f"{NAME}'s car", "driven": "front", "tyres": {"front": "225/45R17"}},
    "complaint": {"words": f"{NAME} says it shakes", "rhythm": "steady"},
    "history": {
        "events": [{"what": "pothole-or-kerb", "note": NAME}],
        "repairs": [{"what": "balance", "by": NAME, "note": NAME, "effect": "none"}],
    },
    "seen": {"rim_bent": "yes", "note": NAME},
    "steps": [
        {"step": "ask-where", "outcome": "seat", "by": NAME, "words": f"Strength 0 to 10: 100 km/h 4.\nsaid {NAME}"},
        {"step": "ask-growth", "outcome": "slow", "words": NAME},
    ],
    "measurements": [{"quantity": "frequency", "value": 14, "unit": "Hz", "by": NAME, "note": NAME}],
    "readings": [{"what": "tread-radial", "values": [0, 1, 2, 1], "by": NAME, "note": NAME}],
    "balance_readings": [{"inner_amount": 5, "inner_deg": 90, "by": NAME, "note": NAME}],
    "acknowledged": [{"danger": "loose-wheel", "by": NAME}],
    "attachments": [
        {
            "path": f"{NAME}.WAV",
            "note": NAME,
            "signs": [{"sign": "follows", "word": "engine", "trust": 0.5, "because": NAME}],
        },
        {"path": f"x.{NAME}"},
    ],
    "follow_ups": [{"what": "call-back", "due": "2026-04-01", "note": NAME}],
    "outcome": {"confirmed_cause": "bent-rim", "place": NAME, "proof": NAME, "by": NAME},
}


def text_fields(schema: dict[str, Any]) -> set[str]:
    """The last name of every field of the form that takes any text."""
    found = set()

    def walk(part: dict[str, Any], name: str, seen: tuple[str, ...]) -> None:
        if "$ref" in part:
            kind = part["$ref"].rsplit("/", 1)[-1]
            if kind not in seen:
                walk(schema["$defs"][kind], name, (*seen, kind))
        for one in [*part.get("anyOf", []), *part.get("allOf", []), *part.get("oneOf", [])]:
            walk(one, name, seen)
        for key, one in part.get("properties", {}).items():
            walk(one, key, seen)
        if "items" in part:
            walk(part["items"], name, seen)
        if part.get("type") == "string" and not {"enum", "const"} & set(part):
            found.add(name)

    walk(schema, "", ())
    return found


def test_every_text_field_of_the_form_is_judged() -> None:
    assert text_fields(Case.model_json_schema()) == PERSONAL | EVIDENCE
    assert not PERSONAL & EVIDENCE


def test_the_test_case_has_every_personal_field() -> None:
    def keys(value: Any) -> set[str]:
        if isinstance(value, list):
            return {key for one in value for key in keys(one)}
        return set(value) | {key for one in value.values() for key in keys(one)} if isinstance(value, dict) else set()

    assert keys(plain(case_of(**SIGNED))) >= PERSONAL


def test_names_and_free_text_go_and_evidence_stays() -> None:
    cleaned = without_personal(plain(case_of(**SIGNED)))
    assert NAME.lower() not in " ".join(texts(cleaned)).lower()
    case = read_plain(cleaned)
    assert plain(case) == cleaned
    assert [(one.step, one.outcome, one.words) for one in case.steps] == [
        ("ask-where", "seat", "Strength 0 to 10: 100 km/h 4."),
        ("ask-growth", "slow", None),
    ]
    assert case.measurements[0].value == 14
    assert case.readings[0].values == [0, 1, 2, 1]
    assert case.acknowledged[0].danger == "loose-wheel"
    assert [one.path for one in case.attachments] == ["recording-1.wav", "recording-2"]
    assert [(one.sign, one.word, one.trust) for one in case.attachments[0].signs] == [("follows", "engine", 0.5)]
    assert case.vehicle.tyres.front == "225/45R17"
    assert case.outcome is not None
    assert case.outcome.confirmed_cause == "bent-rim"
    assert without_personal(cleaned) == cleaned


def test_the_ranking_is_the_same_before_and_after(adviser: Adviser, demos: list[Case]) -> None:
    real = [case for _, case in load_folder(Path(__file__).parents[1] / "real_cases")][::8]
    for case in [*demos, *real]:
        cleaned = read_plain(without_personal(plain(case)))
        before, after = adviser.assess(case), adviser.assess(cleaned)
        assert after.causes == before.causes, case.id
        assert after.dangers == before.dangers, case.id


@pytest.fixture
def filled(store: CaseStore, tmp_path: Path) -> CaseStore:
    version = store.create(case_of(**SIGNED), Signature(NAME, f"desk of {NAME}"))
    version = store.save(with_parts(version, notes=f"{NAME} again"), version, Signature(NAME, NAME), what=NAME).version
    store.undo("invented", Signature(NAME, NAME))
    store.create(case_of(id="other", notes="Quintus"), ADA)
    recording = tmp_path / f"by {NAME}.wav"
    recording.write_bytes(b"sound")
    attach_file(store, "invented", recording, Signature(NAME, NAME))
    return store


def everything(store: CaseStore) -> str:
    told = [repr(store.read("invented", revision=one.revision)) for one in store.history("invented")]
    return " ".join([*told, repr(store.history("invented")), repr(store.lines()), repr(kept_files(store, "invented"))])


def test_all_the_past_is_gone_over(filled: CaseStore, tmp_path: Path) -> None:
    assert NAME in everything(filled)
    done = forget(filled, "invented", BO)
    assert (done.events, done.recordings_kept, done.recordings_removed) == (4, ("recording-3.wav",), 0)
    assert NAME.lower() not in everything(filled).lower()
    assert search(filled, NAME) == ()
    assert [line.id for line in search(filled, "quintus")] == ["other"]
    assert [line.id for line in search(filled, "bent rim")] == ["invented"]
    assert [line.forgotten for line in filled.lines()] == [True, False]
    (kept,) = kept_files(filled, "invented")
    assert kept.path in {one.path for one in filled.read("invented").case.attachments}
    last = filled.history("invented")[-1]
    assert (last.who, last.kind) == ("Bo", "forget")


def test_the_words_are_not_in_the_file_either(tmp_path: Path) -> None:
    """Deleted words stay in a database file, and in its log, until they are written over."""
    place = tmp_path / "cases.db"
    with open_store(str(place)) as store:
        version = store.create(case_of(**SIGNED), Signature(NAME, NAME))
        store.save(with_parts(version, notes=f"{NAME} again"), version, Signature(NAME, NAME))
        store.create(case_of(id="other", notes="Quintus"), ADA)
        forget(store, "invented", BO)
        for file in tmp_path.iterdir():
            assert not re.search(NAME.encode(), file.read_bytes(), re.IGNORECASE), file.name
        assert any(re.search(b"Quintus", file.read_bytes()) for file in tmp_path.iterdir())


def test_recordings_go_when_told_so(filled: CaseStore) -> None:
    assert forget(filled, "invented", BO, with_recordings=True).recordings_removed == 1
    assert kept_files(filled, "invented") == ()


def test_neither_undo_nor_an_open_session_brings_it_back(filled: CaseStore) -> None:
    opened = filled.read("invented")
    forget(filled, "invented", BO)
    saved = filled.save(with_parts(opened, vehicle={**SIGNED["vehicle"], "driven": "rear"}), opened, ADA)
    assert saved.version.case.vehicle.driven == "rear"
    assert NAME.lower() not in everything(filled).lower()
    filled.undo("invented", ADA)
    assert NAME.lower() not in everything(filled).lower()


def test_nor_does_a_file_from_before(store: CaseStore, tmp_path: Path) -> None:
    file = tmp_path / "invented.yaml"
    save_case(case_of(**SIGNED), file)
    list(import_files(store, [file], BO))
    (before,) = export_folder(store, tmp_path / "out")
    forget(store, "invented", BO)
    for old in (file, before.file):
        (refused,) = import_files(store, [old], BO)
        assert "personal data was taken out" in str(refused.problem)
    (fresh,) = export_folder(store, tmp_path / "fresh")
    fresh.file.write_text(fresh.file.read_text(encoding="utf-8") + "notes: by hand\n", encoding="utf-8")
    (taken,) = import_files(store, [fresh.file], BO)
    assert taken.outcome == "changed"
    assert NAME.lower() not in everything(store).lower()


def test_an_unknown_case(store: CaseStore) -> None:
    with pytest.raises(UnknownCaseError):
        forget(store, "another", BO)
