"""The made-up shake that the test files carry: 12 Hz on three axes over gravity, 100 samples a second, two seconds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from vibdiag.recording.reading.open_recording import Reading
from vibdiag.recording.signal import Recording

DATA = Path(__file__).parent / "data"
BROKEN = DATA / "broken"

STANDARD_GRAVITY = 9.80665  # m/s2, exact (3rd CGPM, 1901)
TIME_S = np.arange(200) * 0.01
X = 0.3 * np.sin(2 * np.pi * 12 * TIME_S) + 0.1 * np.sin(np.arange(200) * 1.7)
Y = 0.2 * np.cos(2 * np.pi * 12 * TIME_S)
Z = 9.81 + 0.5 * np.sin(2 * np.pi * 12 * TIME_S + 1)


def axis(recording: Recording, letter: str) -> np.ndarray:
    """The acceleration on one axis; there must be exactly one."""
    (found,) = [c.values for c in recording.channels_of("acceleration").values() if c.axis == letter]
    return found


def assert_is_the_shake(reading: Reading, tolerance: float = 2e-4) -> None:
    """Stamps and all three axes are those of the made-up shake."""
    recording = reading.recording
    np.testing.assert_allclose(recording.time_s, TIME_S, atol=2e-6)
    for letter, truth in (("x", X), ("y", Y), ("z", Z)):
        np.testing.assert_allclose(axis(recording, letter), truth, atol=tolerance)


def uff58_fields(values: np.ndarray, direction: int) -> dict[str, Any]:
    """A time response for the independent writer of data set 58."""
    return {
        "binary": 0, "func_type": 1, "rsp_node": 4, "rsp_dir": direction, "ref_node": 1, "ref_dir": 0,
        "id1": "seat rail", "data": values, "x": TIME_S, "abscissa_spacing": 1, "abscissa_min": 0.0,
        "abscissa_inc": 0.01, "ordinate_spec_data_type": 12, "ordinate_axis_units_lab": "m/s^2",
        "abscissa_spec_data_type": 17, "abscissa_axis_units_lab": "s", "rsp_ent_name": "NONE",
        "ref_ent_name": "NONE", "ver_num": 0, "load_case_id": 0, "orddenom_spec_data_type": 0,
        "z_axis_axis_units_lab": "NONE",
    }  # fmt: skip
