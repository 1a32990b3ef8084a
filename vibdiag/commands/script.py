"""`vibdiag script`: the interview to hold at a desk or on the telephone."""

from __future__ import annotations

from pathlib import Path

from vibdiag.advice.assess import Adviser
from vibdiag.advice.script import write_script
from vibdiag.commands.output import fail, input_errors, print_json, say
from vibdiag.commands.where import case_at
from vibdiag.files.atomic import write_atomically
from vibdiag.report.script_text import script_lines

__all__ = ["print_script"]


def print_script(case_path: Path | None, *, html: Path | None, count: int, rules: Path | None, as_json: bool) -> None:
    """Print the script as text or JSON, or write it as one HTML page."""
    with input_errors():
        adviser = Adviser.shipped(rules)
        assessment = adviser.assess(case_at(case_path)[0]) if case_path is not None else None
        script = write_script(adviser, count=count, assessment=assessment)
    title = f"Still open in {script.open_for}" if script.open_for else "The car shakes: what to ask"
    if as_json:
        print_json(
            {
                "open_for": script.open_for,
                "minutes": round(script.minutes, 1),
                "red_flags": [{"answer": answer, "says": says} for answer, says in script.red_flags],
                "questions": [
                    {
                        "id": question.step.id,
                        "ask": question.step.ask,
                        "bits": round(question.bits, 4),
                        "outcomes": {word: outcome.says for word, outcome in question.step.outcomes.items()},
                        "branches": [{"if": branch.word, "ask": branch.then.id} for branch in question.branches],
                    }
                    for question in script.questions
                ],
            }
        )
        return
    if html is not None:
        from vibdiag.report.pages import render

        try:
            write_atomically(html, render("script", title=title, script=script))
        except OSError as error:
            fail(f"{html} cannot be written: {error.strerror}")
        say(f"written: {html}")
        return
    for line in script_lines(script, title):
        say(line)
