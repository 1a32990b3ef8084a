"""A rule base broken on purpose: each fault is found, alone, in its file and line, and a second one beside it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.accepted import ACCEPTED_FILE, accept, changes_since_accepted
from vibdiag.knowledge.base import RuleBase, RuleBaseError
from vibdiag.knowledge.check import find_faults
from vibdiag.knowledge.loader import load_rule_base

LOOSE = "causes/loose-wheel.yaml"
RUNOUT = "causes/tyre-runout.yaml"
WHEELS = "steps/bay-wheels.yaml"

# A small file of rules of our own, so that the shipped ones may change.
TRIAL = "derive/trial.yaml"
TRIAL_TEXT = """rules:
  - id: trial-rule
    when: [starts-kmh is above 80, told-rhythm is steady]
    then: fasteners is tight
    because: it is only a trial
    source: invented for this test
    fires: {starts-kmh: 90, told-rhythm: steady}
    silent: {starts-kmh: 70, told-rhythm: steady}
"""


def broken(folder: Path, file: str, old: str, new: str) -> int:
    """Replace the first `old` in `file` by `new`; returns the line where it stood."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text, f"{file} no longer says {old!r}"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def faults_in(folder: Path) -> list[InputError]:
    try:
        adviser = Adviser(load_rule_base(folder, FACTS))
    except RuleBaseError as error:
        return error.faults
    return list(find_faults(adviser.base, adviser.engine.evaluate))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "rules"
    shutil.copytree(shipped_folder("rules"), copy, ignore=shutil.ignore_patterns(ACCEPTED_FILE))
    (copy / TRIAL).write_text(TRIAL_TEXT, encoding="utf-8")
    return copy


def line_of(folder: Path, file: str, text: str) -> int:
    lines = (folder / file).read_text(encoding="utf-8").splitlines()
    return next(number for number, line in enumerate(lines, 1) if text in line)


def test_the_copy_is_sound(folder: Path) -> None:
    assert [str(fault) for fault in faults_in(folder)] == []


