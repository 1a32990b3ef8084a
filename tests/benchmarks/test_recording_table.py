"""One hour, three axes, in one run on one file: reading and analysis beside what else could be done with it.

    python -m pytest tests/benchmarks/test_recording_table.py -s

The limit is the plain reading of the file by the fastest CSV reader (polars, `vibdiag[fast]`); the other row is scipy's
short-time transform with an order map, which neither refines the circumference nor says how sure it is. Peak memory is
that of a fresh process which reads and analyses once. Best of five; VIBDIAG_SLOW_MACHINE doubles the budgets.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest

SLACK = 2.0 if os.environ.get("VIBDIAG_SLOW_MACHINE") else 1.0
BUDGET_S = {1000: 1.0, 100: 0.3}
BUDGET_MB = 500.0

COMMON = """
import json, resource, sys, time
from pathlib import Path
imu, gps = Path(sys.argv[1]), Path(sys.argv[2])
def best(call, times=5):
    took = []
    for _ in range(times):
        start = time.perf_counter(); out = call(); took.append(time.perf_counter() - start)
    return min(took), out
def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0
"""
WHOLE = """
from vibdiag.recording.analyse import analyse
from vibdiag.recording.reading.open_recording import open_recording
start = time.perf_counter()
found = analyse(open_recording([imu, gps], place="seat-rail").recording, circumference_m=(1.89, 2.01))
print(json.dumps({"whole_s": time.perf_counter() - start, "peak_mb": peak(), "found": [x.name for x in found.lines]}))
"""
PARTS = """
import scipy.interpolate, scipy.linalg, scipy.special
from vibdiag.recording.analyse import analyse
from vibdiag.recording.reading.open_recording import open_recording
read_s, reading = best(lambda: open_recording([imu, gps], place="seat-rail"))
analyse_s, _ = best(lambda: analyse(reading.recording, circumference_m=(1.89, 2.01)))
print(json.dumps({"read_s": read_s, "analyse_s": analyse_s}))
"""
LIMIT = """
import polars
read_s, _ = best(lambda: polars.read_csv(imu))
print(json.dumps({"limit_s": read_s, "peak_mb": peak()}))
"""
TRANSFORM = """
import numpy as np, polars
from scipy.signal import ShortTimeFFT
from scipy.signal.windows import hann
table = polars.read_csv(imu).to_numpy()
speed = polars.read_csv(gps).to_numpy()
rate = 1.0 / float(np.median(np.diff(table[:1000, 0])))
orders = np.arange(0.5, 5.0, 0.1)
def order_map():
    size = int(4 * rate)
    transform = ShortTimeFFT(hann(size, sym=False), hop=size // 2, fs=rate, scale_to="psd")
    maps = []
    for axis in (1, 2, 3):
        power = transform.spectrogram(table[:, axis] - table[:, axis].mean())
        turning = np.interp(transform.t(len(table)), speed[:, 0], speed[:, 1] / 3.6) / 1.95
        bins = np.clip(np.round(np.outer(orders, turning) / transform.delta_f).astype(int), 0, power.shape[0] - 1)
        maps.append(power[bins, np.arange(power.shape[1])])
    return np.stack(maps)
took, _ = best(order_map)
print(json.dumps({"transform_s": took}))
"""


def child(program: str, *files: Path) -> dict[str, float]:
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(COMMON + program), *map(str, files)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, float] = json.loads(done.stdout)
    return found


def write_hour(folder: Path, rate_hz: int) -> tuple[Path, Path]:
    """The shake with an order of 0.05 m/s2 in the road's noise, and a satellite speed once a second beside it."""
    rng = np.random.default_rng(0)
    count = 3600 * rate_hz
    at, knots = np.arange(count) / rate_hz, np.arange(3600.0)
    speed = 27.8 + 1.5 * np.sin(knots / 97.0) + 0.3 * np.sin(knots / 11.0)
    line = 0.05 * np.sin(2.0 * np.pi * np.cumsum(np.interp(at, knots, speed)) / rate_hz / 1.95)
    rows = np.stack([at, *(line + rng.normal(0.0, 0.3, count) + g for g in (0.0, 0.0, 9.81))], axis=1)
    imu, gps = folder / f"hour_{rate_hz}.csv", folder / f"gps_{rate_hz}.csv"
    digits = ("%.3f", "%.7f", "%.7f", "%.7f")
    with imu.open("w", encoding="ascii") as file:
        file.write("time_s,ax_mps2,ay_mps2,az_mps2\n")
        for part in np.array_split(rows, 36):
            np.savetxt(file, part, fmt=digits, delimiter=",")
    heard = np.stack([knots + 0.4, 3.6 * (speed + rng.normal(0.0, 0.2, knots.size))], axis=1)
    np.savetxt(gps, heard, fmt="%.2f", delimiter=",", header="time_s,gps_speed_kmh", comments="")
    return imu, gps


@pytest.mark.parametrize("rate_hz", [100, 1000])
def test_an_hour_in_one_run(tmp_path: Path, rate_hz: int) -> None:
    pytest.importorskip("polars")
    files = write_hour(tmp_path, rate_hz)
    limit, parts, whole, transform = (child(each, *files) for each in (LIMIT, PARTS, WHOLE, TRANSFORM))
    size = files[0].stat().st_size / 1e6
    print(f"\n\none hour, three axes, {rate_hz} Hz, {size:.0f} MB      s    times the limit")
    for name, took in (
        ("plain reading (polars): the limit", limit["limit_s"]),
        ("reading as a recording", parts["read_s"]),
        ("analysis", parts["analyse_s"]),
        ("reading and analysis, fresh process", whole["whole_s"]),
        ("scipy short-time transform, order map", transform["transform_s"]),
    ):
        print(f"  {name:40} {took:8.3f} {took / limit['limit_s']:8.1f}")
    print(f"  peak memory, reading and analysis: {whole['peak_mb']:.0f} MB (plain reading {limit['peak_mb']:.0f} MB)")
    assert "1x wheel" in whole["found"]  # type: ignore[operator]
    assert parts["analyse_s"] < BUDGET_S[rate_hz] * SLACK
    assert whole["peak_mb"] < BUDGET_MB
