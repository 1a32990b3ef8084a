"""Whatever happens while a file is written, the old file or the new one is there, whole."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from vibdiag.files.atomic import write_atomically

# Writes two contents in turn until it is killed; each is one letter many times, so half a file or a mix shows.
WRITER = """
import sys
from pathlib import Path
from vibdiag.files.atomic import write_atomically
path = Path(sys.argv[1])
while True:
    for letter in "ab":
        write_atomically(path, letter * 300_000)
"""


def test_the_new_text_is_there_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    write_atomically(path, "first ä\n")
    write_atomically(path, "second\nwith two lines\n")
    assert path.read_bytes() == b"second\nwith two lines\n"
    assert list(tmp_path.iterdir()) == [path]


def test_permissions_of_the_old_file_stay(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("old")
    path.chmod(0o640)
    write_atomically(path, "new")
    assert path.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("call", ["fsync", "replace", "chmod", "fdopen"])
@pytest.mark.parametrize("failure", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_before_the_end_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, failure: BaseException
) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("old")

    def broken(*arguments: object, **options: object) -> None:
        raise failure

    monkeypatch.setattr(os, call, broken)
    with pytest.raises(type(failure)):
        write_atomically(path, "new")
    monkeypatch.undo()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path], "a part file was left behind"


def test_text_that_cannot_be_encoded_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        write_atomically(path, "new \ud800")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        write_atomically(tmp_path / "nowhere" / "case.yaml", "new")


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill -9 here")
def test_kill_9_never_leaves_half_a_file(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    whole = {letter * 300_000 for letter in "ab"}
    seen: set[str] = set()
    for attempt in range(6):
        process = subprocess.Popen([sys.executable, "-c", WRITER, str(path)])
        try:
            limit = time.monotonic() + 10
            while not path.exists() and time.monotonic() < limit:
                time.sleep(0.005)
            # A different moment of the write each time.
            time.sleep(0.03 + 0.011 * attempt)
        finally:
            process.kill()
            process.wait()
        content = path.read_text()
        assert content in whole, f"{len(content)} bytes, {sorted(set(content))}"
        seen.add(content)
    assert seen