# What is broken (file, old, new), what must be said, and in which line: of the change, or of the entry named.
FAULTS = {
    "misspelt-key": (TRIAL, "    because: it", "    becouse: it", "did you mean 'because'?", None),
    "no-source": (TRIAL, "    source: invented for this test\n", "", "'source' is missing", "id: trial-rule"),
    "no-example": (
        TRIAL,
        "    silent: {starts-kmh: 70, told-rhythm: steady}\n",
        "",
        "'silent' is missing",
        "id: trial-rule",
    ),
    "no-sentence": (
        TRIAL,
        "starts-kmh is above 80",
        "faster than 80",
        "'faster than 80' is not a condition",
        "id: trial-rule",
    ),
    "no-conclusion": (TRIAL, "then: fasteners is tight", "then: tight", "is not a conclusion", "id: trial-rule"),
    "nothing-concluded": (TRIAL, "    then: fasteners is tight\n", "", "concludes exactly one of", "id: trial-rule"),
    "unknown-fact": (TRIAL, "starts-kmh is above", "start-kmh is above", "speaks of 'start-kmh'", "id: trial-rule"),
    "unknown-word": (TRIAL, "told-rhythm is steady", "told-rhythm is stedy", "cannot be 'stedy'", "id: trial-rule"),
    "word-as-number": (
        TRIAL,
        "told-rhythm is steady",
        "told-rhythm is above 3",
        "a word, not a number",
        "id: trial-rule",
    ),
    "number-as-word": (
        TRIAL,
        "starts-kmh is above 80",
        "starts-kmh is fast",
        "the number 'starts-kmh'",
        "id: trial-rule",
    ),
    "negated-sign": (
        TRIAL,
        "starts-kmh is above 80",
        "rhythm is not steady",
        "may only be tested with 'is'",
        "id: trial-rule",
    ),
    "concludes-fact": (TRIAL, "fasteners is tight", "told-rhythm is steady", "concludes the fact", "id: trial-rule"),
    "does-not-fire": (
        TRIAL,
        "starts-kmh: 90",
        "starts-kmh: 60",
        "does not fire on its example 'fires'",
        "id: trial-rule",
    ),
    "not-silent": (TRIAL, "starts-kmh: 70", "starts-kmh: 81", "fires on its example 'silent'", "id: trial-rule"),
    "example-of-nothing": (TRIAL, "{starts-kmh: 90,", "{start-kmh: 90,", "neither a fact nor a sign", "id: trial-rule"),
    "example-true": (TRIAL, "told-rhythm: steady}\n    silent", "told-rhythm: true}\n    silent", "found True", None),
    "exclude-nobody": (
        TRIAL,
        "then: fasteners is tight",
        "exclude: [loose-whell]",
        "no cause 'loose-whell'",
        "id: trial-rule",
    ),
    "danger-without-text": (
        TRIAL,
        "then: fasteners is tight",
        "danger: [aerodynamic, road-or-normal]",
        "'road-or-normal' does not exist or has no danger text",
        "id: trial-rule",
    ),
    "ask-nothing": (
        TRIAL,
        "then: fasteners is tight",
        "contradiction: {says: not both, ask: ask-nix}",
        "no step 'ask-nix'",
        "id: trial-rule",
    ),
    "unknown-sign-in-table": (LOOSE, "  - sign: fasteners\n", "  - sign: fastners\n", "no sign 'fastners'", None),
    "row-sums-to-less": (
        LOOSE,
        "{loose: 0.97, tight: 0.03}",
        "{loose: 0.87, tight: 0.03}",
        "sums to 0.9; it must sum to 1",
        None,
    ),
    "row-without-a-word": (
        LOOSE,
        "{loose: 0.97, tight: 0.03}",
        "{loose: 1.0}",
        "must name each of loose, tight once",
        None,
    ),
    "share-of-zero": (LOOSE, "{loose: 0.97, tight: 0.03}", "{loose: 1.0, tight: 0.0}", "has a share of 0", None),
    "share-above-one": (
        LOOSE,
        "{loose: 0.97, tight: 0.03}",
        "{loose: 1.97, tight: 0.03}",
        "less than or equal to 1",
        None,
    ),
    "wrong-axle-rows": (
        LOOSE,
        "    any: {loose: 0.97",
        "    front: {loose: 0.97",
        "one row 'any' or two rows",
        "- sign: fasteners",
    ),
    "table-twice": (LOOSE, "  - sign: bearing\n", "  - sign: click\n", "'click' is weighed twice", None),
    "axle-without-share": (LOOSE, "where: axle", "where: car", "'front_share' stands exactly where", "id: loose-wheel"),
    "front-share-of-one": (LOOSE, "front_share: ", "front_share: 1\n#", "less than 1", None),
    "negative-base-rate": (LOOSE, "base_rate: ", "base_rate: -", "greater than 0", None),
    "looks-like-nobody": (
        LOOSE,
        "looks_like: [",
        "looks_like: [nobody, ",
        "there is no cause 'nobody'",
        "id: loose-wheel",
    ),
    "file-name-and-id": (RUNOUT, "id: tyre-runout\n", "id: tyre-run-out\n", "the id must be 'tyre-runout'", None),
    "cleared-by-nothing": (
        LOOSE,
        "cleared_by: bay-fasteners",
        "cleared_by: bay-nix",
        "no step 'bay-nix'",
        "id: loose-wheel",
    ),
    "cleared-without-outcome": (LOOSE, "  clear_outcome: tight\n", "", "stand together", "danger:"),
    "cleared-by-no-outcome": (
        LOOSE,
        "clear_outcome: tight",
        "clear_outcome: snug",
        "'snug' is no outcome",
        "id: loose-wheel",
    ),
    "step-of-no-sign": (
        WHEELS,
        "    sign: fasteners\n",
        "    sign: fastners\n",
        "no sign 'fastners'",
        "- id: bay-fasteners",
    ),
    "step-without-caution": (
        WHEELS,
        "    caution: ",
        "    #caution: ",
        "needs 'steps' and a 'caution'",
        "- id: bay-fasteners",
    ),
    "step-settles-nobody": (
        WHEELS,
        "settles: loose-wheel",
        "settles: nobody",
        "there is no cause 'nobody'",
        "- id: bay-fasteners",
    ),
    "asks-on-about-no-word": (
        "steps/desk-noise-and-signs.yaml",
        "only_where: [clunk is yes]",
        "only_where: [clunk is loud]",
        "'loud' is no word of 'clunk'",
        "- id: ask-knock",
    ),
    "asks-on-without-a-sentence": (
        "steps/desk-noise-and-signs.yaml",
        "only_where: [clunk is yes]",
        "only_where: [after a clunk]",
        "'after a clunk' is not a conclusion",
        "- id: ask-knock",
    ),
    "clean-question": (
        "steps/desk-noise-and-signs.yaml",
        "    only_where: [clunk is yes]",
        "    told_clean: 0.2",
        "belong to a check",
        "- id: ask-knock",
    ),
    "needs-of-one-finding": (
        WHEELS,
        "tight: {says: ",
        "tight: {needs: [propshaft], says: ",
        "belongs to a question",
        "- id: bay-fasteners",
    ),
    "stop-now-without-a-red-flag": (
        "steps/desk-shake.yaml",
        "stop_now: [violent]",
        "stop_now: [slight]",
        "names outcomes that have a 'red_flag'",
        "- id: ask-severity",
    ),
    "red-flag-of-nothing": (
        WHEELS,
        "    red_flag:\n      loose:",
        "    red_flag:\n      lose:",
        "'lose' is no outcome",
        "- id: bay-fasteners",
    ),
    "sign-twice": ("signs.yaml", "  - id: fasteners\n", "  - id: rhythm\n", "", None),
    "trust-of-zero": ("settings.yaml", "  told: ", "  told: 0 #", "greater than 0", None),
    "bad-yaml": (TRIAL, "    because: it is", "   because: it is", "not readable as YAML", None),
    "key-twice": (
        TRIAL,
        "    because: it",
        "    id: trial-rule\n    because: it",
        "'id' stands here and already in line 2",
        None,
    ),
    "anchor": (TRIAL, "id: trial-rule", "id: &x trial-rule", "anchors and aliases", None),
}
# Breaking these takes other entries with them, so more than one fault is right.
WITH_FOLLOWERS = {"sign-twice", "example-true", "misspelt-key", "step-settles-nobody", "file-name-and-id"}
SECOND = ("causes/aerodynamic.yaml", "  - sign: ", "  - sign: no-", "there is no sign 'no-")


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found_where_it_stands(folder: Path, name: str) -> None:
    file, old, new, says, entry = FAULTS[name]
    line = broken(folder, file, old, new) if entry is None else 0
    if entry is not None:
        broken(folder, file, old, new)
        line = line_of(folder, file, entry)
    found = faults_in(folder)
    if name not in WITH_FOLLOWERS:
        assert [fault.message for fault in found] == [found[0].message]
    there = [fault for fault in found if says in fault.message and Path(fault.file or "") == folder / file]
    assert there, [str(fault) for fault in found]
    lines = {fault.spot.line for fault in there if fault.spot}
    # A list item's mapping is reported where the item begins; a new line in front moves it by one.
    assert lines & {line, line + 1}, [str(fault) for fault in there]


