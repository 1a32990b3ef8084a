"""The list of commands in the help: every summary whole, folded under itself and never cut."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

__all__ = ["WholeSummaries"]

_NO_LIMIT = 10_000


class WholeSummaries(TyperGroup):
    """A group whose commands are listed with their whole first sentence."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """One row a command, in the order in which they were declared; `ctx` and `formatter` are click's."""
        commands = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [
            (name, one.get_short_help_str(_NO_LIMIT)) for name, one in commands if one is not None and not one.hidden
        ]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)
