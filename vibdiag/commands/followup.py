"""`vibdiag followup`: what has fallen due, and what to ask on the telephone."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from vibdiag.case.model import Case
from vibdiag.commands.output import input_errors, paragraph, print_json, say
from vibdiag.commands.where import opened_shelf
from vibdiag.files.errors import InputError
from vibdiag.work.call import CALL_CAUTION
from vibdiag.work.figures import CALL_QUESTIONS, Due, follow_ups_due
from vibdiag.work.shelf import DUE_NAMES

__all__ = ["show_follow_ups"]


def show_follow_ups(folder: Path | None, *, until: str | None, as_json: bool) -> None:
    """Print every open follow-up due until that day, the oldest first."""
    with input_errors():
        day = _day(until)
        with opened_shelf(folder, None) as shelf:
            pairs, where = list(shelf.each()), shelf.place
    names = {id(case): name for name, case in pairs}
    due = follow_ups_due([case for _, case in pairs], until=day)
    if as_json:
        items = [_data(one, names[id(one.case)]) for one in due]
        print_json(
            {"folder": where, "until": day.isoformat(), "questions": CALL_QUESTIONS, "caution": CALL_CAUTION}
            | {"due": items}
        )
        return
    if not due:
        say(f"Nothing is due until {day}, over {len(pairs)} case{'s' if len(pairs) != 1 else ''}.")
        return
    say(f"Due until {day}: {len(due)} follow-up{'s' if len(due) != 1 else ''}")
    for one in due:
        say()
        _say_one(one, names[id(one.case)])
    say()
    say("On the telephone:")
    for number, question in enumerate(CALL_QUESTIONS, 1):
        say(paragraph(question, first=f"  {number}. ", indent="     "))
    say()
    say(paragraph(CALL_CAUTION))


def _day(until: str | None) -> date:
    if until is None:
        return date.today()
    try:
        return date.fromisoformat(until)
    except ValueError as error:
        raise InputError(f"'{until}' is no day; --until takes year-month-day, such as 2026-03-31") from error


def _title(case: Case) -> str:
    return case.title or case.complaint.words.strip().partition("\n")[0][:60] or case.id


def _say_one(one: Due, name: str) -> None:
    late = f", {one.overdue_days} day{'s' if one.overdue_days != 1 else ''} ago" if one.overdue_days else ""
    invented = " (invented)" if one.case.invented else ""
    say(paragraph(f"{one.item.due}  {DUE_NAMES[one.item.what]}{late}", indent="  "))
    say(paragraph(f"{_title(one.case)}{invented}", first="  ", indent="  "))
    if one.item.note:
        say(paragraph(one.item.note, first="  ", indent="  "))
    say(f"  {Path(name).name}")


def _data(one: Due, name: str) -> dict[str, Any]:
    return {
        "file": name,
        "case": one.case.id,
        "title": _title(one.case),
        "invented": one.case.invented,
        "what": one.item.what,
        "due": one.item.due.isoformat(),
        "overdue_days": one.overdue_days,
        "note": one.item.note,
    }
