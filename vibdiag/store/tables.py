"""The tables of the store. The case itself is JSON text; what is beside it is only there to find it.

Each event keeps the whole case as it stood after the change: any of them can be read alone, and personal data can be
taken out of all of them without touching what they say about the car.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = ["attached", "cases", "content_parts", "contents", "events", "metadata"]

metadata = MetaData()

cases = Table(
    "cases",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    # Moments are UTC in ISO 8601 with microseconds, so that both databases keep the same text.
    Column("changed_at", Text, nullable=False),
    Column("changed_by", Text, nullable=False),
    Column("data", Text, nullable=False),
    Column("search_text", Text, nullable=False),
    Column("forgotten_at", Text),
    # The day on which the first open follow-up is due, ISO 8601; null when none is open.
    Column("due", Text),
    UniqueConstraint("id", name="cases_id"),
    Index("cases_changed_at", "changed_at"),
    Index("cases_due", "due"),
    sqlite_autoincrement=True,
)

events = Table(
    "events",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("case_number", Integer, ForeignKey("cases.number", name="events_case"), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("undoes", Integer),
    Column("digest", Text, nullable=False),
    Column("data", Text, nullable=False),
    UniqueConstraint("case_number", "revision", name="events_revision"),
    sqlite_autoincrement=True,
)

contents = Table(
    "contents",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("size_bytes", BigInteger, nullable=False),
)

# In parts, so that a long recording never has to be in memory as a whole.
content_parts = Table(
    "content_parts",
    metadata,
    Column("sha256", Text, ForeignKey("contents.sha256", name="parts_content"), primary_key=True),
    Column("part", Integer, primary_key=True),
    Column("data", LargeBinary, nullable=False),
)

attached = Table(
    "attached",
    metadata,
    Column("case_number", Integer, ForeignKey("cases.number", name="attached_case"), primary_key=True),
    Column("path", Text, primary_key=True),
    Column("sha256", Text, ForeignKey("contents.sha256", name="attached_content"), nullable=False),
    Index("attached_sha256", "sha256"),
)