EXAMPLES = {"does-not-fire", "not-silent", "example-of-nothing"}


@pytest.mark.parametrize("name", [name for name in FAULTS if name not in EXAMPLES][::3])
def test_a_second_fault_elsewhere_is_told_in_the_same_run(folder: Path, name: str) -> None:
    file, old, new, says, _ = FAULTS[name]
    broken(folder, file, old, new)
    second, before, after, also = SECOND
    broken(folder, second, before, after)
    found = faults_in(folder)
    assert any(says in fault.message and Path(fault.file or "") == folder / file for fault in found)
    assert any(also in fault.message and Path(fault.file or "") == folder / second for fault in found)
    assert len(found) <= 12, [str(fault) for fault in found]


def test_two_wrong_examples_are_told_in_the_same_run(folder: Path) -> None:
    broken(folder, TRIAL, "starts-kmh: 90", "starts-kmh: 60")
    broken(folder, TRIAL, "starts-kmh: 70", "starts-kmh: 81")
    assert [fault.field for fault in faults_in(folder)] == ["fires", "silent"]


def test_a_missing_outcome_is_told_with_the_words_that_are_wanted(folder: Path) -> None:
    broken(folder, WHEELS, "      loose: {says:", "      lose: {says:")
    messages = [fault.message for fault in faults_in(folder)]
    assert "the outcomes of 'bay-fasteners' must be the words of 'fasteners': loose, tight" in messages


