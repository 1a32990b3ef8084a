"""Universal file, data set 58 (functions at nodal points), through pyuff (optional)."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.table import Column, Table, check_size, foreign_reader, need, plausible

__all__ = ["read_uff"]

_INSTEAD = "export it as an ASCII universal file (58), or as CSV"
# Codes of data set 58: function type 1 is a time response; ordinate data 11 is velocity, 12 acceleration, and those
# below can be neither shake nor speed (codes from memory).
_TIME_RESPONSE: Final = 1
_ACCELERATION: Final = 12
_OTHER: Final[Mapping[int, str]] = MappingProxyType(
    {2: "stress", 3: "strain", 5: "temperature", 6: "heat flux", 9: "force", 13: "force", 15: "pressure", 16: "mass"}
)
_LARGEST_BYTES: Final = 1 << 30


def read_uff(path: Path, label: str) -> list[Table]:
    """All time responses; those with the same times share a table. The response direction gives axis and sign.

    Raises InputError when pyuff is missing, nothing in the file is a time response, or a set reads back empty.
    """
    pyuff = need("pyuff", package="pyuff", form="universal (UFF58)", instead=_INSTEAD, file=label, extra="uff")
    if path.stat().st_size > _LARGEST_BYTES:
        raise InputError("is larger than 1 GB; cut it to the part with the shake.", file=label)
    groups: list[tuple[np.ndarray[Any, np.dtype[np.float64]], list[Column]]] = []
    remarks: list[str] = []
    with foreign_reader("universal file", _INSTEAD, label), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        file = pyuff.UFF(str(path))
        sets = [i for i, kind in enumerate(file.get_set_types()) if int(kind) == 58]
        for number in sets:
            found = file.read_sets(number)
            if not isinstance(found, Mapping) or "data" not in found:
                raise InputError(f"data set {number + 1} cannot be read; {_INSTEAD}.", file=label)
            if int(found.get("func_type", 0)) != _TIME_RESPONSE or np.iscomplexobj(found["data"]):
                remarks.append(f"{label}: data set {number + 1} is no recording over time and was left out.")
                continue
            if (other := _OTHER.get(int(found.get("ordinate_spec_data_type", 0)))) is not None:
                remarks.append(f"{label}: data set {number + 1} is a {other}, no acceleration, and was left out.")
                continue
            time_s = plausible(np.asarray(found["x"], dtype=np.float64).ravel())
            values = plausible(np.asarray(found["data"], dtype=np.float64).ravel())
            claimed = int(found.get("num_pts", values.size))
            if values.size == 0 or values.size < claimed or time_s.size != values.size:
                raise InputError(
                    f"data set {number + 1} announces {claimed} samples but {values.size} could be read; {_INSTEAD}.",
                    file=label,
                )
            time_s, values = time_s[:claimed], values[:claimed]
            column = _column(found, values, len(sets))
            same = next((columns for known, columns in groups if np.array_equal(known, time_s)), None)
            if same is None:
                groups.append((time_s, [column]))
            else:
                same.append(column)
            check_size(values.size, sum(len(columns) for _, columns in groups) + 1, label)
    if not groups:
        raise InputError(f"holds no recording over time (data set 58, function type 1); {_INSTEAD}.", file=label)
    return [
        Table(
            label if len(groups) == 1 else f"{label} (clock {i})", "UFF58", (Column("time", time_s, "s"), *columns),
            remarks=tuple(remarks) if i == 1 else (),
        )
        for i, (time_s, columns) in enumerate(groups, 1)
    ]  # fmt: skip


def _column(found: Mapping[str, Any], values: np.ndarray[Any, np.dtype[np.float64]], sets: int) -> Column:
    direction = int(found.get("rsp_dir", 0))
    axis = {1: "x", 2: "y", 3: "z"}.get(abs(direction), "")
    unit = str(found.get("ordinate_axis_units_lab", "")).strip()
    unit = "" if unit.upper() == "NONE" else unit
    said = " ".join(
        text for key in ("id1", "rsp_ent_name") if (text := str(found.get(key, "")).strip()) and text.upper() != "NONE"
    )
    node = f" {found.get('rsp_node', '')}".rstrip()
    if int(found.get("ordinate_spec_data_type", 0)) == _ACCELERATION:
        said = f"acceleration {said}".strip()
    name = f"{said}{node if sets > 1 else ''}{' ' + axis if axis else ''}"
    return Column(name, -values if direction < 0 else values, unit, axis)
