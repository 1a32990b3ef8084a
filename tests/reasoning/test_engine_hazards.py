"""The hazards of durable_rules 2.0.28, and that the adapter keeps clear of them.

The hash constants are those of the package's own source (`rete.c`, `state.h` of version 2.0.28). The texts
that share a hash are well-known examples from memory, and the first test proves that they do.
"""

from __future__ import annotations

import gc
import itertools
import json
import locale
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import vibdiag.reasoning.engine as adapter
from vibdiag.reasoning.chainer import chain
from vibdiag.reasoning.derivation import FactError
from vibdiag.reasoning.engine import Engine, EngineFault, fnv1a_32
from vibdiag.reasoning.language import Conclusion, Condition, Fact, Name, Rule, RuleSet

durable_rules_engine: Any = import_module("durable_rules_engine")

SAME_HASH = [("costarring", "liquid"), ("declinate", "macallums"), ("altarage", "zinke")]


def rule_set(*rules: Rule, facts: tuple[Name, ...] = ()) -> RuleSet:
    names = (
        Name("rhythm", ("steady", "once")),
        Name("speed_kmh", scale=10),
        Name("amount", scale=100_000),
        Name("beat", ("yes", "no"), derived=True),
        Name("advice", ("look", "weigh"), derived=True),
    )
    return RuleSet({name.name: name for name in names + facts}, rules)


def rule(identifier: str, *when: Condition, then: tuple[str, str] = ("beat", "yes")) -> Rule:
    return Rule(identifier, (when,), (Conclusion(*then),))


CHAINED = rule_set(
    rule("window", Condition("speed_kmh", "above", (), 80), Condition("speed_kmh", "below", (), 120)),
    rule("next", Condition("beat", "is", ("yes",)), then=("advice", "look")),
    rule("other", Condition("rhythm", "is not", ("once",)), then=("advice", "weigh")),
)


class Recorder:
    """The C module, with every call written down and, for one call, another answer than it gives."""

    def __init__(self) -> None:
        self.calls: list[tuple[str, tuple[object, ...]]] = []
        self.error: type[Exception] = durable_rules_engine.error
        self.instead: dict[tuple[str, int], object] = {}

    def __getattr__(self, name: str) -> object:
        def call(*arguments: object) -> object:
            number = sum(called == name for called, _ in self.calls)
            self.calls.append((name, arguments))
            answer = self.instead.get((name, number), self)
            if isinstance(answer, Exception):
                raise answer
            return getattr(durable_rules_engine, name)(*arguments) if answer is self else answer

        return call

    def names(self) -> list[str]:
        return [name for name, _ in self.calls]

    def messages(self) -> list[dict[str, object]]:
        return [json.loads(str(arguments[1])) for name, arguments in self.calls if name == "assert_fact"]


@pytest.fixture
def recorder(monkeypatch: pytest.MonkeyPatch) -> Recorder:
    made = Recorder()
    gc.collect()
    adapter._retired.clear()
    monkeypatch.setattr(adapter, "_rules", made)
    return made


@contextmanager
def raw_state(rules: dict[str, object]) -> Iterator[tuple[int, int]]:
    """The C module without the adapter, booted so that its state may be deleted: its handle and offset."""
    definition = {"boot": {"all": [{"c0": {"boot": 1}}]}, **rules}
    handle = durable_rules_engine.create_ruleset("raw", json.dumps(definition))
    _, offset = durable_rules_engine.assert_fact(handle, '{"id":"boot","sid":"c","boot":1}')
    assert durable_rules_engine.start_action_for_state(handle, offset) is not None
    assert durable_rules_engine.complete_and_start_action(handle, offset) is None
    try:
        yield handle, offset
    finally:
        durable_rules_engine.delete_state(handle, "c")
        durable_rules_engine.delete_ruleset(handle)


# Names


def test_the_hash_is_the_one_the_c_code_uses() -> None:
    from_rete_c = {"all": 321211332, "any": 740945997, "count": 967958004, "dist": 1281379241}
    from_state_h = {"id": 926444256, "sid": 3593476751}
    for text, value in (from_rete_c | from_state_h).items():
        assert fnv1a_32(text) == value
    for one, other in SAME_HASH:
        assert fnv1a_32(one) == fnv1a_32(other)


