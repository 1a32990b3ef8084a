"""The bay's measurements as commands, one file each; a file is read when its command is typed, so that help is instant.

`COMMANDS` says for each what help says of it; the file's own options and texts stand in the file.
"""

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
        "runout": "Readings round a wheel, rim, hub, disc or propshaft: how far out, and what kind.",
        "index": "Hub or wheel: rounds read with the wheel moved on its studs.",
        "match": "Tyre or rim: how to turn the tyre on the rim, and whether it is worth it.",
        "pair": "Which tyre on which rim, and which assembly on which axle.",
        "balance": "Two planes, static and couple; other places; what rounding hides.",
        "split": "One weight over two angles, or from the sizes in stock.",
        "mountings": "Wheel or mounting: repeated balance readings; off-centre in both ways.",
        "trim": "The best single weight on the car, from runs with a trial weight.",
        "forces": "Imbalance beside runout over speed: which of the two shakes.",
        "disc": "Brake disc: thickness variation and runout, and which is felt.",
        "rolling": "Pressures and tread depths: circumference differences and their beat.",
        "torque": "Star sequence of the wheel fasteners, and the torque found on them.",
    }
)


class _Late(TyperCommand):
    """Stands for a command in the list; reads its file, and hands over to it, only when it is typed."""

    def make_context(self, info_name: str | None, args: list[str], parent: Any = None, **extra: Any) -> Any:
        command = typer.main.get_command(import_module(f"vibdiag.commands.bay.{self.name}").app)
        return command.make_context(info_name, args, parent, **extra)


def _in_its_own_file() -> None:
    """Never called: `_Late` hands over first."""


def register(app: typer.Typer) -> None:
    """Add every command of the bay to `app`."""
    for name, says in COMMANDS.items():
        app.command(name, cls=_Late, help=says)(_in_its_own_file)
