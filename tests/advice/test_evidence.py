"""From answers to evidence: which of two answers counts, what it is trusted, and when they clash."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.evidence import Findings, find_evidence
from vibdiag.case.model import Case
from vibdiag.reasoning.belief import Evidence
from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.derivation import NOTHING, Derivation

CaseOf = Callable[..., Case]
Parts = dict[str, Any]


def result(step: str, outcome: str, how: str = "measured") -> Parts:
    return {"step": step, "outcome": outcome, "how": how}


def findings_of(adviser: Adviser, case: Case) -> Findings:
    return find_evidence(case, adviser.base, adviser.engine)


def on_sign(findings: Findings, sign: str) -> Evidence | None:
    return next((item for item in findings.evidence if item.sign == sign), None)


class ByChainer:
    """The plain chainer in the engine's place."""

    def __init__(self, adviser: Adviser) -> None:
        self.rules = adviser.base.rule_set

    def evaluate(self, facts: Any, given: Any = NOTHING) -> Derivation:
        return chain(self.rules, facts, given)


def test_a_complaint_becomes_evidence_with_its_reason(adviser: Adviser, case_of: CaseOf) -> None:
    found = findings_of(adviser, case_of(complaint={"pull": "yes"}))
    assert found.evidence == (Evidence("pull", "yes", adviser.base.settings.trust.complaint),)
    assert found.because["pull"]
    assert found.clashes == ()
    assert found.results == {}


@pytest.mark.parametrize("how", ["measured", "looked", "told"])
def test_a_result_is_trusted_as_it_was_found(adviser: Adviser, case_of: CaseOf, how: str) -> None:
    found = findings_of(adviser, case_of(steps=[result("bay-bearing", "play-or-rough", how)]))
    wrongly = adviser.base.settings.named_wrongly if how == "told" else 0.0
    assert on_sign(found, "bearing") == Evidence(
        "bearing", "play-or-rough", getattr(adviser.base.settings.trust, how), wrongly
    )


@pytest.mark.parametrize("how", ["looked", "told"])
def test_nothing_found_in_a_hurry_is_trusted_less_than_something_found(
    adviser: Adviser, case_of: CaseOf, how: str
) -> None:
    """How "no play" was checked matters more than that it was said (common practice)."""
    trust = adviser.base.settings.trust
    clean = on_sign(findings_of(adviser, case_of(steps=[result("bay-damper", "sound", how)])), "damper")
    assert clean == Evidence("damper", "sound", getattr(trust, f"{how}_clean"))
    assert getattr(trust, f"{how}_clean") < getattr(trust, how)


@pytest.mark.parametrize("step", ["bay-bearing", "bay-steering-play", "bay-look-at-tyres", "bay-propshaft-joints"])
def test_a_check_that_hides_most_is_trusted_least_when_it_found_nothing(
    adviser: Adviser, case_of: CaseOf, step: str
) -> None:
    """A bearing is spun without load, a joint turned with the shaft in place, a belt parts under a whole tread (common
    practice)."""
    trust, text = adviser.base.settings.trust, adviser.base.steps[step]
    quiet = adviser.base.signs[text.sign].quiet or ""
    found = {
        how: on_sign(findings_of(adviser, case_of(steps=[result(step, quiet, how)])), text.sign)
        for how in ("looked", "told", "measured")
    }
    assert found == {
        "looked": Evidence(text.sign, quiet, text.looked_clean or 0.0),
        "told": Evidence(text.sign, quiet, text.told_clean or 0.0),
        "measured": Evidence(text.sign, quiet, trust.measured),
    }
    assert (text.looked_clean or 1.0) < trust.looked_clean
    assert (text.told_clean or 1.0) < trust.told_clean


def test_a_wrong_verdict_that_is_handed_on_names_some_culprit(adviser: Adviser, case_of: CaseOf) -> None:
    """Told "the propshaft joint": 0.55 * 0.92 + 0.45 * 0.2 for that cause, 0.55 * 0.04 + 0.45 * 0.2 for a silent one,
    instead of 0.45 * 0.04 for the noise: some 7 dB, not 11."""
    settings = adviser.base.settings
    found = findings_of(adviser, case_of(steps=[result("bay-propshaft-joints", "play-stiff-or-off", "told")]))
    report = on_sign(found, "propshaft-joints")
    assert report is not None
    model = adviser.base.model
    table = model.tables["propshaft-joints"]
    chances = report.column(table)
    for index, hypothesis in enumerate(model.hypotheses):
        true = table.rows[index, table.words.index("play-stiff-or-off")]
        wrong = (1.0 - settings.trust.told) * settings.named_wrongly
        assert chances[index] == pytest.approx(settings.trust.told * true + wrong), hypothesis


