"""`vibdiag serve` as it is typed: one sentence for every wrong wish, and the real screens behind a real server."""

from __future__ import annotations

import asyncio
import contextlib
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from aiohttp import ClientSession
from typer.testing import CliRunner

from vibdiag.commands.main import app
from vibdiag.files.shipped import shipped_folder
from vibdiag.serve.token import VARIABLE
from vibdiag.store.store import open_store

from .served import hear, run


def refused(*arguments: str, token: str | None = None) -> str:
    """The one sentence on standard error; nothing is printed and nothing is served."""
    result = CliRunner().invoke(app, ["serve", *arguments], env={VARIABLE: token})
    assert result.exit_code == 1, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("vibdiag: ")
    assert result.stderr.count("\n") == 1
    return result.stderr


def test_a_taken_port() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = str(other.getsockname()[1])
        assert f"--port: {port} is taken" in refused("--port", port)


def test_a_host_that_is_none() -> None:
    assert "'nobody.invalid'" in refused("--host", "nobody.invalid")


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "::"])
def test_others_come_in_only_with_a_token(host: str) -> None:
    sentence = refused("--host", host)
    assert "--new-token" in sentence
    assert VARIABLE in sentence


def test_a_short_token() -> None:
    sentence = refused("--host", "0.0.0.0", token="hush")
    assert "at least 16" in sentence
    assert "hush" not in sentence


def test_folders_that_are_none(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "is a file" in refused("--cases", str(tmp_path / "file"))
    assert "not both" in refused("--cases", str(tmp_path), "--store", str(tmp_path / "cases.db"))
    assert "is no store" in refused("--store", "mysql://host/cases")
    assert "is not a folder" in refused("--rules", str(tmp_path / "file"))
    assert "is not a folder" in refused("--rules", str(tmp_path / "nothing"))


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "textual_serve", None)
    assert "pip install 'vibdiag[serve]'" in refused()


def test_a_token_on_the_command_line_is_not_taken() -> None:
    for arguments in (["--token", "an-invented-token-for-tests"], ["--new-token", "an-invented-token-for-tests"]):
        assert CliRunner().invoke(app, ["serve", *arguments]).exit_code == 2


def test_the_screens_by_name_need_a_terminal_or_a_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TEXTUAL_DRIVER", raising=False)
    result = CliRunner().invoke(app, ["screens"])
    assert result.exit_code == 1
    assert "need a terminal" in result.stderr


def _states() -> Iterator[tuple[int, str]]:
    """Number and state line of every process; one that ends meanwhile is left out."""
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            yield int(path.parent.name), path.read_text()


class Running:
    """A server in a process of its own, on any free port, and what it printed."""

    def __init__(self, folder: Path | None, *arguments: str, **environment: str) -> None:
        cases = [] if folder is None else ["--cases", str(folder)]
        kept = {name: value for name, value in os.environ.items() if name != VARIABLE}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "vibdiag", "serve", "--port", "0", *cases, *arguments],
            stdout=subprocess.PIPE,
            text=True,
            env=kept | environment,
        )
        assert self.process.stdout is not None
        self.printed = ""
        for line in self.process.stdout:
            self.printed += line
            if "Ctrl+C" in line:
                break
        self.address = re.findall(r"http://\S+(?=/\n)", self.printed)[0]

    def children(self) -> list[int]:
        """The processes of the screens that run under it."""
        states = dict(_states())
        # After the name in brackets come the state and the parent (proc(5)).
        parents = {pid: int(state.rsplit(")", 1)[1].split()[1]) for pid, state in states.items()}
        return [pid for pid, parent in parents.items() if parent == self.process.pid]

    def end(self, number: int = signal.SIGTERM) -> int:
        self.process.send_signal(number)
        code = self.process.wait(15)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return code


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    cases = tmp_path / "shop of mine" / "cases"
    cases.mkdir(parents=True)
    shutil.copy(shipped_folder("cases") / "motorway-tremor.yaml", cases)
    return cases


