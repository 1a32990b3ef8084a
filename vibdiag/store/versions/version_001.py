"""The first released form of the store, with the search index of each database."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["upgrade"]

revision = "001"
down_revision = None

# FTS5 over `cases.search_text`, kept by triggers; only which case holds which word is kept (detail=none).
_SQLITE_SEARCH = (
    "CREATE VIRTUAL TABLE case_search USING fts5(search_text, content='cases', content_rowid='number', "
    "detail=none, prefix='1 2 3', tokenize='unicode61 remove_diacritics 0')",
    "CREATE TRIGGER case_search_new AFTER INSERT ON cases BEGIN "
    "INSERT INTO case_search(rowid, search_text) VALUES (new.number, new.search_text); END",
    "CREATE TRIGGER case_search_changed AFTER UPDATE OF search_text ON cases "
    "WHEN old.search_text IS NOT new.search_text BEGIN "
    "INSERT INTO case_search(case_search, rowid, search_text) VALUES ('delete', old.number, old.search_text); "
    "INSERT INTO case_search(rowid, search_text) VALUES (new.number, new.search_text); END",
    "CREATE TRIGGER case_search_gone AFTER DELETE ON cases BEGIN "
    "INSERT INTO case_search(case_search, rowid, search_text) VALUES ('delete', old.number, old.search_text); END",
)
# The words are already told apart and folded; PostgreSQL's own parser would take them apart again.
_POSTGRESQL_SEARCH = (
    "CREATE INDEX case_search ON cases USING gin (array_to_tsvector(string_to_array(search_text, ' ')))",
)


def upgrade() -> None:
    """Make the tables and the search index."""
    op.create_table(
        "cases",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.Column("changed_by", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
        sa.Column("search_text", sa.Text, nullable=False),
        sa.Column("forgotten_at", sa.Text),
        sa.UniqueConstraint("id", name="cases_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("cases_changed_at", "cases", ["changed_at"])
    op.create_table(
        "events",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("case_number", sa.Integer, sa.ForeignKey("cases.number", name="events_case"), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("undoes", sa.Integer),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
        sa.UniqueConstraint("case_number", "revision", name="events_revision"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "contents",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("size_bytes", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "content_parts",
        sa.Column("sha256", sa.Text, sa.ForeignKey("contents.sha256", name="parts_content"), primary_key=True),
        sa.Column("part", sa.Integer, primary_key=True),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "attached",
        sa.Column("case_number", sa.Integer, sa.ForeignKey("cases.number", name="attached_case"), primary_key=True),
        sa.Column("path", sa.Text, primary_key=True),
        sa.Column("sha256", sa.Text, sa.ForeignKey("contents.sha256", name="attached_content"), nullable=False),
    )
    op.create_index("attached_sha256", "attached", ["sha256"])
    sqlite = op.get_bind().dialect.name == "sqlite"
    for statement in _SQLITE_SEARCH if sqlite else _POSTGRESQL_SEARCH:
        op.execute(statement)