def test_two_rules_of_one_id_are_told_with_both_places(folder: Path) -> None:
    (folder / "derive/trial-2.yaml").write_text("# again\n" + TRIAL_TEXT, encoding="utf-8")
    (fault,) = faults_in(folder)
    # trial-2.yaml is read first
    assert fault.message == "the rule 'trial-rule' stands already in trial-2.yaml, line 3"
    assert str(fault).startswith(f"{folder / TRIAL}:2:")


def test_one_unreadable_file_is_one_fault_and_not_a_thousand(folder: Path) -> None:
    line = broken(folder, "signs.yaml", "    name: ", "    nmae: ")
    found = faults_in(folder)
    assert [fault.spot.line for fault in found if fault.spot] == [line - 1, line]
    assert all(Path(fault.file or "").name == "signs.yaml" for fault in found)


def without_rules(folder: Path) -> str:
    shutil.rmtree(folder / "derive")
    return "derive: holds no rule file"


def without_settings(folder: Path) -> str:
    (folder / "settings.yaml").unlink()
    return "settings.yaml: cannot be read: No such file"


def without_a_cause(folder: Path) -> str:
    (folder / "causes" / "road-or-normal.yaml").unlink()
    for path in [*(folder / "causes").glob("*.yaml"), *(folder / "derive").glob("*.yaml")]:
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("road-or-normal", path.stem), encoding="utf-8")
    return "there is no file for the cause 'road-or-normal'"


def with_latin_1(folder: Path) -> str:
    (folder / TRIAL).write_bytes(TRIAL_TEXT.replace("a trial", "ein Täst").encode("latin-1"))
    return "trial.yaml:5:"


def with_an_idle_sign(folder: Path) -> str:
    text = (
        "  - {id: idle-sign, name: nobody asks, words: [yes, no], background: {yes: 0.5, no: 0.5}, source: invented}\n"
    )
    with (folder / "signs.yaml").open("a", encoding="utf-8") as file:
        file.write(text)
    return "nothing can ever say that 'idle-sign' is 'yes'"


def with_an_unknown_cause(folder: Path) -> str:
    text = (folder / "causes/aerodynamic.yaml").read_text(encoding="utf-8")
    (folder / "causes/goblins.yaml").write_text(text.replace("id: aerodynamic", "id: goblins"), encoding="utf-8")
    return "'goblins' is not among the causes that a case may name"


@pytest.mark.parametrize(
    "damage",
    [without_rules, without_settings, without_a_cause, with_latin_1, with_an_idle_sign, with_an_unknown_cause],
)
def test_damage_to_the_folder_is_told(folder: Path, damage: Callable[[Path], str]) -> None:
    says = damage(folder)
    assert any(says in str(fault) for fault in faults_in(folder))


def test_a_folder_that_is_none_or_empty_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is not a folder"):
        load_rule_base(tmp_path / "nowhere", FACTS)
    with pytest.raises(RuleBaseError) as caught:
        load_rule_base(tmp_path, FACTS)
    told = [Path(fault.file or "").name for fault in caught.value.faults]
    assert told == ["settings.yaml", "signs.yaml", "causes", "steps", "derive"]


RULE_TEXTS = {
    path.relative_to(shipped_folder("rules")): path.read_text(encoding="utf-8")
    for path in sorted(shipped_folder("rules").rglob("*.yaml"))
}


