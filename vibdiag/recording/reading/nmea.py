"""NMEA 0183 sentences: time and speed from RMC; from VTG with the time of GGA where there is no RMC.

Our own few lines, because two kinds of sentence are all that is needed. A sentence whose checksum (exclusive or of
the characters between $ and *) does not fit is left out and counted; so are those that say they have no fix.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.table import Column, Table, check_size

__all__ = ["read_nmea"]

_SENTENCE = re.compile(rb"\$(?P<body>[A-Z]{2}(?P<kind>RMC|VTG|GGA),[^*\r\n$]*)(\*(?P<sum>[0-9A-Fa-f]{2}))?")
_TIME = re.compile(r"(\d{2})(\d{2})(\d{2}(?:\.\d{1,9})?)$")
_LONGEST_LINE_BYTES: Final = 4_096
_MS_PER_KN: Final = 1852.0 / 3600.0  # the international nautical mile, exact


@dataclass(slots=True)
class _Log:
    rmc: list[tuple[float, float]] = field(default_factory=list)
    vtg: list[tuple[float, float]] = field(default_factory=list)
    last_gga_s: float = float("nan")
    damaged: int = 0
    without_fix: int = 0


def _number(text: str) -> float:
    return float(text) if re.fullmatch(r"\d{1,6}(\.\d{1,9})?", text) else float("nan")


def _time_of_day_s(text: str) -> float:
    found = _TIME.match(text)
    if found is None:
        return float("nan")
    hour, minute, second = int(found[1]), int(found[2]), float(found[3])
    return hour * 3600.0 + minute * 60.0 + second if hour < 24 and minute < 60 and second < 61.0 else float("nan")


def _midnight_s(ddmmyy: str) -> float:
    """Seconds since 1970 of a day; two-digit years before 80 are of this century."""
    if not re.fullmatch(r"\d{6}", ddmmyy):
        return float("nan")
    day, month, year = int(ddmmyy[:2]), int(ddmmyy[2:4]), int(ddmmyy[4:])
    try:
        return datetime(year + (2000 if year < 80 else 1900), month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return float("nan")


def _take(found: re.Match[bytes], log: _Log) -> None:
    body, said = found["body"], found["sum"]
    if said is not None and reduce(xor, body, 0) != int(said, 16):
        log.damaged += 1
        return
    cells = body.decode("ascii", "replace").split(",")
    if found["kind"] == b"GGA":
        log.last_gga_s = _time_of_day_s(cells[1])
    elif found["kind"] == b"VTG" and len(cells) > 7:
        log.vtg.append((log.last_gga_s, _number(cells[7]) / 3.6))
    elif found["kind"] == b"RMC" and len(cells) > 9:
        if cells[2] == "V":
            log.without_fix += 1
            return
        log.rmc.append((_midnight_s(cells[9]) + _time_of_day_s(cells[1]), _number(cells[7]) * _MS_PER_KN))
    else:
        log.damaged += 1


def read_nmea(path: Path, label: str) -> list[Table]:
    """One table of time and speed (m/s). Raises InputError when no sound sentence gives both."""
    log = _Log()
    with path.open("rb") as file:
        while line := file.readline(_LONGEST_LINE_BYTES):
            for found in _SENTENCE.finditer(line):
                _take(found, log)
            check_size(len(log.rmc) + len(log.vtg), 4, label)
    rows = np.array(log.rmc or log.vtg or np.empty((0, 2)), dtype=np.float64)
    good = np.isfinite(rows).all(axis=1)
    if not good.any():
        raise InputError(
            "holds no sound RMC sentence with time and speed (nor GGA with VTG); switch on RMC in the receiver.",
            file=label,
        )
    remarks = []
    if log.damaged:
        remarks.append(f"{label}: {log.damaged} damaged sentence{'' if log.damaged == 1 else 's'} left out.")
    if log.without_fix:
        remarks.append(f"{label}: {log.without_fix} sentences without a fix left out.")
    columns = (Column("time", rows[good, 0], "s"), Column("GPS speed", rows[good, 1], "m/s"))
    return [Table(label, "NMEA", columns, source="nmea", remarks=tuple(remarks))]