@pytest.fixture
def running(folder: Path) -> Iterator[Running]:
    server = Running(folder)
    yield server
    if server.process.poll() is None:
        server.end(signal.SIGKILL)


needs_proc = pytest.mark.skipif(not Path("/proc").is_dir(), reason="reads the states of processes from /proc")


def gone(pid: int, *, within_s: float) -> bool:
    """Whether the process ended in time; an orphan is reaped by the system."""
    until = time.monotonic() + within_s
    while True:
        stat = Path(f"/proc/{pid}/stat")
        try:
            if stat.read_text().rsplit(")", 1)[1].split()[0] == "Z":
                return True
        except OSError:
            return True
        if time.monotonic() > until:
            return False
        time.sleep(0.05)


@needs_proc
def test_the_real_screens_behind_a_real_server(running: Running, folder: Path) -> None:
    """The start screen comes, a key makes a new case on the disk, and the server ends with its processes."""

    async def test() -> None:
        async with (
            ClientSession() as session,
            session.ws_connect(f"{running.address}/ws?width=100&height=30", origin=running.address) as websocket,
        ):
            assert "Trembles" in await hear(websocket, "(invented)")
            child = running.children()[0]
            while len(list(folder.glob("*.yaml"))) == 1:
                await websocket.send_json(["stdin", "n"])
                await asyncio.sleep(0.5)
            assert await asyncio.to_thread(running.end, signal.SIGINT) == 0
            assert gone(child, within_s=0)

    run(test())
    assert "Open  http://127.0.0.1:" in running.printed
    assert "Token" not in running.printed
    assert str(folder) in running.printed


@needs_proc
def test_without_a_folder_the_cases_are_in_the_store(tmp_path: Path) -> None:
    place = tmp_path / "vibdiag" / "cases.db"
    server = Running(None, XDG_DATA_HOME=str(tmp_path), VIBDIAG_STORE="", VIBDIAG_CASES="")

    async def test() -> None:
        async with (
            ClientSession() as session,
            session.ws_connect(f"{server.address}/ws/0a1b?width=100&height=30", origin=server.address) as websocket,
        ):
            await hear(websocket, "No case yet")
            with open_store(str(place)) as store:
                while not store.lines():
                    await websocket.send_json(["stdin", "n"])
                    await asyncio.sleep(0.5)

    try:
        run(test())
        assert str(place) in server.printed
    finally:
        server.end()


@needs_proc
def test_no_process_outlives_a_server_that_was_killed(running: Running) -> None:
    async def test() -> None:
        async with (
            ClientSession() as session,
            session.ws_connect(f"{running.address}/ws", origin=running.address) as websocket,
        ):
            await hear(websocket, "vibdiag")
            child = running.children()[0]
            running.end(signal.SIGKILL)
            assert gone(child, within_s=15)

    run(test())


def test_a_new_token_is_printed_once_and_opens_and_a_given_one_is_not_printed(folder: Path) -> None:
    async def status(server: Running, token: str) -> int:
        async with ClientSession() as session:
            headers = {"Origin": server.address}
            answer = await session.post(
                f"{server.address}/login", data={"token": token}, headers=headers, allow_redirects=False
            )
            return answer.status

    server = Running(folder, "--new-token")
    try:
        made = re.findall(r"Token, shown this once:  (\S+)", server.printed)
        assert len(made) == 1
        assert asyncio.run(status(server, made[0])) == 303
    finally:
        assert server.end() == 0
    server = Running(folder, "--new-token", **{VARIABLE: "an-invented-token-for-tests"})
    try:
        assert "shown this once" not in server.printed
        assert "invented" not in server.printed
        assert asyncio.run(status(server, "an-invented-token-for-tests")) == 303
        environment = Path(f"/proc/{server.process.pid}/cmdline")
        assert not environment.exists() or b"invented" not in environment.read_bytes()
    finally:
        assert server.end() == 0
