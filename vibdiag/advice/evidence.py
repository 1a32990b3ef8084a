"""From a case to evidence: facts, what steps found, and what the rules make of both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from vibdiag.advice.facts import facts_of
from vibdiag.advice.recorded import weigh_recorded
from vibdiag.case.model import GONE, Case, StepResult
from vibdiag.files.errors import InputError
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.sentences import parse_conclusion
from vibdiag.reasoning.belief import Evidence
from vibdiag.reasoning.derivation import Derivation
from vibdiag.reasoning.language import Fact

__all__ = ["Clash", "Findings", "RuleEngine", "find_evidence", "refuse_unknown_steps"]

_RANK = {"told": 0, "looked": 1, "measured": 2}


class RuleEngine(Protocol):
    def evaluate(self, facts: Mapping[str, Fact], given: Mapping[str, str] = ...) -> Derivation: ...


@dataclass(frozen=True)
class Clash:
    """Two answers that cannot both be right: what to say, and which step to ask again."""

    id: str
    says: str
    ask: str | None


@dataclass(frozen=True)
class Findings:
    """Everything known about a case, ready for the belief.

    `no_news`: signs that follow from others that are known, so they are not weighed again. `because` has the reason
    for each sign; `results` the last answer to each step; `unanswered` the steps that were tried and ended with "don't
    know", which weigh nothing and are not offered again. What was seen after the repair is in none of these; `newest`
    alone has it, for dangers: the last result of each step, before or after.
    """

    facts: Mapping[str, Fact]
    evidence: tuple[Evidence, ...]
    no_news: frozenset[str]
    because: Mapping[str, str]
    excluded: frozenset[str]
    raised: Mapping[str, tuple[str, ...]]
    clashes: tuple[Clash, ...]
    results: Mapping[str, StepResult]
    unanswered: frozenset[str]
    newest: Mapping[str, StepResult]


def refuse_unknown_steps(case: Case, base: RuleBase) -> None:
    """Raises InputError, by its field, for a step or outcome of the case that the rule base does not have."""
    for index, result in enumerate(case.steps):
        step = base.steps.get(result.step)
        if step is None:
            raise InputError(f"there is no step '{result.step}' in the rule base", field=f"steps.{index}.step")
        gone = result.outcome == GONE and result.taken == "after"
        if not gone and result.outcome not in (*step.outcomes, "unknown"):
            raise InputError(
                f"'{result.outcome}' is no outcome of '{step.id}'; it can be {', '.join(step.outcomes)} or unknown",
                field=f"steps.{index}.outcome",
            )


def _latest(case: Case, base: RuleBase) -> tuple[dict[str, StepResult], dict[str, StepResult]]:
    """The last result of each step before the repair, and the last of each at any time.

    A step done wheel by wheel has a last result at each; the one that found something stands for the car. Raises
    InputError for a step or outcome the rule base does not have.
    """
    refuse_unknown_steps(case, base)
    latest: dict[str, dict[str, StepResult]] = {}
    newest: dict[str, dict[str, StepResult]] = {}
    for result in case.steps:
        step = base.steps[result.step]
        after = result.taken == "after"
        if result.outcome == "unknown" or (after and result.outcome == GONE):
            continue
        newest.setdefault(step.id, {})[result.wheel] = result
        earlier = latest.get(step.id, {}).get(result.wheel)
        # What was measured is not undone by what somebody says later.
        if not after and (earlier is None or _RANK[result.how] >= _RANK[earlier.how]):
            others = latest.pop(step.id, {})
            others.pop(result.wheel, None)
            latest[step.id] = others | {result.wheel: result}
    return _for_the_car(latest, base), _for_the_car(newest, base)


def _for_the_car(by_wheel: Mapping[str, Mapping[str, StepResult]], base: RuleBase) -> dict[str, StepResult]:
    """Of the results of each step at several wheels the surest that found something, else the last."""
    chosen = {}
    for step, results in by_wheel.items():
        quiet = base.signs[base.steps[step].sign].quiet
        last = list(results.values())
        found = [result for result in last if result.outcome != quiet and len(results) > 1]
        chosen[step] = max(found, key=lambda result: _RANK[result.how]) if found else last[-1]
    return chosen


def _strongest(results: Mapping[str, StepResult], base: RuleBase) -> tuple[dict[str, StepResult], list[Clash]]:
    """One result for each sign: the surest, and of equally sure ones the last. Measured against measured clashes."""
    chosen: dict[str, StepResult] = {}
    clashes = []
    for result in results.values():
        sign = base.steps[result.step].sign
        before = chosen.get(sign)
        if before is not None and before.outcome != result.outcome and before.how == result.how == "measured":
            clashes.append(
                Clash(
                    f"two-results-{sign}",
                    f"'{before.step}' found {before.outcome}, '{result.step}' found {result.outcome}; "
                    "the later one is used. Which is right?",
                    result.step,
                )
            )
        if before is None or _RANK[result.how] >= _RANK[before.how]:
            chosen[sign] = result
    return chosen, clashes


def _trust_in(result: StepResult, base: RuleBase) -> float:
    """How much a result is trusted; a quick or handed-on "nothing found" is trusted less than something found, and
    at some checks less than at others."""
    step = base.steps[result.step]
    if result.outcome != base.signs[step.sign].quiet or result.how == "measured" or step.kind != "check":
        return float(getattr(base.settings.trust, result.how))
    own = step.looked_clean if result.how == "looked" else step.told_clean
    return float(getattr(base.settings.trust, f"{result.how}_clean")) if own is None else own


def _named_wrongly(result: StepResult, base: RuleBase) -> float:
    """How often a wrong report says just this, at least: a wrong verdict that is handed on names some culprit."""
    names_a_fault = result.outcome != base.signs[base.steps[result.step].sign].quiet
    return base.settings.named_wrongly if result.how == "told" and names_a_fault else 0.0


def _no_news(known: Mapping[str, frozenset[str]], base: RuleBase) -> frozenset[str]:
    """Known signs that follow from other known signs."""
    found = set()
    for sign in base.signs.values():
        cited = [parse_conclusion(sentence) for sentence in sign.follows_from]
        if sign.id in known and any(known.get(one.name) == frozenset({one.word}) for one in cited):
            found.add(sign.id)
    return frozenset(found)


def _ask_about(base: RuleBase, sign: str) -> str | None:
    return next((step.id for step in base.steps.values() if step.sign == sign), None)


def find_evidence(case: Case, base: RuleBase, engine: RuleEngine) -> Findings:
    """All evidence of a case. A measured result outranks what was told; two told words for one sign clash.

    Signs read from recordings weigh by their own trust and feed no rule: a weak one must not rule out a cause.
    """
    results, newest = _latest(case, base)
    chosen, clashes = _strongest(results, base)
    facts = facts_of(case)
    derived = engine.evaluate(facts, {sign: result.outcome for sign, result in chosen.items()})
    trust = base.settings.trust
    evidence: list[Evidence] = []
    because: dict[str, str] = {}
    for sign in base.signs:
        words = derived.signs.get(sign, frozenset())
        if not words:
            continue
        result = chosen.get(sign)
        if len(words) > 1:
            stated = " and ".join(sorted(words))
            if result is None or result.how != "measured":
                clashes.append(
                    Clash(
                        f"two-words-{sign}",
                        f"{base.signs[sign].name}: {stated} cannot both be.",
                        _ask_about(base, sign),
                    )
                )
                continue
            clashes.append(
                Clash(
                    f"two-words-{sign}",
                    f"{base.signs[sign].name}: {stated} cannot both be; what was measured ({result.outcome}) is used.",
                    result.step,
                )
            )
        if result is not None and (len(words) > 1 or not derived.because_of.get((sign, result.outcome))):
            evidence.append(Evidence(sign, result.outcome, _trust_in(result, base), _named_wrongly(result, base)))
            because[sign] = f"{base.steps[result.step].outcomes[result.outcome].says}."
        else:
            word = next(iter(words))
            rules = derived.because_of[(sign, word)]
            surest = max(getattr(trust, base.rules[rule].trust) for rule in rules)
            surest = max(surest, _trust_in(result, base) if result else 0.0)
            evidence.append(Evidence(sign, word, surest))
            because[sign] = base.rules[rules[0]].because
    no_news = _no_news(derived.signs, base)
    evidence = [item for item in evidence if item.sign not in no_news]
    recorded = weigh_recorded(case, base, evidence, chosen)
    because |= recorded.because
    clashes += [Clash(f"recording-{sign}", says, _ask_about(base, sign)) for sign, says in recorded.conflicts.items()]
    evidence = list(recorded.evidence)
    excluded = frozenset(cause for cause in base.causes if f"exclude-{cause}" in derived.signs)
    raised = {
        cause: tuple(base.rules[rule].because for rule in derived.because_of[(f"danger-{cause}", "yes")])
        for cause in base.causes
        if f"danger-{cause}" in derived.signs
    }
    for rule_id in derived.fired:
        told = base.rules[rule_id].contradiction
        if told is not None:
            clashes.append(Clash(rule_id, told.says, told.ask))
    unanswered = frozenset(result.step for result in case.steps if result.taken == "before") - results.keys()
    return Findings(
        facts, tuple(evidence), no_news, because, excluded, raised, tuple(clashes), results, unanswered, newest
    )
