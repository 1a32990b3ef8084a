"""Two causes at once: the rows of a pair against exact inference in an independent library, and what follows from them.

Henrion 1989 for the noisy-OR with a leak (from memory); pgmpy's variable elimination over the causes as separate
variables is the outside check.
"""

from __future__ import annotations

import itertools
import warnings
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.base import RuleBase, RuleBaseError
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.knowledge.tables import row_of
from vibdiag.knowledge.together import either, mixed
from vibdiag.reasoning.belief import Evidence, Hypothesis

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

RIM, BALANCE = "bent-rim", "residual-imbalance"


@pytest.fixture(scope="module")
def base(adviser: Adviser) -> RuleBase:
    return adviser.base


def noisy_or(first: float, second: float, leak: float) -> float:
    """P(not shown) with both causes at work: cause and leak are nodes of their own, the sign is their OR."""
    network = DiscreteBayesianNetwork([("first", "sign"), ("second", "sign"), ("leak", "sign")])
    # A cause shows the sign of itself so often that with the leak alone the stated share stays quiet.
    for name, quiet in (("first", first / leak), ("second", second / leak), ("leak", leak)):
        network.add_cpds(TabularCPD(name, 2, [[quiet], [1.0 - quiet]]))
    shown = [max(parts) for parts in itertools.product((0, 1), repeat=3)]
    table = [[1 - one for one in shown], shown]
    network.add_cpds(TabularCPD("sign", 2, table, evidence=["first", "second", "leak"], evidence_card=[2, 2, 2]))
    return float(VariableElimination(network).query(["sign"], show_progress=False).values[0])


@pytest.mark.parametrize(
    ("first", "second", "leak"), [(0.2, 0.9, 0.95), (0.5, 0.5, 1.0), (0.94, 0.18, 0.94), (0.03, 0.04, 0.99)]
)
def test_a_pair_is_a_noisy_or_with_a_leak(first: float, second: float, leak: float) -> None:
    rows = np.array([1.0 - first, first]), np.array([1.0 - second, second])
    assert either(*rows, quiet=1, leak=leak)[1] == pytest.approx(noisy_or(first, second, leak), abs=1e-12)


@given(
    rows=st.lists(st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4), min_size=2, max_size=2),
    quiet=st.integers(0, 3),
    more=st.floats(0.0, 1.0),
)
def test_a_row_of_both_is_a_row_and_never_quieter_than_one_alone(
    rows: list[list[float]], quiet: int, more: float
) -> None:
    first, second = (np.array(row) / sum(row) for row in rows)
    most = max(first[quiet], second[quiet])
    both = either(first, second, quiet, most + more * (1.0 - most))
    assert both.sum() == pytest.approx(1.0)
    assert (both > 0.0).all()
    assert both[quiet] <= min(first[quiet], second[quiet]) + 1e-12
    # The words that either brings stand to each other as the two bring them.
    others = [word for word in range(4) if word != quiet]
    sums = (first + second)[others]
    assert both[others] / both[others].sum() == pytest.approx(sums / sums.sum())
    assert mixed(first, second, 0.8) == pytest.approx(0.8 * first + 0.2 * second)


def index_of(base: RuleBase, hypothesis: Hypothesis) -> int:
    return base.model.hypotheses.index(hypothesis)


def test_shipped_pairs_stand_on_one_axle_and_keep_their_base_rate(base: RuleBase) -> None:
    model = base.model
    whole = sum(cause.base_rate for cause in base.causes.values()) + sum(pair.base_rate for pair in base.pairs.pairs)
    for pair in base.pairs.pairs:
        mine = [index for index, one in enumerate(model.hypotheses) if one.causes == tuple(pair.causes)]
        axles = {model.hypotheses[index].axle for index in mine}
        placed = any(base.causes[cause].where == "axle" for cause in pair.causes)
        assert axles == ({"front", "rear"} if placed else {None})
        assert model.prior[mine].sum() == pytest.approx(pair.base_rate / whole)