@pytest.mark.parametrize(
    ("kind", "step", "found", "effect"),
    [
        ("bearing-renewed", "bay-bearing", "play-or-rough", "bearing-work-effect"),
        ("mounts-renewed", "bay-mounts", "broken", "mounts-work-effect"),
        ("steering-suspension-work", "bay-steering-play", "play", "steering-work-effect"),
    ],
)
def test_what_was_found_and_mended_in_vain_is_no_news(
    adviser: Adviser, case_of: CaseOf, kind: str, step: str, found: str, effect: str
) -> None:
    """The effect of the repair says it, the finding speaks no longer for the part (common practice)."""
    case = case_of(history={"repairs": [{"what": kind, "effect": "none"}]}, steps=[result(step, found)])
    findings = findings_of(adviser, case)
    assert adviser.base.steps[step].sign in findings.no_news
    assert [(item.sign, item.word) for item in findings.evidence] == [(effect, "none")]
    assert findings.clashes == ()
    alone = case_of(history={"repairs": [{"what": kind, "effect": "none"}]})
    assert adviser.believe(case)[1].by_cause() == adviser.believe(alone)[1].by_cause()


@pytest.mark.parametrize(
    ("event", "cause"),
    [
        ("wheels-off", "loose-wheel"),
        ("other-wheels", "hub-centring-error"),
        ("new-tyres", "balanced-off-centre"),
        ("engine-work", "powertrain-mount"),
        ("engine-work", "accessory-or-exhaust"),
        ("driveline-work", "propshaft-imbalance"),
        ("driveline-work", "propshaft-joint"),
        ("driveline-work", "propshaft-centre-bearing"),
    ],
)
def test_work_of_long_ago_no_longer_raises_what_shows_at_once(
    adviser: Adviser, case_of: CaseOf, event: str, cause: str
) -> None:
    def after(days: float | None) -> float:
        told = {"what": event} if days is None else {"what": event, "ago_days": days}
        return adviser.believe(case_of(history={"events": [told]}))[1].of_cause(cause)

    before = adviser.base.model.believe(()).of_cause(cause)
    assert after(5) > after(None) > 1.2 * before
    assert after(400) < min(0.5 * after(5), 2.5 * before)
    assert after(60) == after(5)


def test_old_tyres_keep_what_shows_late(adviser: Adviser, case_of: CaseOf) -> None:
    """A tyre out of round or uneven in stiffness since it was fitted may be noticed a year later (common practice)."""
    old = adviser.believe(case_of(history={"events": [{"what": "new-tyres", "ago_days": 400}]}))[1]
    before = adviser.base.model.believe(())
    for cause in ("tyre-runout", "tyre-force-variation"):
        assert old.of_cause(cause) > 1.2 * before.of_cause(cause)


def test_a_jerk_as_the_converter_locks_is_the_converter(adviser: Adviser, case_of: CaseOf) -> None:
    for effect, word in (("brings", "stops"), ("eases", "stops"), ("unchanged", "unchanged")):
        found = findings_of(adviser, case_of(complaint={"conditions": {"clutch_or_lockup": effect}}))
        assert [(item.sign, item.word) for item in found.evidence] == [("lock-up", word)]


@pytest.mark.parametrize(
    ("told", "sign", "word"),
    [
        ({"vehicle": {"odometer_km": 29_999}}, "km-run", "low"),
        ({"vehicle": {"odometer_km": 30_000}}, "km-run", "middle"),
        ({"vehicle": {"odometer_km": 150_000}}, "km-run", "middle"),
        ({"vehicle": {"odometer_km": 150_001}}, "km-run", "high"),
        ({"complaint": {"speed": {"starts": 56, "fades": 72}}}, "band-height", "low"),
        ({"complaint": {"speed": {"starts": 56, "fades": 85}}}, "band-height", None),
        ({"complaint": {"speed": {"starts": 90, "fades": 115}}}, "band-height", "high"),
        ({"complaint": {"speed": {"starts": 40, "fades": 115}}}, "band-height", None),
        ({"complaint": {"speed": {"fades": 50}}}, "band-height", None),
        ({"history": {"events": [{"what": "crash"}]}}, "crash", "yes"),
        ({"history": {"not_happened": ["under-cover-touched"]}}, "under-cover-touched", "no"),
        ({"history": {"balance": {"needed": "impossible"}}}, "balance-found", "never-zero"),
    ],
)
def test_what_was_told_says_the_word(
    adviser: Adviser, case_of: CaseOf, told: Parts, sign: str, word: str | None
) -> None:
    found = on_sign(findings_of(adviser, case_of(**told)), sign)
    assert (None if found is None else found.word) == word


