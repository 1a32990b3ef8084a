"""What the tests of the front share: a front with a puppet behind it, and a client that keeps cookies."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from aiohttp import ClientWebSocketResponse, CookieJar, WSMsgType, web
from aiohttp.test_utils import TestClient, TestServer

from vibdiag.serve.origin import door_for
from vibdiag.serve.server import Front, Settings
from vibdiag.serve.token import Token

__all__ = ["TOKEN", "Client", "Socket", "hear", "log_in", "own_origin", "puppet", "run", "served", "until_closed"]

TOKEN = "an-invented-token-for-tests"

Client = TestClient[web.Request, web.Application]
Socket = ClientWebSocketResponse[bool]


def puppet(mode: str = "") -> tuple[str, ...]:
    """The command of a process that stands in for the screens."""
    return (sys.executable, str(Path(__file__).with_name("puppet.py")), mode)


@asynccontextmanager
async def served(
    command: tuple[str, ...] = puppet(), *, token: str | None = TOKEN, **more: Any
) -> AsyncIterator[Client]:
    """A client to a front on 127.0.0.1, with or without a token."""
    door = door_for("127.0.0.1", loopback=True)
    front = Front(Settings(command, door, token=None if token is None else Token(token), port=8765, **more))
    # The jar of aiohttp keeps no cookies for bare addresses unless told to; browsers do.
    client: Client = TestClient(TestServer(front.application()), cookie_jar=CookieJar(unsafe=True))
    async with client:
        yield client


def own_origin(client: Client) -> dict[str, str]:
    """What a browser says about a request from our own page."""
    return {"Origin": f"http://127.0.0.1:{client.port}"}


async def log_in(client: Client, token: str = TOKEN) -> int:
    """Send the form as a browser does; the status of the answer itself, without going where it leads."""
    answer = await client.post("/login", data={"token": token}, headers=own_origin(client), allow_redirects=False)
    return answer.status


async def hear(socket: Socket, words: str) -> str:
    """Everything that the process wrote until it says `words`."""
    heard = ""
    while words not in heard:
        message = await socket.receive()
        assert message.type is WSMsgType.BINARY, f"{message} after {heard!r}"
        heard += message.data.decode("utf-8", "replace")
    return heard


async def until_closed(socket: Socket) -> int | None:
    """Wait for the end of the websocket; its close code."""
    while not socket.closed:
        await socket.receive()
    return socket.close_code


def run(test: Coroutine[Any, Any, None]) -> None:
    """Run one asynchronous test to its end, half a minute at most."""

    async def limited() -> None:
        async with asyncio.timeout(30):
            await test

    asyncio.run(limited())