def test_identifiers_never_share_a_hash() -> None:
    made = list(itertools.islice(adapter._identifiers(), 20_000))
    reserved = adapter._RESERVED.split()
    assert len({fnv1a_32(name) for name in made + reserved}) == len(made) + len(reserved)
    assert all(name.isascii() and name.isalnum() and len(name) < 8 for name in made)


def test_names_and_words_that_share_a_hash_stay_apart() -> None:
    names = tuple(Name(name, pair) for pair in SAME_HASH for name in pair)
    rules = rule_set(
        *(rule(f"{name.name}-{word}", Condition(name.name, "is", (word,))) for name in names for word in name.words),
        facts=names,
    )
    facts = {"costarring": "liquid", "liquid": "costarring", "zinke": "altarage"}
    derived = Engine(rules).evaluate(facts)
    assert derived.fired == ("costarring-liquid", "liquid-costarring", "zinke-altarage")


def test_the_raw_engine_merges_such_names() -> None:
    """The reason for the identifiers: without them the wrong rule fires."""
    with raw_state({"r": {"all": [{"c0": {"liquid": 1}}], "dist": 0}}) as (handle, offset):
        assert durable_rules_engine.assert_fact(handle, '{"id":"a","sid":"c","costarring":1}')[0] == 0
        assert durable_rules_engine.start_action_for_state(handle, offset) is not None


@pytest.mark.parametrize("strange", ["$gt", 'a"b', "größer", "id", "sid", "a" * 3_000_000, "\n", "x1", "0"])
def test_no_name_or_word_or_rule_id_reaches_the_c_code(strange: str, recorder: Recorder) -> None:
    odd = Name(strange, (strange, "plain"))
    rules = rule_set(
        rule(strange, Condition(strange, "is", (strange,))),
        rule("plain", Condition(strange, "is", ("plain",)), then=("advice", "look")),
        facts=(odd,),
    )
    assert Engine(rules).evaluate({strange: strange}).fired == (strange,)
    sent = "".join(str(argument) for _, arguments in recorder.calls for argument in arguments)
    assert sent.isascii()
    assert len(sent) < 1000


# Numbers


def test_only_integers_reach_the_c_code(recorder: Recorder) -> None:
    rules = rule_set(
        *CHAINED.rules,
        rule("tiny", Condition("amount", "above", (), 1e-5), then=("advice", "look")),
        rule("negative", Condition("amount", "below", (), -1e-5), then=("advice", "weigh")),
    )
    engine = Engine(rules)
    for amount in (1e-5, -1e-5, 2e-5, 0.1 + 0.2, 21_000.0, 5e-324, -0.0, 3):
        for speed in (100.0, 80.05, 119.999, -1e-7):
            facts: dict[str, Fact] = {"amount": amount, "speed_kmh": speed, "rhythm": "once"}
            assert engine.evaluate(facts) == chain(rules, facts)
    values = [
        value
        for message in recorder.messages()
        for attribute, value in message.items()
        if attribute not in ("id", "sid")
    ]
    assert values
    assert all(type(value) is int for value in values)
    definition = str(recorder.calls[0][1][1])
    assert "." not in definition
    assert "e-" not in definition


@pytest.mark.parametrize("amount", [1e16, 1e22, -1e300, float("nan"), float("inf"), 10**30])
def test_numbers_that_do_not_fit_are_wrong_facts(amount: float, recorder: Recorder) -> None:
    engine = Engine(CHAINED)
    with pytest.raises(FactError, match="'speed_kmh' is "):
        engine.evaluate({"speed_kmh": amount})
    assert recorder.messages() == []


def test_the_raw_engine_refuses_what_prints_with_an_exponent() -> None:
    with (
        raw_state({"r": {"all": [{"c0": {"$gt": {"x": 0}}}]}}) as (handle, _),
        pytest.raises(durable_rules_engine.error),
    ):
        durable_rules_engine.assert_fact(handle, f'{{"id":"a","sid":"c","x":{1e-5}}}')


def test_two_limits_on_one_number_hold_together() -> None:
    assert Engine(CHAINED).evaluate({"speed_kmh": 100}).value("beat") == "yes"