def test_a_measured_nothing_and_an_answer_at_the_desk_keep_their_trust(adviser: Adviser, case_of: CaseOf) -> None:
    trust = adviser.base.settings.trust
    measured = findings_of(adviser, case_of(steps=[result("bay-bearing", "sound")]))
    assert on_sign(measured, "bearing") == Evidence("bearing", "sound", trust.measured)
    asked = findings_of(adviser, case_of(steps=[result("ask-pull", "no", "told")]))
    assert on_sign(asked, "pull") == Evidence("pull", "no", trust.told)


@pytest.mark.parametrize("event", ["new-tyres", "rotation"])
def test_what_follows_from_another_answer_is_not_weighed_twice(adviser: Adviser, case_of: CaseOf, event: str) -> None:
    """New tyres cannot be fitted with the wheels on: that they were off is no news, but it still raises the danger."""
    once = case_of(history={"events": [{"what": event}]}, complaint={"growth": "sudden"})
    twice = case_of(history={"events": [{"what": event}, {"what": "wheels-off"}]}, complaint={"growth": "sudden"})
    found = findings_of(adviser, twice)
    assert "wheels-were-off" in found.no_news
    assert all(item.sign != "wheels-were-off" for item in found.evidence)
    assert adviser.believe(once)[1].by_cause() == adviser.believe(twice)[1].by_cause()
    assert "loose-wheel" in found.raised
    assert all(advice.step.sign != "wheels-were-off" for advice in adviser.assess(twice, steps=200).next)
    alone = findings_of(adviser, case_of(history={"events": [{"what": "wheels-off"}]}))
    assert on_sign(alone, "wheels-were-off") == Evidence(
        "wheels-were-off", "yes", adviser.base.settings.trust.complaint
    )


def test_trust_rises_from_told_to_measured(adviser: Adviser, case_of: CaseOf) -> None:
    """And so does what it does to the ranking."""
    trust = adviser.base.settings.trust
    assert trust.told < trust.looked < trust.measured
    prior = adviser.base.model.believe(()).of_cause("wheel-bearing")
    found = [
        adviser.believe(case_of(steps=[result("bay-bearing", "play-or-rough", how)]))[1].of_cause("wheel-bearing")
        for how in ("told", "looked", "measured")
    ]
    assert prior < found[0] < found[1] < found[2]


@pytest.mark.parametrize("told_first", [True, False])
def test_measured_outranks_told_by_another_step(adviser: Adviser, case_of: CaseOf, told_first: bool) -> None:
    steps = [result("ask-axle-swap", "no-change", "told"), result("bay-swap-axles", "moved")]
    found = findings_of(adviser, case_of(steps=steps if told_first else steps[::-1]))
    assert on_sign(found, "axle-swap") == Evidence("axle-swap", "moved", adviser.base.settings.trust.measured)


