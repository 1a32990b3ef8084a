"""The advisor's script as plain text, for a terminal, a mail or a screen reader."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from vibdiag.advice.script import Script

__all__ = ["script_lines"]

_WIDTH = 78


def _fold(text: str, first: str, later: str) -> str:
    return textwrap.fill(text, _WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)


def script_lines(script: Script, title: str) -> Iterator[str]:
    """Red flags on top, then the questions with tick boxes and branches."""
    yield title
    yield "Read the words as they stand. Don't know is a good answer."
    yield ""
    yield "STOP AND SAY SO"
    yield _fold(
        "A wheel was off lately and it grows: the car does not move until the torque of every wheel fastener has been "
        "checked.",
        "  !! ",
        "     ",
    )
    for answer, says in script.red_flags:
        yield _fold(f"{answer}. {says}", "  !! ", "     ")
    yield ""
    yield "IN THE CUSTOMER'S OWN WORDS"
    yield "  " + "_" * (_WIDTH - 2)
    yield "  starts at ______  worst at ______  gone again at ______  km/h or mph"
    yield ""
    yield "ASK IN THIS ORDER"
    for number, question in enumerate(script.questions, 1):
        yield _fold(f"“{question.step.ask}”", f"{number:2}. ", "    ")
        for outcome in question.step.outcomes.values():
            yield f"      [ ] {outcome.says}"
        yield "      [ ] Don't know"
        for branch in question.branches:
            yield _fold(f"{branch.says} -> “{branch.then.ask}” ______", "        ", "          ")
    yield ""
    yield _fold(
        "Read everything back. “Did I get everything right? What was the last thing done to the car, even something "
        "small or at home?”",
        "",
        "",
    )
