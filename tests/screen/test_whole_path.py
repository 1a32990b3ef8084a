"""One invented complaint from the first words to the proof and back, by keyboard alone, on the disk at every stage."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import OptionList, TextArea

from vibdiag.advice.assess import Adviser
from vibdiag.case.storage import load_case
from vibdiag.case.strengths import Held
from vibdiag.screen.case_screen import CaseScreen
from vibdiag.screen.overlays.bay import BayOverlay
from vibdiag.screen.overlays.finish import FinishOverlay, LearnedOverlay
from vibdiag.screen.overlays.proof import ProofOverlay
from vibdiag.screen.overlays.repair_done import RepairDoneOverlay
from vibdiag.screen.overlays.road import RepeatOverlay, RoadOverlay
from vibdiag.screen.overlays.summary import SummaryOverlay
from vibdiag.screen.overlays.words import WordsOverlay
from vibdiag.screen.ranking_line import ranking_line
from vibdiag.screen.start import StartScreen
from vibdiag.work.road_sheet import result_of, strengths_of

from .stage import agrees, application, case_screen, press, said, settle, step_said, text_of, words

SIZES = [(80, 24), (120, 40)]
WORDS = "Since last week it trembles in my hands, and afterwards one wheel smelt hot."

pytestmark = [
    pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}"),
]


async def test_a_complaint_from_the_first_words_to_the_proof_and_back(
    tmp_path: Path, adviser: Adviser, size: tuple[int, int]
) -> None:
    app = application(tmp_path / "cases", adviser)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        assert isinstance(app.screen, StartScreen)
        await the_desk(pilot)
        await the_road(pilot)
        await the_bay(pilot, adviser)
        path = Path(case_screen(app).desk.hand.key)
        await the_proof(pilot, adviser)
        await closed_and_reopened(pilot, path)


def flat(pilot: Pilot[None]) -> str:
    """The step in hand in one line, however it is folded."""
    return " ".join(step_said(pilot).split())


# -- the desk ---------------------------------------------------------------------------------------------------


async def the_desk(pilot: Pilot[None]) -> None:
    app = pilot.app
    await press(pilot, "n")
    assert isinstance(app.screen, WordsOverlay)
    await press(pilot, *words(WORDS), "tab", *"95", "tab", *"fast", "ctrl+s")
    assert "worst at: 'fast' is no number" in said(pilot, "#fault")  # one sentence, and nothing typed is lost
    assert app.screen.query_one("#words", TextArea).text == WORDS
    await press(pilot, *["backspace"] * 4, *"110", "tab", *"129,5", "ctrl+s")
    assert isinstance(app.screen, CaseScreen)
    told = agrees(app).complaint
    assert told.words == WORDS
    assert (told.speed.starts, told.speed.worst, told.speed.fades) == (95, 110, 129.5)

    await interview(pilot)
    await a_danger(pilot)

    await press(pilot, "e")
    assert isinstance(app.screen, SummaryOverlay)
    back = said(pilot, ".sheet-text")
    assert f"You told us: “{WORDS}”" in back
    base = case_screen(app).desk.adviser.base
    for result in agrees(app).steps:
        if result.outcome != "unknown":
            assert base.steps[result.step].outcomes[result.outcome].says in back
    assert "Important: " in back
    await press(pilot, "escape")


async def interview(pilot: Pilot[None]) -> None:
    """Answer, don't know, go back and change, note, withdraw in the trail, undo and redo."""
    app, desk = pilot.app, case_screen(pilot.app).desk
    before = {cause.id: cause.probability for cause in desk.assessment.causes}
    first = case_screen(app).now().step
    assert first is not None
    assert f"“{first.ask}”" in flat(pilot)
    await press(pilot, "1")
    (kept,) = agrees(app).steps
    assert (kept.step, kept.outcome, kept.role) == (first.id, next(iter(first.outcomes)), "desk")
    assert {cause.id: cause.probability for cause in desk.assessment.causes} != before

    ranked = [(cause.id, cause.probability) for cause in desk.assessment.causes]
    doubtful = case_screen(app).now().step
    assert doubtful is not None
    await press(pilot, "0")
    assert agrees(app).steps[-1].outcome == "unknown"
    assert [(cause.id, cause.probability) for cause in desk.assessment.causes] == ranked  # weighs nothing

    await press(pilot, "b")
    assert "Don't know <- answered so" in flat(pilot)
    await press(pilot, "2")
    assert [one.outcome for one in agrees(app).steps if one.step == doubtful.id] == [list(doubtful.outcomes)[1]]

    await press(pilot, "n", *words("Like a washing machine"), "ctrl+s")
    assert "+ note" in said(pilot, "#top")
    noted = case_screen(app).now().step
    assert noted is not None
    await press(pilot, "1")
    assert agrees(app).steps[-1].words == "Like a washing machine"
    assert "+ note" not in said(pilot, "#top")

    answered = [one.step for one in agrees(app).steps]
    await press(pilot, "t", "end", "delete")
    assert [one.step for one in agrees(app).steps] == [step for step in answered if step != noted.id]
    if app.size.width < 120:
        await press(pilot, "1")  # the step is out of sight behind the trail: no key answers it
        assert len(agrees(app).steps) == len(answered) - 1
        await press(pilot, "t")
    await press(pilot, "u")
    assert [one.step for one in agrees(app).steps] == answered
    await press(pilot, "y")
    assert [one.step for one in agrees(app).steps] == answered[:-1]
    await press(pilot, "u")
    assert [one.step for one in agrees(app).steps] == answered

    await press(pilot, "t", "end", "enter")  # stand on the last entry and change it
    assert "<- answered so" in flat(pilot)
    assert case_screen(app).now().step == noted
    await press(pilot, "0")
    assert agrees(app).steps[-1].outcome == "unknown"