@pytest.mark.parametrize(("dist", "fires"), [(1, False), (0, True)])
def test_the_raw_engine_needs_dist_0_for_that(dist: int, fires: bool) -> None:
    tests = [{"c0": {"$gt": {"x": 80}}}, {"c1": {"$lt": {"x": 120}}}]
    with raw_state({"r": {"all": tests, "dist": dist}}) as (handle, offset):
        durable_rules_engine.assert_fact(handle, '{"id":"a","sid":"c","x":100}')
        assert (durable_rules_engine.start_action_for_state(handle, offset) is not None) is fires


COMMA_LOCALES = [
    "de_DE.UTF-8",
    "de_DE.utf8",
    "fr_FR.UTF-8",
    "nl_NL.UTF-8",
    "da_DK.UTF-8",
    "ru_RU.UTF-8",
    "de_DE",
]
COMMA_PROGRAM = """
import locale, sys
for name in sys.argv[1:]:
    try:
        locale.setlocale(locale.LC_ALL, name)
    except locale.Error:
        continue
    if locale.localeconv()["decimal_point"] == ",":
        break
else:
    sys.exit("no locale with a decimal comma")
from test_engine_hazards import CHAINED
from vibdiag.reasoning.engine import Engine
engine = Engine(CHAINED)
print([engine.evaluate({"speed_kmh": speed}).value("beat") for speed in (80.0, 80.1, 99.5, 120.0)])
"""


def test_a_decimal_comma_does_not_matter(tmp_path: Path) -> None:
    """In a process of its own, with a locale that is installed or made here; what is sent is tested above."""
    environment = dict(os.environ)
    places = [str(Path(__file__).parent), str(Path(adapter.__file__).parents[2]), *sys.path]
    environment["PYTHONPATH"] = os.pathsep.join(places)
    for own_locale in (False, True):
        if own_locale:
            if shutil.which("localedef") is None:
                break
            made = ["localedef", "-i", "de_DE", "-f", "UTF-8", str(tmp_path / "de_DE.UTF-8")]
            if subprocess.run(made, capture_output=True, check=False).returncode:
                break
            environment["LOCPATH"] = str(tmp_path)
        command = [sys.executable, "-c", COMMA_PROGRAM, *COMMA_LOCALES]
        run = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
        if "no locale with a decimal comma" not in run.stderr:
            assert run.returncode == 0, run.stderr
            assert run.stdout.strip() == "[None, 'yes', 'yes', None]"
            return
    assert locale.localeconv()["decimal_point"] == "."
    pytest.skip("no locale with a decimal comma here, and none can be made")


# The order of calls


def test_every_evaluation_boots_first_and_deletes_its_state_last(recorder: Recorder) -> None:
    engine = Engine(CHAINED)
    for _ in range(3):
        recorder.calls.clear()
        engine.evaluate({"speed_kmh": 100, "rhythm": "steady"}, {"advice": "look"})
        calls = recorder.names()
        assert calls[:3] == ["assert_fact", "start_action_for_state", "complete_and_start_action"]
        assert calls[-1] == "delete_state"
        assert calls.count("delete_state") == 1
        assert set(calls) == {*calls[:3], "delete_state"}
        assert {message["sid"] for message in recorder.messages()} == {"c"}
        identifiers = [message["id"] for message in recorder.messages()]
        assert len(set(identifiers)) == len(identifiers), "no message is sent twice"


def test_an_unanswered_name_is_sent_as_unknown_and_an_unused_one_not_at_all(recorder: Recorder) -> None:
    rules = rule_set(rule("unasked", Condition("speed_kmh", "not known")))
    engine = Engine(rules)
    assert engine.evaluate({"rhythm": "once"}).fired == ("unasked",)
    assert len(recorder.messages()) == 2, "the boot fact and the unknown"


def test_a_state_is_not_deleted_before_an_action_has_run(recorder: Recorder) -> None:
    """Deleting it then frees a pointer that was never set."""
    engine = Engine(CHAINED)
    recorder.instead[("start_action_for_state", 0)] = None
    with pytest.raises(EngineFault, match="did not start"):
        engine.evaluate({})
    assert "delete_state" not in recorder.names()
    assert engine.evaluate({"speed_kmh": 100}).fired == ("next", "window"), "a fresh rule set serves"
    assert recorder.names().count("create_ruleset") == 2


