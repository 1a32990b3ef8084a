"""The passenger's sheet as it goes into the case, and recordings that must be there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from vibdiag.advice.road_plan import HOLDING
from vibdiag.case.model import Case
from vibdiag.case.strengths import Held
from vibdiag.work.attachments import attach, detach, place_of
from vibdiag.work.road_sheet import (
    note_of,
    result_of,
    strengths_of,
    with_answer,
    with_note,
    with_strength,
    without_answer,
)

CaseOf = Callable[..., Case]
NINETY = Held(90.0, "km/h")


def test_each_side_of_the_repair_has_its_own_answer(case_of: CaseOf) -> None:
    case = with_answer(case_of(), "road-brake", "unchanged", taken="before", by="A. Tester")
    case = with_answer(case, "road-brake", "gone", taken="after", by=None)
    case = with_answer(case, "road-brake", "brings", taken="before", by=None)
    before, after = (result_of(case, "road-brake", taken=side) for side in ("before", "after"))
    assert before is not None
    assert after is not None
    assert (before.outcome, after.outcome, len(case.steps)) == ("brings", "gone", 2)
    assert (before.role, before.how) == ("road", "measured")
    assert result_of(without_answer(case, "road-brake", taken="before"), "road-brake", taken="after") == after


def test_strengths_answer_and_note_do_not_disturb_each_other(case_of: CaseOf) -> None:
    case = with_strength(case_of(), NINETY, 4, taken="before", by=None)
    case = with_note(case, HOLDING, "wet road", taken="before", by=None)
    case = with_answer(case, HOLDING, "fast", taken="before", by=None)
    case = with_strength(case, NINETY, 6, taken="before", by=None)
    assert strengths_of(case, taken="before") == {NINETY: 6}
    assert note_of(case, HOLDING, taken="before") == "wet road"
    result = result_of(case, HOLDING, taken="before")
    assert result is not None
    assert result.outcome == "fast"
    assert strengths_of(case, taken="after") == {}


def test_taking_out_the_only_strength_leaves_nothing_behind(case_of: CaseOf) -> None:
    case = with_strength(case_of(), NINETY, 4, taken="before", by=None)
    assert with_strength(case, NINETY, None, taken="before", by=None).steps == []
    noted = with_note(case_of(), "road-brake", "a hum", taken="before", by=None)
    assert with_note(noted, "road-brake", "  ", taken="before", by=None).steps == []


@pytest.mark.parametrize("strength", [-1, 11])
def test_a_strength_beyond_the_scale_is_refused(case_of: CaseOf, strength: int) -> None:
    with pytest.raises(ValueError, match="from 0 to 10"):
        with_strength(case_of(), NINETY, strength, taken="before", by=None)


def test_a_recording_beside_the_case_is_kept_by_its_name(case_of: CaseOf, tmp_path: Path) -> None:
    (tmp_path / "seat.csv").write_text("t,a\n", encoding="utf-8")
    case = attach(case_of(), " seat.csv ", folder=tmp_path, sensor_place="seat-rail", taken="before")
    (kept,) = case.attachments
    assert (kept.path, kept.sensor_place, kept.taken) == ("seat.csv", "seat-rail", "before")
    assert place_of(kept.path, tmp_path).is_file()
    whole = attach(case_of(), str(tmp_path / "seat.csv"), folder=tmp_path, sensor_place="floor", taken="after")
    assert whole.attachments[0].path == "seat.csv"
    (tmp_path / "seat.csv").unlink()
    assert not place_of(kept.path, tmp_path).is_file()
    assert detach(case, "seat.csv").attachments == []


def test_a_recording_elsewhere_keeps_its_whole_path(case_of: CaseOf, tmp_path: Path) -> None:
    cases = tmp_path / "cases"
    cases.mkdir()
    file = tmp_path / "drive.csv"
    file.write_text("t,a\n", encoding="utf-8")
    case = attach(case_of(), str(file), folder=cases, sensor_place="unknown", taken="unknown")
    assert case.attachments[0].path == str(file.resolve())


def test_what_is_not_there_is_said_in_one_sentence(case_of: CaseOf, tmp_path: Path) -> None:
    (tmp_path / "there.csv").write_text("", encoding="utf-8")
    case = attach(case_of(), "there.csv", folder=tmp_path, sensor_place="floor", taken="before")
    for typed, sentence in (
        ("", "write the path"),
        ("none.csv", "there is no file 'none.csv', looked for at"),
        (".", "is a folder"),
        ("there.csv", "attached to this case already"),
    ):
        with pytest.raises(ValueError, match=sentence) as refused:
            attach(case, typed, folder=tmp_path, sensor_place="floor", taken="before")
        assert "\n" not in str(refused.value)