def test_a_sign_of_one_cause_alone_stays_as_that_cause_has_it(base: RuleBase) -> None:
    """Where the other cause says nothing of a sign, the pair's row is the speaking cause's own."""
    table = base.model.tables["rim-runout"]
    silent = next(
        pair.causes
        for pair in base.pairs.pairs
        if RIM in pair.causes and row_of(base.causes[other(pair.causes)], base.signs["rim-runout"], "front") is None
    )
    row = table.rows[index_of(base, Hypothesis(silent[0], "front", silent[1]))]
    assert row == pytest.approx(table.rows[index_of(base, Hypothesis(RIM, "front"))])


def other(pair: list[str]) -> str:
    return next(cause for cause in pair if cause != RIM)


def test_an_amplifier_lends_its_own_looks_but_not_the_rhythm(base: RuleBase) -> None:
    """A sign without a quiet word is mostly that of the cause that makes the force (common practice)."""
    pair = Hypothesis("tyre-runout", "front", "steering-suspension-play")
    alone, worn = Hypothesis("tyre-runout", "front"), Hypothesis("steering-suspension-play", "front", variant="worn")
    follows = base.model.tables["follows"].rows
    expected = 0.8 * follows[index_of(base, alone)] + 0.2 * follows[index_of(base, worn)]
    assert follows[index_of(base, pair)] == pytest.approx(expected)
    play = base.model.tables["steering-play"]
    found = play.words.index("play")
    assert play.rows[index_of(base, pair), found] >= play.rows[index_of(base, worn), found]


def test_both_measured_both_named(base: RuleBase) -> None:
    """A rim over its limit and a wheel out of balance: one cause alone cannot give both, so the pair leads."""
    model = base.model
    found = [Evidence("rim-runout", "over", 0.98), Evidence("rim-lip", "bent", 0.98)]
    one = model.believe(found)
    both = model.believe(
        [
            *found,
            Evidence("balance-audit", "out", 0.98),
            Evidence("weight-missing", "yes", 0.98),
            Evidence("balance-found", "much", 0.98),
        ]
    )
    assert next(iter(one.by_explanation())) == (RIM,)
    assert next(iter(both.by_explanation())) == (RIM, BALANCE)
    assert both.of_cause(BALANCE) > 4 * one.of_cause(BALANCE)
    assert set(list(both.by_cause())[:2]) == {RIM, BALANCE}


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[bent-rim, residual-imbalance]", "[bent-rim, bent-rim]", "two causes, not 'bent-rim' twice"),
        ("[bent-rim, residual-imbalance]", "[bent-rim, bent-spoon]", "there is no cause 'bent-spoon'"),
        ("[bent-rim, tyre-runout]", "[residual-imbalance, bent-rim]", "stands already in pairs.yaml, line"),
        ("base_rate: 0.6", "base_rate: 0", "greater than 0"),
        ("amplified_share: 0.8", "amplified_share: 1.8", "less than or equal to 1"),
    ],
)
def test_a_fault_in_the_pairs_is_told_with_its_line(tmp_path: Path, old: str, new: str, says: str) -> None:
    folder = tmp_path / "rules"
    copytree(shipped_folder("rules"), folder)
    text = (folder / "pairs.yaml").read_text(encoding="utf-8")
    assert old in text
    (folder / "pairs.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleBaseError) as raised:
        load_rule_base(folder, FACTS)
    fault = next(fault for fault in raised.value.faults if says in fault.message)
    assert Path(fault.file or "").name == "pairs.yaml"
    assert fault.spot is not None
    lines = (folder / "pairs.yaml").read_text(encoding="utf-8").splitlines()
    assert any(new in line for line in lines[fault.spot.line - 1 : fault.spot.line + 2])


def test_a_rule_base_without_pairs_has_single_causes_only(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    copytree(shipped_folder("rules"), folder)
    (folder / "pairs.yaml").unlink()
    model = load_rule_base(folder, FACTS).model
    assert all(hypothesis.second is None for hypothesis in model.hypotheses)
    assert len(model.explanations) == len(model.causes)
