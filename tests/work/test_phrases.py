"""Words of the rule base and names of fields, as a reader says them."""

from __future__ import annotations

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.work.phrases import change_words, place_words, value_words


@pytest.mark.parametrize(
    ("field", "says"),
    [
        ("complaint.speed.read_from", "complaint: speed: read from"),
        ("measurements[tread-radial-runout, front-left].value", "measurements, tread radial runout, front left: value"),
        ("attachments[drive-1.csv].signs[follows].word", "attachments, drive-1.csv: signs, follows: word"),
        ("acknowledged[loose-wheel, A. Ben-Ali]", "acknowledged, loose wheel, A. Ben-Ali"),
        ("steps[ask-braking].words", "steps, {ask-braking}: words"),
        ("closed the case", "closed the case"),
        ("recording my-drive.csv", "recording my-drive.csv"),
    ],
)
def test_a_field_is_named_without_hyphens_of_ours(adviser: Adviser, field: str, says: str) -> None:
    steps = adviser.base.steps
    names = {cause.id: cause.short for cause in adviser.base.causes.values()}
    expected = says.replace("{ask-braking}", steps["ask-braking"].title)
    assert place_words(field, steps, names).casefold() == expected.casefold()


def test_values_are_said_whole(adviser: Adviser) -> None:
    steps = adviser.base.steps
    names = {cause.id: cause.short for cause in adviser.base.causes.values()}
    words = "Hit the kerb - well, nearly. The front-left wheel hums."
    answer = {"step": "ask-braking", "outcome": "brings", "words": words, "at": "2026-03-18T08:00:00Z"}
    braking = steps["ask-braking"]
    assert value_words(answer, steps) == f"{braking.title}, {braking.outcomes['brings'].says}, words {words}"
    assert value_words(words, steps) == words
    assert value_words("from-slow", steps) == "from slow"
    assert value_words("unknown", steps) == "not known"
    assert value_words("loose-wheel", steps, names) == adviser.base.causes["loose-wheel"].short
    assert value_words(["steering-wheel", "seat"], steps) == "steering wheel; seat"
    assert value_words([{"sign": "follows", "word": "wheel-1x"}], steps) == "sign follows, word wheel 1x"
    assert (value_words(None, steps), value_words(True, steps), value_words(1.80, steps)) == ("nothing", "yes", "1.8")


def test_what_another_changed_in_a_file_is_told_without_hyphens_of_ours(adviser: Adviser) -> None:
    told = change_words("history.repairs[wheel-seat-cleaned].effect: cured", adviser.base.steps)
    assert told == "history: repairs, wheel seat cleaned: effect: cured"
