"""Old case files keep loading: each version names the step that brings it to the next."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from vibdiag.case.model import CASE_VERSION
from vibdiag.files.errors import InputError, Spot

__all__ = ["migrate"]

Data = dict[str, Any]


# The first published form is version 1; a later one adds `1: _from_1` here and raises CASE_VERSION.
_STEPS: dict[int, Callable[[Data], Data]] = {}


def migrate(data: Data, *, file: Path | str | None = None, spot: Spot | None = None) -> Data:
    """`data` in the present form; raises InputError when the version is missing, unknown or from the future."""
    version = data.get("vibdiag_case")
    if not isinstance(version, int) or isinstance(version, bool):
        raise InputError(
            f"a case file begins with 'vibdiag_case: {CASE_VERSION}'",
            file=file,
            spot=spot,
            field="vibdiag_case",
        )
    if version > CASE_VERSION:
        raise InputError(
            f"the file has version {version}, this program reads up to {CASE_VERSION}; update vibdiag",
            file=file,
            spot=spot,
            field="vibdiag_case",
        )
    while version < CASE_VERSION:
        if version not in _STEPS:
            raise InputError(f"there never was a version {version}", file=file, spot=spot, field="vibdiag_case")
        data = _STEPS[version](data)
        version = data["vibdiag_case"]
    return data
