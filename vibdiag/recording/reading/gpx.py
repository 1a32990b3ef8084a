"""GPX tracks: time and speed. Our own few lines over the standard library's parser, because nothing else is needed.

Speed is read where the receiver wrote it (GPX 1.0 `speed`, or the same element in an extension; m/s); else it is
the distance between neighbouring points over time, on a sphere of mean radius 6371.0 km (IUGG), between their stamps.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Final
from xml.etree import ElementTree  # document types are refused below, so no entity can be expanded

import numpy as np

from vibdiag.files.errors import InputError, Spot
from vibdiag.recording.reading.table import Column, Table, check_size
from vibdiag.recording.reading.time_stamps import seconds_from_text

__all__ = ["distance_m", "read_gpx"]

_EARTH_RADIUS_M: Final = 6_371_000.0
_HEAD_BYTES: Final = 1 << 16


def distance_m(lat_1_deg: float, lon_1_deg: float, lat_2_deg: float, lon_2_deg: float) -> float:
    """Great-circle distance by the haversine formula; an arc of one degree is 111.19 km.

    >>> round(distance_m(0.0, 0.0, 1.0, 0.0))
    111195
    """
    lat_1, lat_2 = math.radians(lat_1_deg), math.radians(lat_2_deg)
    half_lat, half_lon = (lat_2 - lat_1) / 2.0, math.radians(lon_2_deg - lon_1_deg) / 2.0
    part = math.sin(half_lat) ** 2 + math.cos(lat_1) * math.cos(lat_2) * math.sin(half_lon) ** 2
    return 2.0 * _EARTH_RADIUS_M * math.asin(math.sqrt(min(1.0, part)))


def _number(text: str | None) -> float:
    try:
        value = float(text or "nan")
    except ValueError:
        return math.nan
    return value if abs(value) < 1e6 else math.nan


def read_gpx(path: Path, label: str) -> list[Table]:
    """One table of time (s since 1970) and speed (m/s). Raises InputError for broken XML, or points without times."""
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
        raise InputError("carries a document type, which no GPX file needs; export the track again.", file=label)
    times: list[bytes] = []
    points: list[tuple[float, float, float]] = []
    try:
        with path.open("rb") as file:
            for _, element in ElementTree.iterparse(file):  # noqa: S314
                if element.tag.rpartition("}")[2] != "trkpt":
                    continue
                parts = {part.tag.rpartition("}")[2]: part.text for part in element.iter()}
                times.append((parts.get("time") or "").strip().encode()[:40])
                points.append((_number(element.get("lat")), _number(element.get("lon")), _number(parts.get("speed"))))
                element.clear()
                if len(points) % 1000 == 0:
                    check_size(len(points), 4, label)
    except ElementTree.ParseError as error:
        line, column = error.position
        raise InputError(
            "is cut off or broken here, so it is no whole GPX file; copy or export it again.",
            file=label,
            spot=Spot(line, column + 1),
        ) from error
    except (ValueError, LookupError) as error:
        raise InputError(f"cannot be read as GPX ({error}); export the track again.", file=label) from error
    if not points:
        raise InputError("holds no track points; export the track, not the way points.", file=label)
    time_s = seconds_from_text(np.array(times, dtype="S40")).time_s
    if not np.isfinite(time_s).any():
        raise InputError(
            "holds no times, so it gives no speed; export the recorded track, not a planned one.", file=label
        )
    speed_ms = np.array([speed for _, _, speed in points])
    remarks: tuple[str, ...] = ()
    if not np.isfinite(speed_ms).any():
        time_s, speed_ms = _from_positions(time_s, points)
        remarks = (f"{label}: speed is worked out from positions; a receiver's own speed would be better.",)
    columns = (Column("time", time_s, "s"), Column("GPS speed", speed_ms, "m/s"))
    return [Table(label, "GPX", columns, source="gpx", remarks=remarks)]


def _from_positions(
    time_s: np.ndarray[tuple[int], np.dtype[np.float64]], points: list[tuple[float, float, float]]
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.float64]]]:
    steps_s = np.diff(time_s)
    way_m = np.array([distance_m(*one[:2], *two[:2]) for one, two in pairwise(points)])
    good = np.isfinite(steps_s) & (steps_s > 0.0) & np.isfinite(way_m)
    return (time_s[:-1] + steps_s / 2.0)[good], way_m[good] / steps_s[good]
