"""One process of the screens for one browser tab, held by textual-serve's AppService.

Added to it: no shell in between, an end that is enforced, and a websocket that closes when the process is gone.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Awaitable, Callable, Mapping, Sequence
from pathlib import Path

from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

__all__ = ["TAB", "ScreenProcess", "screens_command", "screens_environment"]

# Which browser tab a process belongs to: its name, role and case are its own.
TAB = "VIBDIAG_TAB"

# An orderly end takes some tenths of a second.
_GRACE_S = 3.0


def screens_command(cases: Path | None, rules: Path | None) -> tuple[str, ...]:
    """The command that runs the screens with this very Python. `-P`: a folder called vibdiag lying about is not run."""
    command = [sys.executable, "-P", "-m", "vibdiag", "screens"]
    if cases is not None:
        command += ["--cases", str(cases.absolute())]
    if rules is not None:
        command += ["--rules", str(rules.absolute())]
    return tuple(command)


def screens_environment(store: str | None) -> dict[str, str]:
    """A store by name goes by the environment: its address may hold a password, and everybody can list commands."""
    return {} if store is None else {"VIBDIAG_STORE": store, "VIBDIAG_CASES": ""}


class ScreenProcess(AppService):
    """The link between one websocket and one process."""

    def __init__(
        self,
        arguments: Sequence[str],
        environment: Mapping[str, str],
        *,
        write_bytes: Callable[[bytes], Awaitable[None]],
        write_str: Callable[[str], Awaitable[None]],
        close: Callable[[], Awaitable[None]],
        download_manager: DownloadManager,
    ) -> None:
        super().__init__(
            " ".join(arguments),
            write_bytes=write_bytes,
            write_str=write_str,
            close=close,
            download_manager=download_manager,
        )
        self.arguments = tuple(arguments)
        self.environment = dict(environment)

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        # A session of its own: Ctrl+C in the server's terminal ends the server, which then ends its processes in order.
        self._process = process = await asyncio.create_subprocess_exec(
            *self.arguments,
            stdin=PIPE,
            stdout=PIPE,
            stderr=PIPE,
            env=self._build_environment(width=width, height=height) | self.environment,
            start_new_session=True,
        )
        self._stdin = process.stdin
        return process

    async def run(self) -> None:
        """Hand on what the process writes; when it has ended, close the websocket so that the page can say so."""
        try:
            await super().run()
        finally:
            await self.remote_close()

    async def stop(self) -> None:
        """Ask the process to end, and end it when it does not."""
        if self._process is None:
            return
        try:
            await asyncio.wait_for(super().stop(), _GRACE_S)
            # Reads its pipes to their end as well, so that none is left open.
            await asyncio.wait_for(self._process.communicate(), _GRACE_S)
        except TimeoutError:
            pass
        finally:
            if self._process.returncode is None:
                with contextlib.suppress(ProcessLookupError):  # it ended just now
                    self._process.kill()
        await self._process.communicate()
