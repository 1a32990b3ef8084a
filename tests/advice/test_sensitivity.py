"""Halving and doubling a number by hand, in the files themselves, beside what the measure says."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from shutil import copytree

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.sensitivity import FACTOR, Sensitive, sensitivity
from vibdiag.case.model import Case
from vibdiag.files.shipped import shipped_folder

CaseOf = Callable[..., Case]


@pytest.fixture(scope="module")
def close(case_of: CaseOf) -> list[Case]:
    """Little is known of these, so a number can change the first cause."""
    return [
        case_of(
            complaint={"strongest": "steering-wheel", "speed": {"pattern": pattern}},
            outcome={"confirmed_cause": "hub-centring-error"},
        )
        for pattern in ("fast", "narrow-band", "from-slow")
    ]


@pytest.fixture(scope="module")
def found(adviser: Adviser, close: list[Case]) -> tuple[Sensitive, ...]:
    return sensitivity(close, adviser)


def edited(folder: Path, one: Sensitive, factor: float) -> Adviser:
    """A copy of the rule base in which a person has changed the number in the cause's file."""
    copytree(shipped_folder("rules"), folder)
    path = folder / "causes" / f"{one.cause}.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    sign = ""
    for number, line in enumerate(lines):
        sign = line.removeprefix("  - sign: ") if line.startswith("  - sign: ") else sign
        row = re.fullmatch(r"    (any|front|rear): \{(.*)\}", line)
        if row is None or sign != one.sign:
            continue
        shares = {word: float(share) for word, share in (part.split(": ") for part in row[2].split(", "))}
        shares[one.word] *= factor
        total = sum(shares.values())
        inside = ", ".join(f"{word}: {share / total:.12f}" for word, share in shares.items())
        lines[number] = f"    {row[1]}: {{{inside}}}"
    path.write_text("\n".join(lines), encoding="utf-8")
    return Adviser.shipped(folder)


def test_it_says_what_an_edit_of_the_file_does(
    adviser: Adviser, close: list[Case], found: tuple[Sensitive, ...], tmp_path: Path
) -> None:
    plain = [one for one in found if not adviser.base.causes[one.cause].variants][:3]
    assert plain
    for number, one in enumerate(plain):
        for factor, changes, gains in (
            (1.0 / FACTOR, one.halved_changes, one.halved_gains),
            (FACTOR, one.doubled_changes, one.doubled_gains),
        ):
            other = edited(tmp_path / f"{number}-{factor:g}", one, factor)
            before = [next(iter(adviser.believe(case)[1].by_cause())) for case in close]
            after = [next(iter(other.believe(case)[1].by_cause())) for case in close]
            uses = [
                any(item.word == one.word for item in adviser.believe(case)[0].evidence if item.sign == one.sign)
                for case in close
            ]
            assert sum(a != b for a, b, used in zip(after, before, uses, strict=True) if used) == changes
            right = "hub-centring-error"
            assert (
                sum((a == right) - (b == right) for a, b, used in zip(after, before, uses, strict=True) if used)
                == gains
            )


def test_what_changes_most_comes_first_and_what_changes_nothing_is_left_out(found: tuple[Sensitive, ...]) -> None:
    assert found
    assert [one.changes for one in found] == sorted((one.changes for one in found), reverse=True)
    assert all(one.changes > 0 for one in found)
    assert all(one.cases >= one.changes for one in found)


def test_without_a_confirmed_cause_there_is_nothing_to_hang_on(adviser: Adviser, case_of: CaseOf) -> None:
    assert sensitivity([case_of(complaint={"pull": "yes"})], adviser) == ()
