"""The open browser tabs: each a websocket with its own process of the screens, a limited number, none idle for ever."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import Awaitable, Callable, Mapping
from typing import TypeVar

from aiohttp import WSCloseCode, WSMsgType, web
from textual_serve.download_manager import DownloadManager

from vibdiag.serve.messages import (
    LARGEST_MESSAGE,
    Focus,
    Ping,
    Resize,
    Typed,
    UnknownMessageError,
    clamp_size,
    read_message,
)
from vibdiag.serve.process import TAB, ScreenProcess

__all__ = ["Tabs"]

_Data = TypeVar("_Data", str, bytes)
# The connection itself is asked for life so often; a laptop that was shut frees its place.
_HEARTBEAT_S = 15.0


class Tabs:
    """At most `most` at once; one that sends nothing for `idle_s` is closed. Everything in it is saved already."""

    def __init__(self, command: tuple[str, ...], environment: Mapping[str, str], *, most: int, idle_s: float) -> None:
        self.command = command
        self.environment = environment
        self.most = most
        self.idle_s = idle_s
        self.downloads = DownloadManager()
        self.open: set[web.WebSocketResponse] = set()
        self.running: set[asyncio.Task[None]] = set()

    def full(self) -> bool:
        """Whether no further tab may open."""
        return len(self.open) >= self.most

    async def serve(self, request: web.Request) -> web.WebSocketResponse:
        """Run the screens for one tab until either side ends."""
        if self.full():
            raise web.HTTPServiceUnavailable(text="As many sessions are open as may be.\n")
        socket = web.WebSocketResponse(heartbeat=_HEARTBEAT_S, max_msg_size=LARGEST_MESSAGE)
        # The place is taken before anything is waited for, so that two at once do not both get the last one.
        self.open.add(socket)
        try:
            await socket.prepare(request)
        except BaseException:
            self.open.discard(socket)
            raise
        size = clamp_size(request.query.get("width"), request.query.get("height"))
        # A task of its own: a request may be cancelled when its page vanishes, the orderly end of a process may not.
        task = asyncio.create_task(self._run(socket, size, request.match_info.get("tab", "")))
        self.running.add(task)
        task.add_done_callback(self.running.discard)
        await asyncio.shield(task)
        return socket

    async def _run(self, socket: web.WebSocketResponse, size: tuple[int, int], tab: str) -> None:
        try:
            await self._run_process(socket, size, tab)
        finally:
            self.open.discard(socket)
            await socket.close()

    async def _run_process(self, socket: web.WebSocketResponse, size: tuple[int, int], tab: str) -> None:
        async def close() -> None:
            await socket.close()

        process = ScreenProcess(
            self.command,
            {**self.environment, TAB: tab},
            write_bytes=_unless_gone(socket.send_bytes),
            write_str=_unless_gone(socket.send_str),
            close=close,
            download_manager=self.downloads,
        )
        await process.start(*size)
        try:
            await self._pass_on(socket, process)
        finally:
            await process.stop()

    async def _pass_on(self, socket: web.WebSocketResponse, process: ScreenProcess) -> None:
        """From the page to the process, until the page closes, sends nonsense, or sends nothing any more."""
        while True:
            try:
                message = await socket.receive(timeout=self.idle_s)
                if message.type is not WSMsgType.TEXT:
                    return
                said = read_message(message.data)
            except TimeoutError:
                return
            except UnknownMessageError:
                await socket.close(code=WSCloseCode.POLICY_VIOLATION, message=b"not understood")
                return
            match said:
                case Typed(text):
                    await process.send_bytes(text.encode("utf-8", "replace"))
                case Resize(width, height):
                    await process.set_terminal_size(width, height)
                case Ping(text):
                    await _unless_gone(socket.send_str)(json.dumps(["pong", text]))
                case Focus(gained):
                    await (process.focus() if gained else process.blur())

    async def close_all(self, _: web.Application) -> None:
        """The server ends: every page is told, and every process is waited for, also of pages that are gone already."""
        for socket in list(self.open):
            if socket.prepared:
                await socket.close(code=WSCloseCode.GOING_AWAY, message=b"the server was ended")
        await asyncio.gather(*self.running, return_exceptions=True)


def _unless_gone(send: Callable[[_Data], Awaitable[None]]) -> Callable[[_Data], Awaitable[None]]:
    """`send`, but what cannot arrive any more is dropped, so that the process is listened to until its end."""

    async def careful(data: _Data) -> None:
        with contextlib.suppress(ConnectionError):
            await send(data)

    return careful