async def a_danger(pilot: Pilot[None]) -> None:
    """A red flag is said at once; the danger takes the step's place until somebody signs by name."""
    app, base = pilot.app, case_screen(pilot.app).desk.adviser.base
    await press(pilot, "l", *words("heat"), "enter")
    step = case_screen(app).now().step
    assert step is not None
    assert step.id == "ask-heat"
    await press(pilot, str(list(step.outcomes).index("yes") + 1))
    cause = base.causes["brake-drag"]
    assert cause.danger is not None
    assert cause.danger.says in flat(pilot)
    assert "!!  DANGER  !!" in said(pilot, "#step-text")
    assert "!! 1 open danger" in said(pilot, "#top")
    answers = len(agrees(app).steps)
    await press(pilot, "enter")
    assert not agrees(app).acknowledged  # nobody has signed
    await press(pilot, "ctrl+s")
    assert not agrees(app).acknowledged  # nor now: nobody has given a name
    await press(pilot, *words("Kim Advisor"), "enter")
    (signed,) = agrees(app).acknowledged
    assert (signed.danger, signed.by) == ("brake-drag", "Kim Advisor")
    assert len(agrees(app).steps) == answers
    assert step.red_flag["yes"] in flat(pilot)  # what must be told at once stays until somebody says that it was
    await press(pilot, "1", "0")
    assert len(agrees(app).steps) == answers
    await press(pilot, "enter")
    assert step.red_flag["yes"] not in flat(pilot)
    assert "DANGER" not in said(pilot, "#step-text")
    assert "!! 1 open danger" in said(pilot, "#top")  # read, and still open


# -- the road ---------------------------------------------------------------------------------------------------


async def to_line(pilot: Pilot[None], line: str) -> None:
    """Arrow down to a line of the road sheet."""
    box = pilot.app.screen.query_one("#road-lines", OptionList)
    for _ in range(box.option_count):
        if box.highlighted is not None and box.get_option_at_index(box.highlighted).id == line:
            return
        await press(pilot, "down")
    raise AssertionError(f"no line '{line}' on the sheet")