def test_measured_outranks_what_the_customer_told_and_the_clash_is_named(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(complaint={"conditions": {"braking": "brings"}}, steps=[result("road-brake", "unchanged")])
    found = findings_of(adviser, case)
    assert on_sign(found, "braking") == Evidence("braking", "unchanged", adviser.base.settings.trust.measured)
    (clash,) = found.clashes
    assert clash.id == "two-words-braking"
    assert adviser.base.signs["braking"].name in clash.says
    assert "brings" in clash.says
    assert "measured (unchanged)" in clash.says
    assert clash.ask == "road-brake"


def test_two_words_that_were_only_told_cancel_and_are_asked_again(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(complaint={"conditions": {"braking": "brings"}}, steps=[result("road-brake", "unchanged", "told")])
    found = findings_of(adviser, case)
    assert on_sign(found, "braking") is None
    (clash,) = found.clashes
    assert clash.ask is not None
    assert adviser.base.steps[clash.ask].sign == "braking"


def test_told_and_measured_alike_do_not_clash(adviser: Adviser, case_of: CaseOf) -> None:
    case = case_of(complaint={"conditions": {"braking": "brings"}}, steps=[result("road-brake", "brings")])
    found = findings_of(adviser, case)
    assert found.clashes == ()
    assert on_sign(found, "braking") == Evidence("braking", "brings", adviser.base.settings.trust.measured)


def test_two_measured_results_of_different_steps_clash_and_the_later_is_used(adviser: Adviser, case_of: CaseOf) -> None:
    first, second = result("bay-swap-axles", "moved"), result("ask-axle-swap", "no-change")
    found = findings_of(adviser, case_of(steps=[first, second]))
    (clash,) = found.clashes
    assert clash.id == "two-results-axle-swap"
    assert clash.ask == "ask-axle-swap"
    assert "bay-swap-axles" in clash.says
    later = on_sign(found, "axle-swap")
    assert later is not None
    assert later.word == "no-change"


def test_a_step_done_again_replaces_its_own_result(adviser: Adviser, case_of: CaseOf) -> None:
    """Loose, tightened, measured again: no clash, the car is as it is now."""
    again = [result("bay-fasteners", "loose"), result("bay-fasteners", "tight")]
    found = findings_of(adviser, case_of(steps=again))
    assert found.clashes == ()
    assert on_sign(found, "fasteners") == Evidence("fasteners", "tight", adviser.base.settings.trust.measured)
    assert found.results["bay-fasteners"].outcome == "tight"


def test_a_verdict_is_replaced_by_the_measurement_that_follows(adviser: Adviser, case_of: CaseOf) -> None:
    found = findings_of(
        adviser, case_of(steps=[result("bay-bearing", "sound", "told"), result("bay-bearing", "play-or-rough")])
    )
    assert found.clashes == ()
    assert on_sign(found, "bearing") == Evidence("bearing", "play-or-rough", adviser.base.settings.trust.measured)


def test_an_unknown_result_leaves_the_last_real_one(adviser: Adviser, case_of: CaseOf) -> None:
    steps = [result("bay-bearing", "sound"), result("bay-bearing", "unknown"), result("bay-fasteners", "unknown")]
    found = findings_of(adviser, case_of(steps=steps))
    assert found.results["bay-bearing"].outcome == "sound"
    assert found.unanswered == {"bay-fasteners"}


def test_contradictions_in_the_answers_are_named_with_what_to_ask(adviser: Adviser, case_of: CaseOf) -> None:
    """One rule of the rule base, read off its own example."""
    rule = adviser.base.rules["idle-but-road-speed"]
    assert rule.contradiction is not None
    case = case_of(complaint={"conditions": {"idle": "brings"}, "tracks": "road-speed"})
    (clash,) = findings_of(adviser, case).clashes
    assert (clash.id, clash.says, clash.ask) == (rule.id, rule.contradiction.says, rule.contradiction.ask)


def test_exclusions_and_raised_dangers_carry_their_reasons(adviser: Adviser, case_of: CaseOf) -> None:
    found = findings_of(adviser, case_of(vehicle={"driven": "front"}, complaint={"heat_or_smell": "yes"}))
    assert "propshaft-joint" in found.excluded
    assert found.raised["brake-drag"] == (adviser.base.rules["hot-wheel-told"].because,)


def test_engine_and_chainer_give_the_same_findings(adviser: Adviser, case_of: CaseOf) -> None:
    for told in (
        {},
        {"complaint": {"growth": "days", "noise": ["clunk"]}, "history": {"events": [{"what": "wheels-off"}]}},
        {"vehicle": {"driven": "all", "power": "electric"}, "steps": [result("bay-bearing", "sound", "looked")]},
    ):
        case = case_of(**told)
        assert findings_of(adviser, case) == find_evidence(case, adviser.base, ByChainer(adviser))


@pytest.mark.parametrize(
    ("step", "found"), [("bay-bearing", "play-or-rough"), ("bay-steering-play", "play"), ("bay-fasteners", "loose")]
)
def test_that_a_wheel_rocks_is_no_news_once_the_part_is_found(
    adviser: Adviser, case_of: CaseOf, step: str, found: str
) -> None:
    rocks = result("bay-rock-the-wheel", "yes")
    assert on_sign(findings_of(adviser, case_of(steps=[rocks])), "wheel-rocks") is not None
    assert "wheel-rocks" in findings_of(adviser, case_of(steps=[rocks, result(step, found)])).no_news
