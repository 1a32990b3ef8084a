"""The store with 100,000 cases: search under 50 ms, a save and a look for news while somebody types.

    python -m pytest tests/benchmarks/test_store_speed.py -s

PostgreSQL too where VIBDIAG_TEST_POSTGRES is set. On a slow or busy machine set VIBDIAG_SLOW_MACHINE.
"""

from __future__ import annotations

import os
import random
import statistics
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from sqlalchemy import insert, text

from tests.store.conftest import ADA, both, case_of, server_database, with_parts
from vibdiag.merging.plain import digest, plain, texts, to_text
from vibdiag.store.backup import backup
from vibdiag.store.connection import writing
from vibdiag.store.search import search
from vibdiag.store.shelf import StoreShelf
from vibdiag.store.store import CaseStore, open_store
from vibdiag.store.tables import cases, events
from vibdiag.store.words import search_text

SLACK = 2.0 if os.environ.get("VIBDIAG_SLOW_MACHINE") else 1.0
CASES = 100_000
SEARCH_P95_S = 0.050 * SLACK
SAVE_P95_S = 0.050 * SLACK
LIST_P95_S = 0.050 * SLACK
# 200 cases, each read whole; aside, so no key waits for it.
SCREEN_LIST_P95_S = 0.500 * SLACK
AT = "2026-01-01T00:00:00.{:06}+00:00"
# In every case, in one of a hundred, in one of ten thousand; then words that share a beginning.
COMMON = ("shake", "wheel", "motorway")
WORDS = [f"{start}{middle}{end}" for start in "bcdfgklmnprst" for middle in "aeiou" for end in ("ll", "nd", "rt", "st")]


def rows(count: int) -> Iterator[dict[str, Any]]:
    """Invented cases: five words that all have, some that few have."""
    chance = random.Random(1)
    for number in range(count):
        words = " ".join([*COMMON, *chance.choices(WORDS, k=12), f"hundred{number % 100}", f"rare{number % 10_000}"])
        data = plain(case_of(id=f"case-{number:06}", complaint={"words": words, "rhythm": "steady"}))
        kept = to_text(data)
        yield {
            "number": number + 1,
            "id": data["id"],
            "title": words[:60],
            "revision": 1,
            "changed_at": AT.format(number),
            "changed_by": "Ada",
            "data": kept,
            "search_text": search_text(texts(data)),
        }


@pytest.fixture(scope="module", params=["sqlite", both])
def large(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[CaseStore]:
    server = server_database() if request.param == "postgresql" else None
    place = next(server) if server else str(tmp_path_factory.mktemp("large") / "cases.db")
    with open_store(place) as store:
        begun = time.perf_counter()
        made = list(rows(CASES))
        with writing(store.engine) as connection:
            for start in range(0, CASES, 5_000):
                some = made[start : start + 5_000]
                connection.execute(insert(cases), some)
                connection.execute(
                    insert(events),
                    [
                        {
                            "case_number": row["number"],
                            "revision": 1,
                            "at": row["changed_at"],
                            "who": "Ada",
                            "source": "made",
                            "kind": "create",
                            "what": "opened",
                            "digest": digest(row["data"]),
                            "data": row["data"],
                        }
                        for row in some
                    ],
                )
            if server:
                connection.execute(text("SELECT setval('cases_number_seq', :last)"), {"last": CASES})
        if server:
            with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                # What a server does by itself within a minute.
                connection.execute(text("VACUUM ANALYZE"))
        print(f"\n{request.param}: {CASES} cases in {time.perf_counter() - begun:.1f} s")
        yield store
    if server:
        next(server, None)


def p95(call: Callable[[], object], *, rounds: int = 40) -> tuple[float, float]:
    """Median and 95th percentile, seconds; after three unmeasured calls."""
    taken = []
    for number in range(rounds + 3):
        begun = time.perf_counter()
        call()
        if number >= 3:
            taken.append(time.perf_counter() - begun)
    return statistics.median(taken), statistics.quantiles(taken, n=20)[-1]


@pytest.mark.parametrize(
    ("words", "fewest"),
    [
        ("shake", 50),
        ("sh", 50),
        ("s", 50),
        ("shake wheel motorway", 50),
        ("ball nest", 50),
        ("b c d", 50),
        ("hundred42", 50),
        ("hundred42 ball nest gart", 0),
        ("rare4242", 10),
        ("shake rare4242", 10),
        ("case-042424", 1),
        ("hundred1 hundred2", 50),
        ("nowhere", 0),
        ("shake nowhere", 0),
        ("b c d nowhere", 0),
        ("shake wheel motorway hundred42", 50),
    ],
)
def test_search_over_100_000_cases(large: CaseStore, words: str, fewest: int) -> None:
    found = search(large, words)
    if words == "hundred1 hundred2":
        # Each is the beginning of the other's neighbours, never both in one case.
        assert found == ()
    else:
        assert len(found) >= fewest
    middle, slow = p95(lambda: search(large, words))
    print(f"  {large.engine.dialect.name} '{words}': {middle * 1e3:.1f} ms, p95 {slow * 1e3:.1f} ms")
    assert slow < SEARCH_P95_S


def test_a_save_a_read_and_a_look_for_news(large: CaseStore) -> None:
    base = large.read("case-050000")
    numbers = iter(range(1_000))
    state = {"version": base}

    def save() -> None:
        case = with_parts(state["version"], notes=f"note {next(numbers)}")
        state["version"] = large.save(case, state["version"], ADA).version

    for name, call, budget in (
        ("save", save, SAVE_P95_S),
        ("read", lambda: large.read("case-070000"), SAVE_P95_S),
        ("news", lambda: large.revision("case-070000"), SAVE_P95_S),
        ("list", lambda: large.lines(limit=50), LIST_P95_S),
        ("stamp", StoreShelf(large).stamp, LIST_P95_S),
        ("open list of the screens", StoreShelf(large).entries, SCREEN_LIST_P95_S),
    ):
        middle, slow = p95(call)
        print(f"  {large.engine.dialect.name} {name}: {middle * 1e3:.2f} ms, p95 {slow * 1e3:.2f} ms")
        assert slow < budget


def test_a_backup_of_100_000_cases(large: CaseStore, tmp_path_factory: pytest.TempPathFactory) -> None:
    target = tmp_path_factory.mktemp("backup") / "backup.db"
    begun = time.perf_counter()
    assert backup(large, target) == CASES
    megabytes = target.stat().st_size / 1e6
    print(f"  {large.engine.dialect.name} backup: {time.perf_counter() - begun:.1f} s, {megabytes:.0f} MB")
