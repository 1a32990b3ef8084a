"""When the first open follow-up of a case is due, beside the case: what is due is found without reading every case."""

from __future__ import annotations

import json

import sqlalchemy as sa
from alembic import op

__all__ = ["upgrade"]

revision = "002"
down_revision = "001"

_ROWS = 500


def _first_due(data: str) -> str | None:
    """As the cases of version 001 hold it; the form of a later version is no business of this migration."""
    return min((one["due"] for one in json.loads(data).get("follow_ups", []) if not one.get("done")), default=None)


def upgrade() -> None:
    """Add the column and fill it from the cases."""
    op.add_column("cases", sa.Column("due", sa.Text))
    connection = op.get_bind()
    cases = sa.table("cases", sa.column("number"), sa.column("data"), sa.column("due"))
    last = 0
    while True:
        query = sa.select(cases.c.number, cases.c.data).where(cases.c.number > last).order_by(cases.c.number)
        rows = connection.execute(query.limit(_ROWS)).all()
        if not rows:
            break
        for row in rows:
            if (due := _first_due(row.data)) is not None:
                connection.execute(sa.update(cases).where(cases.c.number == row.number).values(due=due))
        last = rows[-1].number
    op.create_index("cases_due", "cases", ["due"])