FAULTS: list[tuple[tuple[str, int], object, str]] = [
    (("assert_fact", 1), (2, 1), "answered 2"),
    (("assert_fact", 1), (3, 1), "answered 3"),
    (("assert_fact", 1), (0, 7), "in state 7"),
    (("assert_fact", 1), (1, 1), "answered 1"),
    (("assert_fact", 2), durable_rules_engine.error("error code: 204"), "error code: 204"),
    (("start_action_for_state", 1), durable_rules_engine.error("error code: 311"), "error code: 311"),
    (("complete_and_start_action", 0), '{"r0":{}}', "before it had any fact"),
    (("complete_and_start_action", 1), '{"r0":{}}', "a second time"),
    (("complete_and_start_action", 1), '{"stranger":{}}', "'stranger'"),
    (("delete_state", 0), durable_rules_engine.error("error code: 309"), "error code: 309"),
]


@pytest.mark.parametrize(("where", "answer", "sentence"), FAULTS)
def test_a_fault_of_the_engine_is_neither_a_wrong_fact_nor_a_wrong_rule(
    where: tuple[str, int], answer: object, sentence: str, recorder: Recorder
) -> None:
    engine = Engine(CHAINED)
    facts: dict[str, Fact] = {"speed_kmh": 100, "rhythm": "steady"}
    recorder.instead[where] = answer
    with pytest.raises(EngineFault, match=sentence):
        engine.evaluate(facts)
    assert recorder.names().count("delete_state") == 1
    assert engine.evaluate(facts) == chain(CHAINED, facts), "the next evaluation starts clean"


def test_a_rule_set_that_c_refuses_is_a_fault(recorder: Recorder) -> None:
    recorder.instead[("create_ruleset", 0)] = durable_rules_engine.error("error code: 106")
    with pytest.raises(EngineFault, match="refused a checked rule base: error code: 106"):
        Engine(CHAINED)


def test_only_the_c_module_is_loaded_and_no_thread_starts() -> None:
    program = (
        "import sys, threading\n"
        "import vibdiag.reasoning.engine\n"
        "assert 'durable_rules_engine' in sys.modules\n"
        "assert not [name for name in sys.modules if name.split('.')[0] == 'durable']\n"
        "assert threading.active_count() == 1\n"
    )
    places = os.pathsep.join([str(Path(adapter.__file__).parents[2]), *sys.path])
    run = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": places},
    )
    assert run.returncode == 0, run.stderr


# Memory

statm = Path("/proc/self/statm")
needs_statm = pytest.mark.skipif(not statm.exists(), reason="resident memory is read from /proc")


def resident_kib() -> int:
    return int(statm.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 1024


@needs_statm
def test_memory_stays_flat_over_10_000_evaluations() -> None:
    engine = Engine(CHAINED)
    cases: list[dict[str, Fact]] = [{"speed_kmh": 100, "rhythm": "steady"}, {"rhythm": "once"}, {}]

    def evaluate(times: int) -> None:
        for number in range(times):
            engine.evaluate(cases[number % 3])

    evaluate(1000)
    before = resident_kib()
    evaluate(10_000)
    # A state that was not freed would take some 40 KiB each time.
    assert resident_kib() - before < 2048


@needs_statm
def test_many_engines_are_freed() -> None:
    def make(times: int) -> None:
        for _ in range(times):
            assert Engine(CHAINED).evaluate({"speed_kmh": 100}).value("beat") == "yes"

    make(50)
    before = resident_kib()
    make(1000)
    # A rule set that was not freed would take some 80 KiB each time.
    assert resident_kib() - before < 4096


def test_an_engine_outlives_its_neighbours(recorder: Recorder) -> None:
    kept = Engine(CHAINED)
    for _ in range(5):
        Engine(CHAINED)
        gc.collect()
        assert kept.evaluate({"speed_kmh": 100}).fired == ("next", "window")
    freed = [arguments for name, arguments in recorder.calls if name == "delete_ruleset"]
    assert len(freed) == len(set(freed)) == 4, "each once, when the next one was made, and never the one in use"
