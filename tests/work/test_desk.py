"""One case under the hand: saved before it is shown, undone and redone, and unchanged when the disk refuses."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.storage import load_case
from vibdiag.files.errors import InputError
from vibdiag.work.case_file import CaseFile
from vibdiag.work.desk import Desk

OnDisk = Callable[..., Path]


def desk_for(adviser: Adviser, path: Path) -> Desk:
    return Desk(CaseFile(path), adviser, by="A. Tester")


def test_an_answer_is_on_the_disk_at_once_and_moves_the_ranking(adviser: Adviser, on_disk: OnDisk) -> None:
    desk = desk_for(adviser, on_disk())
    before = desk.assessment.causes[0].id
    desk.answer(adviser.base.steps["ask-braking"], "brings", words="only when I brake", role="desk")
    stored = load_case(Path(desk.hand.key))
    assert stored == desk.case
    assert stored.steps[0].words == "only when I brake"
    assert stored.steps[0].by == "A. Tester"
    assert desk.previous is not None
    assert desk.previous.causes[0].id == before
    assert desk.assessment.causes[0].id == "brake-disc-variation"


def test_undo_and_redo_go_over_the_disk(adviser: Adviser, on_disk: OnDisk) -> None:
    desk = desk_for(adviser, on_disk())
    empty = desk.case
    desk.answer(adviser.base.steps["ask-braking"], "brings")
    full = desk.case
    assert desk.undo() is not None
    assert load_case(Path(desk.hand.key)) == desk.case == empty
    assert desk.redo() is not None
    assert load_case(Path(desk.hand.key)) == desk.case == full
    assert desk.redo() is None


def test_a_second_answer_replaces_the_first_and_keeps_noted_strengths(adviser: Adviser, on_disk: OnDisk) -> None:
    words = "Strength 0 to 10: 95 km/h 6.\nwet road"
    path = on_disk(steps=[{"step": "road-hold-speeds", "outcome": "unknown", "words": words}])
    desk = desk_for(adviser, path)
    desk.answer(adviser.base.steps["road-hold-speeds"], "fast", words="dry now")
    assert [(one.outcome, one.words) for one in desk.case.steps] == [("fast", "Strength 0 to 10: 95 km/h 6.\ndry now")]


def test_answers_of_before_leave_those_of_after_alone(adviser: Adviser, on_disk: OnDisk) -> None:
    after = {"step": "road-brake", "outcome": "gone", "taken": "after"}
    desk = desk_for(adviser, on_disk(steps=[after]))
    desk.answer(adviser.base.steps["road-brake"], "brings")
    assert {one.taken for one in desk.case.steps} == {"before", "after"}
    desk.withdraw("road-brake")
    assert [one.taken for one in desk.case.steps] == ["after"]


def test_a_case_that_cannot_be_assessed_changes_nothing(adviser: Adviser, on_disk: OnDisk) -> None:
    desk = desk_for(adviser, on_disk())
    before, text = desk.case, Path(desk.hand.key).read_text()
    wrong = desk.case.model_copy(
        update={"vehicle": desk.case.vehicle.model_copy(update={"axle_ratio": 19.0, "tyres": {"front": "?"}})}
    )
    with pytest.raises((InputError, AttributeError)):
        desk.change(wrong, "a wrong vehicle")
    assert desk.case is before
    assert Path(desk.hand.key).read_text() == text
    assert desk.undo() is None


def test_nothing_is_undone_when_nothing_was_done(adviser: Adviser, on_disk: OnDisk) -> None:
    desk = desk_for(adviser, on_disk())
    assert desk.undo() is None
    desk.change(desk.case, "nothing")
    assert desk.undo() is None


def test_a_danger_is_signed_for_by_name(adviser: Adviser, on_disk: OnDisk) -> None:
    desk = desk_for(adviser, on_disk(seen={"tyre": "bulge-or-cord"}))
    unread = desk.unread_dangers()
    assert [danger.cause for danger in unread] == ["tyre-belt-damage"]
    with pytest.raises(ValueError, match="write your name"):
        desk.acknowledge(unread[0], "  ")
    desk.acknowledge(unread[0], " B. Reader ")
    assert desk.unread_dangers() == []
    assert load_case(Path(desk.hand.key)).acknowledged[0].by == "B. Reader"
    assert any(danger.status == "open" for danger in desk.assessment.dangers)


def test_a_danger_stays_on_show_after_the_answers_that_make_it_improbable(adviser: Adviser, on_disk: OnDisk) -> None:
    """The first answers bring it by its probability alone; undoing them takes it away with them."""
    desk = desk_for(adviser, on_disk())
    steps = adviser.base.steps
    desk.answer(steps["ask-growth"], "sudden")
    for step, outcome in (("ask-from", "front"), ("ask-clunk", "yes")):
        desk.answer(steps[step], outcome)
    raised = {danger.cause for danger in desk.assessment.dangers}
    assert raised
    assert raised <= set(desk.case.dangers_shown)
    for step, outcome in (("ask-pull-away", "brings"), ("ask-driveline-work", "yes"), ("ask-power", "brings")):
        desk.answer(steps[step], outcome)
    kept = {danger.cause for danger in desk.assessment.dangers if danger.status == "open"}
    assert raised <= kept
    assert any(desk.assessment.belief.of_cause(cause) < adviser.base.causes[cause].danger.raise_above for cause in kept)  # type: ignore[union-attr]
    assert load_case(Path(desk.hand.key)).dangers_shown == desk.case.dangers_shown
    while desk.undo() is not None:
        pass
    assert desk.case.dangers_shown == []
    assert not desk.assessment.dangers
