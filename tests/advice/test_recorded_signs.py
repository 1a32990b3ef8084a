"""Signs read from recordings: kept in the case, weighed by trust, silent after the repair, never above the bay."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import case_from_text, case_to_text
from vibdiag.files.errors import InputError

CaseOf = Callable[..., Case]


def recording(word: str, trust: float, *, sign: str = "follows", taken: str = "before") -> dict[str, Any]:
    said = {"sign": sign, "word": word, "trust": trust, "because": f"{word} at 14.2 Hz."}
    return {"path": f"{word}.csv", "taken": taken, "signs": [said]}


def chance(adviser: Adviser, case: Case, cause: str = "residual-imbalance") -> float:
    return adviser.believe(case)[1].by_cause()[cause]


def test_signs_survive_the_file(case_of: CaseOf) -> None:
    case = case_of(attachments=[recording("wheel-1x", 0.83)])
    again = case_from_text(case_to_text(case))
    assert again == case
    assert again.attachments[0].signs[0].trust == 0.83


def test_an_old_attachment_without_signs_reads_as_before(case_of: CaseOf) -> None:
    case = case_of(attachments=[{"path": "seat.csv", "taken": "before"}])
    assert case.attachments[0].signs == []
    assert "signs" not in case_to_text(case)


@pytest.mark.parametrize("trust", [-0.01, 1.01, float("nan"), True, "0.9"])
def test_a_trust_is_a_share(case_of: CaseOf, trust: Any) -> None:
    with pytest.raises(ValueError, match="trust"):
        case_of(attachments=[recording("wheel-1x", trust)])


def test_the_surer_a_recording_the_further_it_moves(adviser: Adviser, case_of: CaseOf) -> None:
    base = chance(adviser, case_of())
    moved = [
        abs(chance(adviser, case_of(attachments=[recording("wheel-1x", trust)])) - base)
        for trust in (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.97)
    ]
    assert moved[0] == 0.0
    assert moved[1] < 0.1 * moved[-1]
    assert moved == sorted(set(moved))


def test_a_recording_weighs_as_a_noisy_report(adviser: Adviser, case_of: CaseOf) -> None:
    """Bayes' rule by hand over the model's own tables: trust * row + (1 - trust) * background."""
    model = adviser.base.model
    column = model.tables["follows"].words.index("engine")
    table = model.tables["follows"]
    by_hand = model.prior * (0.6 * table.rows[:, column] + 0.4 * table.background[column])
    by_hand /= by_hand.sum()
    expected: dict[str, float] = {}
    for hypothesis, share in zip(model.hypotheses, by_hand, strict=True):
        for cause in hypothesis.causes:
            expected[cause] = expected.get(cause, 0.0) + float(share) / len(hypothesis.causes)
    told = adviser.believe(case_of(attachments=[recording("engine", 0.6)]))[1].by_cause()
    empty = adviser.believe(case_of())[0]
    assert empty.evidence == ()
    assert told == pytest.approx(expected)


def test_after_the_repair_it_does_not_weigh(adviser: Adviser, case_of: CaseOf) -> None:
    after = case_of(attachments=[recording("engine", 0.97, taken="after")])
    assert adviser.believe(after)[0].evidence == ()
    assert chance(adviser, after) == chance(adviser, case_of())


def test_a_measured_result_stands_and_a_strong_contradiction_is_said(adviser: Adviser, case_of: CaseOf) -> None:
    step = next(step for step in adviser.base.steps.values() if len(step.outcomes) > 1 and step.sign == "rhythm")
    measured, other = list(step.outcomes)[:2]
    steps = [{"step": step.id, "outcome": measured, "how": "measured"}]
    alone = adviser.believe(case_of(steps=steps))[0]
    for trust, said in ((0.97, 1), (0.3, 0)):
        findings = adviser.believe(case_of(steps=steps, attachments=[recording(other, trust, sign="rhythm")]))[0]
        assert findings.evidence == alone.evidence
        clashes = [clash for clash in findings.clashes if clash.id == "recording-rhythm"]
        assert len(clashes) == said
        assert all(clash.ask == step.id or clash.ask in adviser.base.steps for clash in clashes)


def test_what_was_only_told_gives_way_to_a_surer_recording(adviser: Adviser, case_of: CaseOf) -> None:
    step = next(step for step in adviser.base.steps.values() if len(step.outcomes) > 1 and step.sign == "rhythm")
    told, other = list(step.outcomes)[:2]
    steps = [{"step": step.id, "outcome": told, "how": "told"}]
    for trust, used in ((0.9, other), (0.3, told)):
        findings = adviser.believe(case_of(steps=steps, attachments=[recording(other, trust, sign="rhythm")]))[0]
        assert [each.word for each in findings.evidence if each.sign == "rhythm"] == [used]
        assert any(clash.id == "recording-rhythm" for clash in findings.clashes) == (trust > 0.7)


def test_two_strong_recordings_that_disagree_are_said(adviser: Adviser, case_of: CaseOf) -> None:
    both = case_of(attachments=[recording("engine", 0.9), recording("wheel-1x", 0.95)])
    findings = adviser.believe(both)[0]
    assert [(each.word, each.trust) for each in findings.evidence] == [("wheel-1x", 0.95)]
    assert "another engine" in next(clash.says for clash in findings.clashes if clash.id == "recording-follows")


@pytest.mark.parametrize(
    ("attached", "says"),
    [
        (recording("x", 0.5, sign="no-such"), "there is no sign 'no-such'"),
        (recording("sideways", 0.5), "'sideways' is no word of 'follows'; it can be wheel-1x"),
    ],
)
def test_what_the_rule_base_lacks_is_one_sentence(
    adviser: Adviser, case_of: CaseOf, attached: dict[str, Any], says: str
) -> None:
    with pytest.raises(InputError, match=says):
        adviser.believe(case_of(attachments=[attached]))


def test_the_reason_names_the_recording(adviser: Adviser, case_of: CaseOf) -> None:
    first = adviser.assess(case_of(attachments=[recording("engine", 0.9)])).causes[0]
    reason = next(each for each in first.speaks_for if each.sign == "follows")
    assert reason.because == "A recording: engine at 14.2 Hz."
    assert reason.trust == 0.9
