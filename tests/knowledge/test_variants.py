"""A cause that shows itself in several ways: a mixture of rows, still exact."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.facts import FACTS
from vibdiag.files.shipped import shipped_folder
from vibdiag.knowledge.base import RuleBase, RuleBaseError
from vibdiag.knowledge.check import find_faults
from vibdiag.knowledge.loader import load_rule_base
from vibdiag.reasoning.belief import Evidence

JUDDER = "converter-or-clutch-judder"


@pytest.fixture(scope="module")
def base(adviser: Adviser) -> RuleBase:
    return adviser.base


def test_shares_split_the_base_rate(base: RuleBase) -> None:
    whole = sum(cause.base_rate for cause in base.causes.values()) + sum(pair.base_rate for pair in base.pairs.pairs)
    for cause in base.causes.values():
        for variant in cause.variants:
            mine = [
                prior
                for prior, one in zip(base.model.prior, base.model.hypotheses, strict=True)
                if one.causes == (cause.id,) and one.variant == variant.id
            ]
            assert len(mine) == (2 if cause.where == "axle" else 1)
            assert sum(mine) == pytest.approx(cause.base_rate * variant.share / whole)


def test_a_variant_speaks_with_its_own_rows_and_else_with_those_of_the_cause(base: RuleBase) -> None:
    model, cause = base.model, base.causes[JUDDER]
    clutch = next(index for index, one in enumerate(model.hypotheses) if one.variant == "clutch")
    stated = next(table for variant in cause.variants if variant.id == "clutch" for table in variant.tables)
    assert stated.any is not None
    table = model.tables[stated.sign]
    assert table.rows[clutch] == pytest.approx([stated.any[word] for word in table.words], abs=1e-6)
    own = {table.sign for variant in cause.variants for table in variant.tables}
    shared = next(table for table in cause.tables if table.sign not in own)
    assert shared.any is not None
    table = model.tables[shared.sign]
    assert table.rows[clutch] == pytest.approx([shared.any[word] for word in table.words], abs=1e-6)


def test_what_belongs_together_counts_together(base: RuleBase) -> None:
    """A judder on pulling away with a manual gearbox is a clutch, one at a steady speed with an automatic a converter;
    crossed, either speaks against both (common practice). One row for the cause could not say so."""
    model = base.model

    def chance(gearbox: str, when: str) -> float:
        found = [
            Evidence("gearbox-kind", gearbox),
            Evidence("pull-away", "brings" if when == "pull-away" else "unchanged"),
        ]
        return model.believe([*found, Evidence("cruise", "absent" if when == "pull-away" else "present")]).of_cause(
            JUDDER
        )

    assert chance("manual", "pull-away") > 3 * chance("manual", "cruise")
    assert chance("automatic", "cruise") > 3 * chance("manual", "cruise")
    assert chance("manual", "pull-away") > chance("automatic", "pull-away")


def test_in_a_pair_the_variants_are_mixed(base: RuleBase) -> None:
    model, cause = base.model, base.causes[JUDDER]
    pair = next(index for index, one in enumerate(model.hypotheses) if one.second is not None and JUDDER in one.causes)
    gearbox = model.tables["gearbox-kind"]
    rows = {
        variant.id: table.any for variant in cause.variants for table in variant.tables if table.sign == "gearbox-kind"
    }
    partner = next(one for one in model.hypotheses[pair].causes if one != JUDDER)
    assert all(table.sign != "gearbox-kind" for table in base.causes[partner].tables)
    mixture = sum(variant.share * (rows[variant.id] or {})["manual"] for variant in cause.variants)
    assert gearbox.rows[pair, gearbox.words.index("manual")] == pytest.approx(mixture)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("share: 0.32", "share: 0.5", "shares of the variants must sum to 1"),
        (
            "{sign: gearbox-kind, any: {automatic: ",
            "{sign: gearbox-kind, any: {automatic: 0.5, tiptronic: ",
            "must name each of",
        ),
        ("      - {sign: lock-up,", "      - {sign: lock-pick,", "there is no sign 'lock-pick'"),
    ],
)
def test_a_fault_in_a_variant_is_told_with_its_line(tmp_path: Path, old: str, new: str, says: str) -> None:
    folder = tmp_path / "rules"
    copytree(shipped_folder("rules"), folder)
    path = folder / "causes" / f"{JUDDER}.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleBaseError) as raised:
        load_rule_base(folder, FACTS)
    fault = next(fault for fault in raised.value.faults if says in fault.message)
    assert Path(fault.file or "").name == path.name
    assert fault.spot is not None


def test_a_variant_that_says_nothing_counts_as_the_background_in_a_pair(base: RuleBase) -> None:
    model = base.model
    for index, one in enumerate(model.hypotheses):
        if one.second is not None:
            for table in model.tables.values():
                assert table.rows[index].sum() == pytest.approx(1.0), (one, table.sign)


def test_a_row_that_every_variant_replaces_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    copytree(shipped_folder("rules"), folder)
    path = folder / "causes" / f"{JUDDER}.yaml"
    text = path.read_text(encoding="utf-8")
    row = "  - sign: gearbox-kind\n    any: {automatic: 0.5, manual: 0.5}\n    source: common practice\n"
    path.write_text(text.replace("\nvariants:", f"\n{row}variants:", 1), encoding="utf-8")
    adviser = Adviser(load_rule_base(folder, FACTS))
    (fault,) = find_faults(adviser.base, adviser.engine.evaluate)
    assert f"the row of 'gearbox-kind' is never used: every variant of '{JUDDER}' has its own" in fault.message
    assert Path(fault.file or "").name == path.name
