"""`vibdiag demo`: an invented case, played from the complaint to the proof."""

from __future__ import annotations

from pathlib import Path

from vibdiag.advice.assess import Adviser, Assessment
from vibdiag.advice.replay import Stage, stages
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, load_folder
from vibdiag.commands.assessment_json import assessment_data
from vibdiag.commands.assessment_text import CLOSING, share
from vibdiag.commands.output import bar, input_errors, paragraph, print_json, say, width
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder

__all__ = ["list_demos", "play_demo"]

ROAD_TEST = "road-test"
ROAD_TEST_TITLE = "A recording instead of a case: 40 g on one front wheel, found from the seat rail"


def list_demos(*, as_json: bool) -> None:
    """Name every invented case with its title."""
    with input_errors():
        demos = load_folder(shipped_folder("cases"))
    if as_json:
        listed = [{"name": path.stem, "title": case.title} for path, case in demos]
        print_json([*listed, {"name": ROAD_TEST, "title": ROAD_TEST_TITLE}])
        return
    say("Invented cases for practice; play one with `vibdiag demo NAME`.")
    for path, case in demos:
        say(paragraph(case.title or "", indent=" " * 26, first=f"  {path.stem:24}"))
    say(paragraph(ROAD_TEST_TITLE, indent=" " * 26, first=f"  {ROAD_TEST:24}"))


def _demo_path(name: str) -> Path:
    folder = shipped_folder("cases")
    path = folder / f"{name}.yaml"
    if not path.is_file() or path.parent != folder:
        names = ", ".join([*sorted(found.stem for found in folder.glob("*.yaml")), ROAD_TEST])
        raise InputError(f"there is no invented case '{name}'; there are {names}")
    return path


def play_demo(name: str, *, as_json: bool) -> None:
    """Show the ranking and the next step after each stage, then the repair and the proof."""
    if name == ROAD_TEST:
        from vibdiag.commands.road.play import play_road_test  # late: it brings in numpy

        with input_errors():
            play_road_test(as_json=as_json)
        return
    with input_errors():
        case = load_case(_demo_path(name))
        adviser = Adviser.shipped()
        played = [(stage, adviser.assess(stage.case)) for stage in stages(case, adviser.base)]
    if as_json:
        print_json(
            {
                "case": case.id,
                "invented": case.invented,
                "stages": [{"heading": stage.heading} | assessment_data(found) for stage, found in played],
                "outcome": case.outcome.model_dump(mode="json") if case.outcome else None,
            }
        )
        return
    say(paragraph(f"{case.title} (invented for practice)"))
    if case.complaint.words:
        say(paragraph(f"“{case.complaint.words.strip()}”", indent="  "))
    for stage, assessment in played:
        _stage(stage, assessment, adviser)
    _ending(case, adviser)


def _stage(stage: Stage, assessment: Assessment, adviser: Adviser) -> None:
    say()
    say(f"--- {stage.heading} " + "-" * max(0, width() - len(stage.heading) - 5))
    for result in stage.new_steps:
        step = adviser.base.steps[result.step]
        says = step.outcomes[result.outcome].says if result.outcome in step.outcomes else "not known"
        how = "" if result.how == "measured" else f" ({result.how})"
        say(
            paragraph(
                f"{step.title} {says}{how}" if step.title.endswith("?") else f"{step.title}: {says}{how}",
                indent="    ",
                first="  ",
            )
        )
    if stage.new_steps:
        say()
    for danger in assessment.dangers:
        state = "DANGER" if danger.status == "open" else "Danger, cleared by check"
        say(paragraph(f"{state}: {danger.says}", indent="   ", first="!! "))
    for place, cause in enumerate(assessment.causes[:4], 1):
        axle = cause.axle or ""
        chance = f"{bar(cause.probability)} {share(cause.probability):>6}"
        say(f"{place:2} {cause.short:28} {chance}  {axle}".rstrip())
    if assessment.repair is not None:
        say(paragraph(f"Mend: {assessment.repair.does}", indent="      ", first="=> "))
    if assessment.next:
        step = assessment.next[0].step
        ask = f" “{step.ask}”" if step.ask else ""
        dot = "" if step.title.endswith("?") else "."
        say(paragraph(f"Next: {step.title}{dot} ({step.minutes:g} min){ask}", indent="      ", first="=> "))
        if step.caution:
            say(paragraph(f"Caution: {step.caution}", indent="      "))


def _ending(case: Case, adviser: Adviser) -> None:
    say()
    say("--- Repair and proof " + "-" * max(0, width() - 21))
    for repair in case.history.repairs:
        if repair.effect == "cured":
            say(paragraph(f"{repair.note or repair.what}", indent="    ", first="  "))
    outcome = case.outcome
    if outcome is None:
        say("  This case is still open.")
        return
    cause = adviser.base.causes[outcome.confirmed_cause]
    place = f", {outcome.place}" if outcome.place else ""
    say(paragraph(f"Confirmed: {cause.name} ({outcome.axle}{place})", indent="    ", first="  "))
    if outcome.proof:
        say(paragraph(f"Proof: {outcome.proof}", indent="    ", first="  "))
    say(paragraph(f"Caution: {cause.repair.caution}", indent="    ", first="  "))
    say()
    say(paragraph(CLOSING))
