"""Frequency weightings against the tables of the standards.

ISO 2631-1:1997 table 3 (as transcribed in public source code) and ISO 5349-1 table A (excerpt in JIS B 7761-3, on a
public page of the Japanese labour ministry). The former agrees at the nominal frequencies, the latter at the exact band
centres 10^(n / 10) Hz. Tolerances are those of the printed roundings.
"""

import numpy as np
import pytest

from vibdiag.recording.severity import comfort_word, order_severity_ms2
from vibdiag.recording.weighting import weighting_factor

_HZ = (1, 2, 4, 6.3, 8, 10, 16, 20, 25, 40, 63, 80)
WK = dict(zip(_HZ, (0.482, 0.531, 0.967, 1.054, 1.036, 0.988, 0.768, 0.636, 0.513, 0.314, 0.186, 0.132), strict=True))
WD = {2: 0.89, 4: 0.512, 8: 0.253, 16: 0.125, 20: 0.1, 31.5: 0.0632}
_CENTRES = (6.3096, 7.9433, 10.0, 15.8489, 19.9526, 25.1189, 63.0957, 100.0, 251.1886)
WH = dict(zip(_CENTRES, (0.727, 0.873, 0.951, 0.896, 0.782, 0.647, 0.256, 0.16, 0.0634), strict=True))


@pytest.mark.parametrize(("hz", "factor"), WK.items())
def test_wk_iso_2631_1_table_3(hz: float, factor: float) -> None:
    assert float(weighting_factor(hz, "Wk")) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize(("hz", "factor"), WD.items())
def test_wd_iso_2631_1_table_3(hz: float, factor: float) -> None:
    assert float(weighting_factor(hz, "Wd")) == pytest.approx(factor, rel=0.01)


@pytest.mark.parametrize(("hz", "factor"), WH.items())
def test_wh_iso_5349_1_table_a(hz: float, factor: float) -> None:
    assert float(weighting_factor(hz, "Wh")) == pytest.approx(factor, rel=0.005)


def test_an_order_alone_is_its_weighted_root_mean_square() -> None:
    # 0.2 m/s2 peak at 8 Hz upright, Wk(8) = 1.036 (ISO 2631-1 table 3)
    found = order_severity_ms2([(0.2, "z")], frequency_hz=8.0, place="seat-rail")
    assert found == pytest.approx(0.2 / np.sqrt(2.0) * 1.036, rel=0.005)


def test_comfort_bands_of_iso_2631_1_annex_c() -> None:
    edges = {0.314: "not uncomfortable", 0.316: "a little uncomfortable", 0.64: "fairly uncomfortable"}
    assert {value: comfort_word(value) for value in edges} == edges
