"""`vibdiag serve`: the screens in a browser."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from vibdiag.commands.output import fail, input_errors
from vibdiag.commands.where import opened_shelf, preferences_path
from vibdiag.files.errors import InputError
from vibdiag.work.casebook import Casebook

if TYPE_CHECKING:
    from vibdiag.serve.server import Front

__all__ = ["ServeRequest", "serve_screens"]

_END_S = 10.0


@dataclass(frozen=True)
class ServeRequest:
    """What was asked for on the command line."""

    host: str
    port: int
    cases: Path | None
    store: str | None
    rules: Path | None
    fresh_token: bool
    names: tuple[str, ...]
    sessions: int
    idle_minutes: float


def serve_screens(request: ServeRequest) -> None:
    """Serve until the process is told to end; a wrong wish is one sentence and exit code 1."""
    try:
        import aiohttp  # noqa: F401
        import jinja2  # noqa: F401
        import textual_serve  # noqa: F401
    except ModuleNotFoundError as error:
        fail(f"the browser needs the package '{error.name}': pip install 'vibdiag[serve]'")
    with input_errors():
        _check_rules(request)
        _serve(request)


def _check_rules(request: ServeRequest) -> None:
    if request.rules is not None and not request.rules.is_dir():
        raise InputError("is not a folder with a rule base", file=request.rules)


def _serve(request: ServeRequest) -> None:
    from vibdiag.screen.preferences import Preferences
    from vibdiag.screen.themes import THEMES
    from vibdiag.serve.listen import address_to_open, listen, resolve
    from vibdiag.serve.origin import door_for
    from vibdiag.serve.process import screens_command, screens_environment
    from vibdiag.serve.server import Front, Settings
    from vibdiag.serve.token import VARIABLE, Token, new_token, token_from

    given = token_from(os.environ)
    place = resolve(request.host, request.port)
    text = given if given is not None else new_token() if request.fresh_token else None
    if text is None and not place.loopback:
        raise InputError(
            f"others can reach '{request.host}', so a token is needed: add --new-token to have one made, or set "
            f"{VARIABLE} in the environment",
            field="--host",
        )
    # Opened here once, so that what is wrong with it is said before anybody comes.
    with opened_shelf(request.cases, request.store) as shelf:
        chosen, where = Preferences.load(preferences_path(shelf)).theme, shelf.place
        folder = shelf.folder if isinstance(shelf, Casebook) else None
    server = listen(place)
    port = int(server.getsockname()[1])
    theme = next((one for one in THEMES if one.name == chosen), THEMES[0])
    settings = Settings(
        command=screens_command(folder, request.rules),
        environment=screens_environment(request.store),
        door=door_for(request.host, loopback=place.loopback, more_names=request.names),
        token=None if text is None else Token(text),
        port=port,
        sessions=request.sessions,
        idle_s=request.idle_minutes * 60,
        background=theme.background or "#ffffff",
        foreground=theme.foreground or "#000000",
    )
    words = [f"Open  {address_to_open(place, port)}", f"Cases are kept in {where}"]
    if text is not None and given is None:
        words.append(f"Token, shown this once:  {text}")
    if not place.loopback:
        words.append("Nothing on the way is encrypted: only in a network you trust, or behind a front that encrypts.")
    words.append("Ctrl+C ends it; every answer is saved when it is given.")
    asyncio.run(_until_told(Front(settings), server, "\n".join(words)))


async def _until_told(front: Front, server: socket.socket, words: str) -> None:
    from aiohttp import web

    told = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        asyncio.get_running_loop().add_signal_handler(number, told.set)
    runner = web.AppRunner(front.application(), access_log=None, shutdown_timeout=_END_S)
    await runner.setup()
    try:
        await web.SockSite(runner, server).start()
        # Only now, and at once: whoever reads it, a person or a program, may open it or end it.
        print(words, flush=True)
        await told.wait()
    finally:
        await runner.cleanup()
