"""A long recording counts up to 100 % on a terminal, wipes its line, and says nothing where nobody watches."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

from vibdiag.recording.progress import part
from vibdiag.recording.reading.open_recording import open_recording

ROWS = 140_000


@pytest.fixture(scope="module")
def long_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("long") / "long.csv"
    rows = [f"{k / 1000:.4f},{(k * 7919) % 1000 / 500 - 1:.5f},0.10000,9.81000,25.0000" for k in range(ROWS)]
    # the damaged row keeps the patient reader at it, whatever quick one is installed
    rows[ROWS // 2] = "broken"
    path.write_text("time_s,ax_m/s2,ay_m/s2,az_m/s2,speed_m/s\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert path.stat().st_size > 5_000_000
    return path


def test_the_share_read_grows_to_the_whole(long_file: Path) -> None:
    told: list[float] = []
    open_recording([long_file], tell=told.append)
    assert len(told) > 3
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_a_part_tells_its_share_of_the_whole() -> None:
    told: list[float] = []
    for share in (0.0, 0.5, 1.0):
        part(told.append, 0.25, 0.75)(share)
    assert told == [0.25, 0.5, 0.75]


def test_a_terminal_sees_it_count_and_is_left_clean(long_file: Path) -> None:
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "vibdiag", "road", str(long_file)], stdout=subprocess.PIPE, stderr=theirs, text=True
    ) as running:
        os.close(theirs)
        seen = b""
        while True:
            try:
                more = os.read(ours, 4096)
            except OSError:  # how a pseudo-terminal says that the other end is closed
                break
            if not more:
                break
            seen += more
        assert running.stdout is not None
        running.stdout.read()
    os.close(ours)
    said = seen.decode()
    for what in ("Reading", "Looking through"):
        shares = [int(share) for share in re.findall(rf"{what}[^:]*: +(\d+) %", said)]
        assert len(shares) >= 3, said
        assert shares == sorted(shares)
    assert re.search(r"Reading[^:]*: 100 %", said)
    assert said.rstrip("\r").endswith(" ")


def test_nothing_is_said_where_nobody_watches(long_file: Path) -> None:
    command = [sys.executable, "-m", "vibdiag", "road", str(long_file)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "%" not in run.stderr
