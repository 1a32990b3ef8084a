"""Conversions against SciPy's table of constants, an independent library, and published pairs of units."""

from __future__ import annotations

import importlib
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag import units
from vibdiag.units import to_grams, to_hz, to_km, to_kmh, to_kpa, to_mm, to_newton, to_newton_metre

# SciPy has no type stubs here, and needs none for a table of numbers.
constants: Any = importlib.import_module("scipy.constants")

AGAINST_SCIPY = [
    (to_kmh(1.0, "mph"), constants.mph / constants.kmh),
    (to_kmh(1.0, "m/s"), 1.0 / constants.kmh),
    (to_mm(1.0, "in"), constants.inch / constants.milli),
    (to_mm(1.0, "thou"), constants.mil / constants.milli),
    (to_mm(32.0, "32nds"), constants.inch / constants.milli),
    (to_km(1.0, "mile"), constants.mile / constants.kilo),
    (to_grams(1.0, "oz"), constants.oz / constants.gram),
    (to_grams(1.0, "lb"), constants.lb / constants.gram),
    (to_newton(1.0, "lbf"), constants.lbf),
    (to_kpa(1.0, "psi"), constants.psi / constants.kilo),
    (to_kpa(1.0, "bar"), constants.bar / constants.kilo),
    (to_newton_metre(1.0, "lbf.ft"), constants.lbf * constants.foot),
    (to_hz(60.0, "rpm"), 60.0 / constants.minute),
]


@pytest.mark.parametrize(("ours", "scipy"), AGAINST_SCIPY)
def test_factors_agree_with_scipy(ours: float, scipy: float) -> None:
    assert ours == pytest.approx(scipy, rel=1e-7)  # the psi is given to seven figures


@pytest.mark.parametrize(
    ("spelling", "same_as", "convert"),
    [
        ("kmh", "km/h", to_kmh),
        ("KPH", "km/h", to_kmh),
        (" km/h ", "km/h", to_kmh),
        ("inch", "in", to_mm),
        ('"', "in", to_mm),
        ("ounces", "oz", to_grams),
        ("kPa", "KPA", to_kpa),
        ("1/min", "rpm", to_hz),
        ("r/min", "rpm", to_hz),
        ("Nm", "N.m", to_newton_metre),
        ("ft-lb", "lbf.ft", to_newton_metre),
    ],
)
def test_usual_spellings_mean_the_same(spelling: str, same_as: str, convert: object) -> None:
    assert callable(convert)
    assert convert(7.0, spelling) == convert(7.0, same_as)


@pytest.mark.parametrize(
    ("convert", "named"),
    [
        (to_kmh, "km/h, mph, m/s"),
        (to_mm, "thou"),
        (to_km, "miles"),
        (to_grams, "oz"),
        (to_kpa, "psi"),
        (to_newton, "lbf"),
        (to_newton_metre, "lbf.ft"),
        (to_hz, "rpm"),
    ],
)
def test_an_unknown_unit_is_refused_in_one_sentence_that_names_the_right_ones(convert: object, named: str) -> None:
    assert callable(convert)
    with pytest.raises(ValueError, match="furlong") as caught:
        convert(1.0, "furlong")
    message = str(caught.value)
    assert named in message
    assert message.endswith(".")
    assert "\n" not in message


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        to_mm(value, "mm")


def test_published_pairs_of_units() -> None:
    # Re-torque distance for heavy vehicles, 25-50 miles or 40-80 km: DVSA guidance quoted by a haulage site.
    assert to_km(25.0, "miles") == pytest.approx(40.0, abs=0.5)
    assert to_km(50.0, "miles") == pytest.approx(80.0, abs=0.5)
    # 0.50 to 0.75 oz printed as 14 to 21 g: vehicle service manual, 1999 pickup, balancing guidelines.
    assert round(to_grams(0.5, "oz")) == 14
    assert round(to_grams(0.75, "oz")) == 21


@given(st.floats(-1e6, 1e6), st.sampled_from(["km/h", "mph", "m/s"]))
def test_conversion_is_proportional(value: float, unit: str) -> None:
    assert to_kmh(2.0 * value, unit) == pytest.approx(2.0 * to_kmh(value, unit))


def test_every_converter_is_public() -> None:
    assert {name for name in vars(units) if name.startswith("to_")} <= set(units.__all__)
