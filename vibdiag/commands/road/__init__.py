"""Road-test recordings as commands, one file each, read when its command is typed, so that help is instant."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any, Final

import typer
from typer.core import TyperCommand

__all__ = ["COMMANDS", "register"]

COMMANDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "road": "A road-test recording: which turning part shakes the car, how surely, how badly.",
        "practice": "Write an invented recording with a known fault, to practise `road` on.",
    }
)


class _Late(TyperCommand):
    """Stands for a command in the list; reads its file, and hands over to it, only when it is typed."""

    def make_context(self, info_name: str | None, args: list[str], parent: Any = None, **extra: Any) -> Any:
        command = typer.main.get_command(import_module(f"vibdiag.commands.road.{self.name}").app)
        return command.make_context(info_name, args, parent, **extra)


def _in_its_own_file() -> None:
    """Never called: `_Late` hands over first."""


def register(app: typer.Typer) -> None:
    """Add every command of the road to `app`."""
    for name, says in COMMANDS.items():
        app.command(name, cls=_Late, help=says)(_in_its_own_file)
