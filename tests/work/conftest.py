"""What the tests of working on cases share: a case from its parts, on the disk."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibdiag.case.model import Case
from vibdiag.case.storage import save_case


@pytest.fixture(scope="session")
def case_of() -> Callable[..., Case]:
    """A case from its parts, as they stand in a file."""
    return lambda **parts: Case.model_validate({"vibdiag_case": 1, "id": "case", **parts})


@pytest.fixture
def on_disk(tmp_path: Path, case_of: Callable[..., Case]) -> Callable[..., Path]:
    """The path of a case file made from its parts."""

    def write(name: str = "case", **parts: Any) -> Path:
        path = tmp_path / f"{name}.yaml"
        save_case(case_of(**parts), path)
        return path

    return write