async def the_road(pilot: Pilot[None]) -> None:
    app = pilot.app
    await press(pilot, "x")
    assert "road  ·" in said(pilot, "#top")
    now = case_screen(app).now().step
    assert now is None or "road" in now.who
    await press(pilot, "r")
    assert isinstance(app.screen, RoadOverlay)
    assert "!! THE CAR DOES NOT MOVE YET" in said(pilot, "#road-danger")
    await press(pilot, "escape")
    await clear_the_danger(pilot)
    await press(pilot, "r")
    assert not app.screen.query_one("#road-danger").display
    await to_line(pilot, "held 95 km/h")
    await press(pilot, "3")
    await to_line(pilot, "held 110 km/h")
    await press(pilot, "7", "n", *words("hands, not seat"), "ctrl+s")
    await to_line(pilot, "step road-brake")
    await press(pilot, "2")
    await press(pilot, "escape")
    case = agrees(app)
    assert strengths_of(case, taken="before") == {Held(95, "km/h"): 3, Held(110, "km/h"): 7}
    result = result_of(case, "road-brake", taken="before")
    assert result is not None
    assert (result.outcome, result.role, result.by) == ("unchanged", "road", "Kim Advisor")


async def clear_the_danger(pilot: Pilot[None]) -> None:
    """The bay's check clears it, and only with the result that does."""
    app = pilot.app
    await press(pilot, "m")
    assert isinstance(app.screen, BayOverlay)
    text = app.screen.desk.adviser.base.causes["brake-drag"].danger
    assert text is not None
    await to_check(pilot, text.cleared_by or "")
    outcomes = list(app.screen.desk.adviser.base.steps[text.cleared_by or ""].outcomes)
    await press(pilot, str(outcomes.index(text.clear_outcome or "") + 1), "escape")
    assert [danger.status for danger in case_screen(app).desk.assessment.dangers if danger.cause == "brake-drag"] in (
        [],
        ["cleared"],
    )
    assert "open danger" not in said(pilot, "#top")
    agrees(app)


# -- the bay ----------------------------------------------------------------------------------------------------


async def to_check(pilot: Pilot[None], check: str) -> None:
    """Arrow down to a check."""
    box = pilot.app.screen.query_one("#checks", OptionList)
    for _ in range(box.option_count):
        if box.highlighted is not None and box.get_option_at_index(box.highlighted).id == check:
            return
        await press(pilot, "down")
    raise AssertionError(f"no check '{check}' in the list")


async def the_bay(pilot: Pilot[None], adviser: Adviser) -> None:
    app = pilot.app
    await press(pilot, "x", "m")
    before = case_screen(app).desk.assessment
    await to_check(pilot, "bay-rim-runout")
    step = adviser.base.steps["bay-rim-runout"]
    assert f"! CAUTION: {step.caution}" in said(pilot, "#check-head")
    await press(pilot, str(list(step.outcomes).index("over") + 1))
    case = agrees(app)
    assert (case.steps[-1].step, case.steps[-1].outcome, case.steps[-1].role) == (step.id, "over", "bay")
    assert ranking_line(before, adviser.assess(case)) in said(pilot, "#moved")
    await press(pilot, "f4", *"1.8", "enter")
    assert [(one.quantity, one.value, one.wheel) for one in agrees(app).measurements] == [
        ("tread-radial-runout", 1.8, "front-left")
    ]
    await press(pilot, "escape")
    first = case_screen(app).desk.assessment.causes[0]
    assert first.short in text_of(app)


# -- the repair and the proof -----------------------------------------------------------------------------------


