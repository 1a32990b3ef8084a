"""Finding cases by words: every word must begin some word of the case; the newest cases come first."""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, Subquery, case, func, literal, select, text

from vibdiag.store.connection import reading
from vibdiag.store.face import CaseLine
from vibdiag.store.store import CaseStore, line_of
from vibdiag.store.tables import cases
from vibdiag.store.words import folded

__all__ = ["MOST", "search"]

MOST = 50
# Words that many cases have are found among the newest cases, without gathering all that have them; only where those
# do not suffice the index is asked. Measured with 100,000 cases: the first look takes some 3 ms.
_NEWEST = 2_000
_SQLITE = (
    "SELECT number FROM case_search JOIN cases ON number = case_search.rowid WHERE case_search MATCH :words{} "
    "ORDER BY case_search.rowid DESC LIMIT :limit"
)
# Gathered first and then put in order: the planner would otherwise walk through all cases, newest first.
_POSTGRESQL = (
    "WITH found AS MATERIALIZED (SELECT number FROM cases "
    "WHERE array_to_tsvector(string_to_array(search_text, ' ')) @@ CAST(:words AS tsquery)) "
    "SELECT number FROM found ORDER BY number DESC LIMIT :limit"
)


def search(store: CaseStore, words: str, *, limit: int = MOST) -> tuple[CaseLine, ...]:
    """The cases in which every word of `words` is found; none for no words.

    Only what a case holds now is searched, not what it once held.
    """
    wanted = sorted(set(folded(words)))
    if not wanted:
        return ()
    with reading(store.engine) as connection:
        numbers = _among_the_newest(connection, wanted, limit)
        if len(numbers) < limit:
            numbers = _by_index(connection, wanted, limit)
        rows = connection.execute(select(cases).where(cases.c.number.in_(numbers)).order_by(cases.c.number.desc()))
        return tuple(line_of(row) for row in rows)


def _among_the_newest(connection: Connection, wanted: list[str], limit: int) -> list[int]:
    newest, has = _newest(wanted)
    query = select(newest.c.number).where(*has).order_by(newest.c.number.desc()).limit(limit)
    return list(connection.execute(query).scalars())


def _newest(wanted: list[str]) -> tuple[Subquery, list[ColumnElement[bool]]]:
    """The newest cases, and for each word whether a case has it."""
    newest = select(cases.c.number, cases.c.search_text).order_by(cases.c.number.desc()).limit(_NEWEST).subquery()
    # Folded words hold letters and digits alone: nothing in them means something to LIKE, MATCH or tsquery.
    return newest, [(literal(" ") + newest.c.search_text).like(f"% {word}%") for word in wanted]


def _by_index(connection: Connection, wanted: list[str], limit: int) -> list[int]:
    given: dict[str, object] = {"limit": limit}
    if connection.dialect.name == "postgresql":
        connection.execute(text("SET LOCAL enable_seqscan = off"))
        query, given["words"] = _POSTGRESQL, " & ".join(f"'{word}':*" for word in wanted)
    else:
        # FTS5 reads the whole list of every word it is asked for, so it is asked for the telling ones alone.
        telling = _telling(connection, wanted)
        given["words"] = " ".join(f'"{word}"*' for word in telling)
        others = [word for word in wanted if word not in telling]
        given |= {f"other{place}": f"% {word}%" for place, word in enumerate(others)}
        query = _SQLITE.format(
            "".join(f" AND ' ' || cases.search_text LIKE :other{place}" for place in range(len(others)))
        )
    return list(connection.execute(text(query), given).scalars())


def _telling(connection: Connection, wanted: list[str]) -> list[str]:
    """The words that fewer than half of the newest cases have; the rarest where there is none."""
    newest, has = _newest(wanted)
    counts = connection.execute(select(*(func.sum(case((one, 1), else_=0)) for one in has)).select_from(newest)).one()
    seen = dict(zip(wanted, (int(count or 0) for count in counts), strict=True))
    return [word for word in wanted if seen[word] < _NEWEST / 2] or [min(wanted, key=lambda word: seen[word])]