@pytest.fixture(scope="module")
def playground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = tmp_path_factory.mktemp("playground") / "rules"
    for path, text in RULE_TEXTS.items():
        (copy / path).parent.mkdir(parents=True, exist_ok=True)
        (copy / path).write_text(text, encoding="utf-8")
    return copy


# Some 0.2 s a load, so few examples; the forms themselves are fuzzed through the case files.
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_mutated_rule_file_is_a_rule_base_or_a_list_of_faults(playground: Path, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(list(RULE_TEXTS)), "file")
    lines = RULE_TEXTS[path].splitlines(keepends=True)
    for _ in range(data.draw(st.integers(1, 3), "how many")):
        index = data.draw(st.integers(0, len(lines) - 1), "line")
        change = data.draw(st.sampled_from(["lose", "double", "indent", "cut", "digit", "word", "null"]), "change")
        line = lines[index]
        lines[index] = {
            "lose": "",
            "double": line + line,
            "indent": " " + line,
            "cut": line[: len(line) // 2],
            "digit": line.replace("0", "9", 1),
            "word": line.replace("e", "x", 1),
            "null": line.split(":")[0] + ":\n",
        }[change]
    (playground / path).write_text("".join(lines), encoding="utf-8")
    faults: list[InputError] = []
    try:
        assert isinstance(load_rule_base(playground, FACTS), RuleBase)
    except RuleBaseError as error:
        faults = error.faults
    finally:
        (playground / path).write_text(RULE_TEXTS[path], encoding="utf-8")
    assert all(str(fault).startswith(str(playground)) for fault in faults)


def test_nothing_has_changed_right_after_accepting(folder: Path) -> None:
    accept(load_rule_base(folder, FACTS))
    assert changes_since_accepted(load_rule_base(folder, FACTS)) == ()


@pytest.mark.parametrize(
    ("file", "old", "new", "entry", "before", "after"),
    [
        (
            LOOSE,
            "{loose: 0.97, tight: 0.03}",
            "{loose: 0.96, tight: 0.04}",
            f"{LOOSE}  fasteners (any)",
            "0.97",
            "0.96",
        ),
        (TRIAL, "starts-kmh is above 80", "starts-kmh is above 85", f"{TRIAL}  trial-rule", "above 80", "above 85"),
        (WHEELS, "minutes: 4", "minutes: 5", f"{WHEELS}  bay-fasteners", "4 min", "5 min"),
        (
            LOOSE,
            "clear_outcome: tight\n  raise_above: 0.",
            "clear_outcome: tight\n  raise_above: 0.9",
            "danger raise_above",
            "0.",
            "0.9",
        ),
    ],
)
def test_one_changed_number_is_named_with_before_and_after(
    folder: Path, file: str, old: str, new: str, entry: str, before: str, after: str
) -> None:
    accept(load_rule_base(folder, FACTS))
    broken(folder, file, old, new)
    (change,) = changes_since_accepted(load_rule_base(folder, FACTS))
    assert entry in change.entry
    assert before in (change.before or "")
    assert after in (change.after or "")
    assert change.sentence() == f"{change.entry}: {change.before} -> {change.after}"


def test_new_and_gone_entries_and_mere_words_are_told_apart(folder: Path) -> None:
    accept(load_rule_base(folder, FACTS))
    broken(folder, TRIAL, "because: it is only a trial", "because: it is still only a trial")
    assert changes_since_accepted(load_rule_base(folder, FACTS)) == ()
    broken(folder, TRIAL, "id: trial-rule", "id: other-rule")
    new, gone = changes_since_accepted(load_rule_base(folder, FACTS))
    assert (new.before, gone.after) == (None, None)
    assert new.sentence().startswith("derive/trial.yaml  other-rule: new, when ")
    assert gone.sentence().startswith("derive/trial.yaml  trial-rule: gone, was when ")


@pytest.mark.parametrize("content", [b"no tab here\n", b"\xff\xfe"])
def test_a_damaged_record_is_told(folder: Path, content: bytes) -> None:
    (folder / ACCEPTED_FILE).write_bytes(content)
    with pytest.raises(InputError, match=ACCEPTED_FILE):
        changes_since_accepted(load_rule_base(folder, FACTS))