async def the_proof(pilot: Pilot[None], adviser: Adviser) -> None:
    app = pilot.app
    first = case_screen(app).desk.assessment.causes[0]
    await press(pilot, "p")
    assert isinstance(app.screen, ProofOverlay)
    assert f"! CAUTION: {adviser.base.causes[first.id].repair.caution}" in said(pilot, "#proof-text")
    await press(pilot, "d")
    assert isinstance(app.screen, RepairDoneOverlay)
    await press(pilot, *words("New rim front left, balanced"), "ctrl+s")
    (repair,) = agrees(app).history.repairs
    assert (repair.by, repair.note, repair.effect) == ("Kim Advisor", "New rim front left, balanced", "unknown")

    await press(pilot, "r")
    assert isinstance(app.screen, RepeatOverlay)
    await clear_on_the_sheet(pilot, adviser)
    await to_line(pilot, "held 95 km/h")
    await press(pilot, "0")
    await to_line(pilot, "held 110 km/h")
    await press(pilot, "0")
    await to_line(pilot, "step road-brake")
    await press(pilot, "9")
    await press(pilot, "escape")
    case = agrees(app)
    assert strengths_of(case, taken="after") == {Held(95, "km/h"): 0, Held(110, "km/h"): 0}
    assert strengths_of(case, taken="before") == {Held(95, "km/h"): 3, Held(110, "km/h"): 7}
    table = said(pilot, "#proof-text")
    assert table.count("gone") >= 2

    await press(pilot, "1")
    assert agrees(app).history.repairs[0].effect == "cured"
    await press(pilot, "f")
    assert isinstance(app.screen, FinishOverlay)
    drafted = app.screen.query_one("#proof", TextArea).text
    assert "7 before and 0 after at 110 km/h" in drafted
    await press(pilot, "end", *words(" Same people."), "ctrl+s")
    outcome = agrees(app).outcome
    assert outcome is not None
    assert outcome.confirmed_cause == first.id
    assert outcome.proof is not None
    assert "Same people." in outcome.proof
    await press(pilot, "escape")
    assert "CLOSED" in said(pilot, "#step-text")
    await press(pilot, "1", "2")  # a closed case has no step to answer
    assert agrees(app).outcome == outcome


async def clear_on_the_sheet(pilot: Pilot[None], adviser: Adviser) -> None:
    """Every check the sheet asks for before the car moves, with the result that clears it."""
    app = pilot.app
    assert isinstance(app.screen, RepeatOverlay)
    for danger in adviser.base.causes.values():
        text = danger.danger
        lines = {line.id for line in app.screen.lines}
        if text is not None and f"step {text.cleared_by}" in lines:
            await to_line(pilot, f"step {text.cleared_by}")
            outcomes = list(adviser.base.steps[text.cleared_by or ""].outcomes)
            await press(pilot, str(outcomes.index(text.clear_outcome or "") + 1))
    assert not app.screen.query_one("#road-danger").display


async def closed_and_reopened(pilot: Pilot[None], path: Path) -> None:
    app = pilot.app
    await press(pilot, "escape")
    assert isinstance(app.screen, StartScreen)
    box = app.screen.query_one("#cases", OptionList)
    assert "closed, proven" in str(box.get_option_at_index(0).prompt)
    case = load_case(path)
    assert {item.what for item in case.follow_ups} == {"check-torque", "call-back"}
    assert all(item.due > date.today() and not item.done for item in case.follow_ups)
    await press(pilot, "d", "enter")
    assert [item.done for item in load_case(path).follow_ups].count(True) == 1

    await press(pilot, "enter", "p", "o")
    assert isinstance(app.screen, LearnedOverlay)
    await press(pilot, *words("Back after the first frost"), "ctrl+s", "escape")
    case = agrees(app)
    assert case.outcome is None
    assert case.history.repairs[0].effect == "came-back"
    assert case.notes is not None
    assert "Back after the first frost" in case.notes
    assert case_screen(app).now().step is not None or case_screen(app).now().danger is not None
    await press(pilot, "escape")
    assert "closed" not in str(app.screen.query_one("#cases", OptionList).get_option_at_index(0).prompt)
