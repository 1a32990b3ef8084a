"""WAV, through scipy: evenly sampled channels without units, one for each axis of a sensor."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

from vibdiag.files.errors import InputError
from vibdiag.recording.reading.table import Column, Table, check_size, foreign_reader, need, plausible

__all__ = ["read_wav"]

_INSTEAD = "export the recording again, or as CSV"


def read_wav(path: Path, label: str) -> list[Table]:
    """Channels as parts of full scale, -1 to 1, the rate from the header.

    One channel is taken as vertical acceleration, three as x, y, z. WAV knows no units: full scale is taken as 1 g and
    it is said so; floating-point samples beyond 1 are taken as physical values. Raises InputError for a damaged file.
    """
    wavfile = need("scipy.io.wavfile", package="scipy", form="WAV", instead="export it as CSV", file=label)
    with foreign_reader("WAV", _INSTEAD, label), warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        rate_hz, data = wavfile.read(path)
        samples = np.atleast_2d(np.asarray(data).T).T
    if samples.size == 0 or samples.ndim != 2 or not 0 < rate_hz <= 10_000_000:
        raise InputError("holds no samples; was the recording stopped before it was saved?", file=label)
    check_size(samples.shape[0], samples.shape[1], label)
    physical = samples.dtype.kind == "f" and bool(np.nanmax(np.abs(samples)) > 1.0)
    columns = []
    for index in range(samples.shape[1]):
        axis = "xyz"[index] if samples.shape[1] == 3 else ""
        values = np.asarray(samples[:, index], dtype=np.float64)
        if samples.dtype.kind == "u":
            values = (values - 128.0) / 128.0
        elif samples.dtype.kind == "i":
            values /= float(np.iinfo(samples.dtype).max) + 1.0
        columns.append(Column(f"acceleration channel {index + 1}", plausible(values), "" if physical else "g*1", axis))
    remarks = [f"{label}: {' '.join(str(warning.message).split())}." for warning in caught[:1]]
    if not physical:
        remarks.append(
            f"{label}: WAV gives no unit, so full scale is taken as 1 g and all levels are only relative; "
            "if full scale is 16 g, say 1=accel-z:g*16."
        )
    return [Table(label, "WAV", tuple(columns), rate_hz=float(rate_hz), remarks=tuple(remarks))]
