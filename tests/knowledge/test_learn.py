"""Learning from confirmed cases: counts as textbooks count, cases that stay left out, copies that stay readable."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.advice.lessons import lesson_of
from vibdiag.advice.score import score_cases
from vibdiag.case.storage import load_folder
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.base import RuleBase
from vibdiag.knowledge.check import find_faults
from vibdiag.knowledge.held_out import MOST_LEFT_OUT_SINGLY, cross_validate, split
from vibdiag.knowledge.learn import LEAST_CHANGE, Lesson, RowChange, learn, learned_row, relearned, rounded
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.knowledge.rewrite import edited, write_copy
from vibdiag.knowledge.tables import AXLES
from vibdiag.reasoning.belief import Evidence

REAL = Path(__file__).parents[1] / "real_cases"
NUMBER = re.compile(r"[0-9]*\.?[0-9]+")


def lesson(
    cause: str, *evidence: tuple[str, str], axle: str | None = None, trust: float = 1.0, case: str = "a"
) -> Lesson:
    return Lesson(case, cause, axle, tuple(Evidence(sign, word, trust) for sign, word in evidence))


def row_of(base: RuleBase, cause: str, sign: str, name: str = "any") -> dict[str, float]:
    table = next(table for table in base.causes[cause].tables if table.sign == sign)
    return dict(getattr(table, name))


def changed(rows: Sequence[RowChange]) -> set[tuple[str, str, str]]:
    return {(row.cause, row.sign, row.row) for row in rows}


# -- the update -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strength", "mean"), [(2, 0.446), (5, 0.446), (10, 0.446), (20, 0.447), (100, 0.450), (200, 0.453)]
)
def test_girl_births_of_the_beta_binomial_textbook_example(strength: float, mean: float) -> None:
    """Gelman et al., Bayesian Data Analysis, section 2.4, girl births given placenta previa: 437 girls of 980 births,
    prior mean 0.485 worth 2 to 200 births; posterior means of table 2.1 (from memory; recomputed, agreeing).
    """
    found = learned_row({"girl": 0.485, "boy": 0.515}, {"girl": 437, "boy": 543}, strength=strength)
    assert found["girl"] == pytest.approx(mean, abs=0.0006)


def test_a_dirichlet_update_by_hand() -> None:
    """Shares 0.5, 0.3, 0.2 worth 10 cases are counts 5, 3, 2; with 4 more of a and 1 of c they are 9, 3, 3 of 15."""
    found = learned_row({"a": 0.5, "b": 0.3, "c": 0.2}, {"a": 4, "c": 1}, strength=10)
    assert found == pytest.approx({"a": 9 / 15, "b": 3 / 15, "c": 3 / 15})


def test_a_row_of_the_rule_base_by_hand(rule_base: RuleBase) -> None:
    """hum-or-growl before a bearing is p worth 10 cases; two silent ones measured at trust 0.98, one told at 0.55."""
    p = row_of(rule_base, "wheel-bearing", "hum-or-growl")["yes"]
    lessons = [lesson("wheel-bearing", ("hum-or-growl", "no"), trust=trust) for trust in (0.98, 0.98, 0.55)]
    (row,) = learn(rule_base, lessons, strength=10).rows
    assert row.file == "causes/wheel-bearing.yaml"
    assert (row.sign, row.row, row.cases) == ("hum-or-growl", "any", 3)
    assert row.before["yes"] == p
    assert row.after["yes"] == pytest.approx(10 * p / (10 + 0.98 + 0.98 + 0.55), abs=0.0005)


def test_an_axle_teaches_its_own_row_and_an_unknown_one_neither(rule_base: RuleBase) -> None:
    felt = ("felt-most", "brake-pedal")
    for axle in AXLES:
        rows = learn(rule_base, [lesson("wheel-bearing", felt, axle=axle)], strength=5).rows
        assert changed(rows) == {("wheel-bearing", "felt-most", axle)}
    assert learn(rule_base, [lesson("wheel-bearing", felt)], strength=5).rows == ()


def test_only_rows_that_stand_in_the_file_are_learned(rule_base: RuleBase) -> None:
    spoken = {table.sign for table in rule_base.causes["wheel-bearing"].tables}
    evidence = [(sign.id, sign.words[-1]) for sign in rule_base.signs.values() if sign.id not in spoken]
    assert evidence
    found = learn(rule_base, [lesson("wheel-bearing", *evidence)] * 50, strength=1)
    assert found.rows == ()
    assert found.causes == rule_base.causes


def test_a_small_move_is_not_proposed(rule_base: RuleBase) -> None:
    p = row_of(rule_base, "wheel-bearing", "hum-or-growl")["yes"]
    silent = [lesson("wheel-bearing", ("hum-or-growl", "no"))]
    # One silent case among n imagined ones moves p by p / (n + 1).
    assert learn(rule_base, silent, strength=p / 0.008 - 1).rows == ()
    (row,) = learn(rule_base, silent, strength=p / 0.013 - 1).rows
    assert abs(row.after["yes"] - p) > LEAST_CHANGE


def test_base_rates_are_counted_only_when_asked(rule_base: RuleBase) -> None:
    lessons = [lesson("aerodynamic")] * 3
    assert learn(rule_base, lessons, strength=10).rates == ()
    learned = learn(rule_base, lessons, strength=10, base_rates=True)
    total = sum(cause.base_rate for cause in rule_base.causes.values())
    before = rule_base.causes["aerodynamic"].base_rate
    found = {rate.cause: rate for rate in learned.rates}["aerodynamic"]
    assert found.after == pytest.approx((10 * before / total + 3) / 13 * total, abs=0.005)
    assert found.cases == 3
    assert sum(cause.base_rate for cause in learned.causes.values()) == pytest.approx(total, abs=0.1)


@pytest.mark.parametrize("strength", [0.0, -1.0, float("nan")])
def test_a_prior_worth_nothing_is_refused(rule_base: RuleBase, strength: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        learn(rule_base, [], strength=strength)


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=9).filter(lambda shares: sum(shares) > 0.01))
def test_a_rounded_row_sums_to_one_and_rules_nothing_out(shares: list[float]) -> None:
    row = {f"w{index}": share / sum(shares) for index, share in enumerate(shares)}
    found = rounded(row)
    assert sum(round(1000 * share) for share in found.values()) == 1000
    assert min(found.values()) >= 0.001
    assert all(abs(found[word] - row[word]) <= 0.001 * len(row) for word in row)


def test_rows_learned_from_disturbed_tables_move_towards_the_truth(rule_base: RuleBase) -> None:
    """Seeded: the truth is every row mixed half and half with a row drawn at random; 120 cases are drawn from it."""
    rng = np.random.default_rng(7)
    strength = 20.0
    for cause in ("wheel-bearing", "propshaft-joint"):
        names = [table.sign for table in rule_base.causes[cause].tables if table.any is not None]
        truth: dict[str, dict[str, float]] = {}
        for sign in names:
            row = row_of(rule_base, cause, sign)
            drawn = rng.dirichlet(np.ones(len(row)))
            truth[sign] = {
                word: 0.5 * share + 0.5 * float(d) for (word, share), d in zip(row.items(), drawn, strict=True)
            }
        drawn_words = {sign: rng.choice(list(row), size=120, p=list(row.values())) for sign, row in truth.items()}
        lessons = [
            lesson(cause, *[(sign, str(words[number])) for sign, words in drawn_words.items()]) for number in range(120)
        ]
        learned = learn(rule_base, lessons, strength=strength)
        after = {row.sign: row for row in learned.rows}
        far = [sign for sign in names if distance(row_of(rule_base, cause, sign), truth[sign]) > 0.15]
        assert len(far) >= 8
        left = [distance(after[sign].after, truth[sign]) / distance(after[sign].before, truth[sign]) for sign in far]
        assert max(left) < 1.0
        assert sum(left) / len(left) < 0.5


def distance(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """Total variation, 0 to 1."""
    return 0.5 * sum(abs(one[word] - other[word]) for word in other)


# -- left-out cases -------------------------------------------------------------------------------------------------


def misleading(base: RuleBase) -> Lesson:
    """A confirmed case that looks like anything but its cause: for each sign the word that speaks most against it."""
    cause = "wheel-bearing"
    mine = base.model.members(cause)
    worst = []
    for table in base.causes[cause].tables:
        if table.any is None:
            continue
        sign = base.model.tables[table.sign]
        ratio = sign.rows[mine].mean(axis=0) / sign.background
        worst.append((table.sign, sign.words[int(np.argmin(ratio))]))
    return lesson(cause, *worst[:12], case="misleading")


def test_a_left_out_case_does_not_teach_its_own_answer(rule_base: RuleBase) -> None:
    """Learned from itself it would come first; left out it stays exactly where the tables as they stand put it."""
    flips = misleading(rule_base)
    strength = 0.5
    itself = relearned(rule_base, learn(rule_base, [flips], strength=strength)).model
    assert next(iter(itself.believe(flips.evidence).by_cause())) == flips.cause
    before = rule_base.model.believe(flips.evidence).by_cause()[flips.cause]
    tested = cross_validate(rule_base, [flips, lesson("aerodynamic", case="silent")], strength=strength)
    found = tested.learned.cases[0]
    assert found.case == "misleading"
    assert found.place > 1
    assert found.probability == before
    assert found == tested.unlearned.cases[0]


def test_a_second_case_of_the_kind_does_teach(rule_base: RuleBase) -> None:
    flips = misleading(rule_base)
    twin = Lesson("twin", flips.cause, None, flips.evidence)
    tested = cross_validate(rule_base, [flips, twin], strength=0.5)
    assert [case.place for case in tested.learned.cases] == [1, 1]
    assert tested.learned.brier < tested.unlearned.brier


def test_many_cases_are_left_out_in_ten_seeded_groups() -> None:
    assert split(4) == ((0,), (1,), (2,), (3,))
    many = MOST_LEFT_OUT_SINGLY + 7
    groups = split(many, seed=3)
    assert len(groups) == 10
    assert sorted(index for group in groups for index in group) == list(range(many))
    assert groups == split(many, seed=3)
    assert groups != split(many, seed=4)


def test_no_group_teaches_itself(rule_base: RuleBase) -> None:
    """The misleading case stands alone of its kind among many silent ones, so whatever its group, it learns nothing."""
    silent = [lesson("aerodynamic", case=f"s{number}") for number in range(MOST_LEFT_OUT_SINGLY)]
    tested = cross_validate(rule_base, [*silent, misleading(rule_base)], strength=0.5)
    assert tested.folds == 10
    assert tested.learned.cases[-1] == tested.unlearned.cases[-1]
    assert tested.learned.cases[-1].place > 1


def test_one_case_alone_cannot_be_left_out(rule_base: RuleBase) -> None:
    with pytest.raises(ValueError, match="two confirmed cases"):
        cross_validate(rule_base, [misleading(rule_base)], strength=1)


def test_the_unlearned_score_is_the_one_that_rules_score_prints(adviser: Adviser) -> None:
    cases = [case for _, case in load_folder(REAL)]
    lessons = [found for case in cases if (found := lesson_of(case, adviser)) is not None]
    known = score_cases(cases, adviser)
    unlearned = cross_validate(adviser.base, lessons[:2], strength=50).unlearned
    assert [(one.place, one.brier) for one in unlearned.cases] == [(one.place, one.brier) for one in known.cases[:2]]
    for one, other in zip(lessons, known.cases, strict=True):
        belief = adviser.base.model.believe(one.evidence, excluded=one.excluded)
        assert belief.by_cause()[other.confirmed] == pytest.approx(other.probability)


# -- the copy -------------------------------------------------------------------------------------------------------


def bearings() -> list[Lesson]:
    front = lesson("wheel-bearing", ("felt-most", "brake-pedal"), ("hum-or-growl", "no"), axle="front")
    return [front, lesson("loose-wheel", ("growth", "slow")), lesson("aerodynamic")]


def test_a_copy_differs_only_in_numbers_and_is_sound(tmp_path: Path) -> None:
    source, target = tmp_path / "rules", tmp_path / "learned"
    shutil.copytree(shipped_folder("rules"), source)
    base = load_rule_base(source, FACTS)
    learned = learn(base, bearings() * 10, strength=400, base_rates=True)
    before = {path: path.read_bytes() for path in source.rglob("*.yaml")}
    write_copy(base, learned, target, FACTS)
    copy = load_rule_base(target, FACTS)
    assert copy.causes == learned.causes
    assert list(find_faults(copy, Adviser(copy).engine.evaluate)) == []
    different = set()
    for path, content in before.items():
        assert path.read_bytes() == content
        text = (target / path.relative_to(source)).read_text(encoding="utf-8")
        assert NUMBER.sub("#", text) == NUMBER.sub("#", content.decode())
        old, new = content.decode().splitlines(), text.splitlines()
        different |= {(path.stem, a.split(":")[0].strip()) for a, b in zip(old, new, strict=True) if a != b}
    words = {(row.cause, row.row) for row in learned.rows} | {(rate.cause, "base_rate") for rate in learned.rates}
    assert different == words
    assert sorted(path.name for path in tmp_path.iterdir()) == ["learned", "rules"]


def test_nothing_is_written_over_or_into_a_rule_base(rule_base: RuleBase, tmp_path: Path) -> None:
    learned = learn(rule_base, bearings(), strength=3)
    shipped = shipped_folder("rules")
    (tmp_path / "there").mkdir()
    (tmp_path / "link").symlink_to(shipped)
    for target, said in (
        (shipped, "in use"),
        (shipped / "copy", "in use"),
        (rule_base.folder / "causes" / "copy", "in use"),
        (tmp_path / "link" / "copy", "in use"),
        (tmp_path / "there", "is there already"),
    ):
        with pytest.raises(InputError, match=said):
            write_copy(rule_base, learned, target, FACTS)
    with pytest.raises(OSError, match="No such file"):
        write_copy(rule_base, learned, tmp_path / "no" / "such", FACTS)
    assert not (shipped / "copy").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link", "there"]


def change(**after: float) -> list[RowChange]:
    before = {"yes": 0.25, "no": 0.75}
    return [RowChange("wheel-bearing", "click", "any", before, {"yes": after["yes"], "no": after["no"]}, 1)]


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (
            "    any: {yes: 0.25, no: 0.75}   # 0.25 says the trade\r\n",
            "    any: {yes: 0.3, no: 0.7}   # 0.25 says the trade\r\n",
        ),
        ("    any: {no: 0.75, yes: 0.25}\n", "    any: {no: 0.7, yes: 0.3}\n"),
        ('    any: {"yes" : .25, no: 7.5e-1}\n', '    any: {"yes" : 0.3, no: 0.7}\n'),
        ("    any:\n      yes: 0.25 # é 0.25\n      no: 0.75\n", "    any:\n      yes: 0.3 # é 0.25\n      no: 0.7\n"),
    ],
)
def test_numbers_are_replaced_however_the_row_is_written(row: str, expected: str) -> None:
    head = "tables: # 0.25\n  - sign: pull\n    any: {yes: 0.25, no: 0.75}\n  - sign: click\n"
    assert edited(head + row, [*change(yes=0.3, no=0.7)], file="a.yaml") == head + expected


def test_a_number_that_stands_elsewhere_is_refused() -> None:
    text = "tables:\n  - sign: click\n    any:\n      yes:\n        0.25\n      no: 0.75\n"
    with pytest.raises(
        InputError, match=r"a\.yaml:4:7: the number of 'yes' must stand in the same line, as 'yes: 0\.3'"
    ):
        edited(text, [*change(yes=0.3, no=0.7)], file="a.yaml")
