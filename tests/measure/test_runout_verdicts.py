"""Verdicts follow from intervals: places, limits and their sources, few readings, the maker's figure."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from vibdiag.measure import (
    LIMITS,
    Limit,
    LimitId,
    Place,
    clock_hour,
    dial_readings,
    evenly_spaced_deg,
    judge,
    judge_at_least,
    limit_for,
    limit_id_of,
    runout,
    tilt_deg,
)
from vibdiag.rotation import Interval

PUBLISHED = {
    entry["id"]: entry
    for entry in yaml.safe_load(
        (Path(__file__).parents[1] / "rotation" / "reference_values.yaml").read_text(encoding="utf-8")
    )
}
NUMBERS = st.floats(0.001, 10.0)


def eccentric(amount_mm: float, *, count: int = 12, high_deg: float = 100.0) -> list[float | None]:
    return [round(amount_mm * math.cos(math.radians(angle - high_deg)), 2) for angle in evenly_spaced_deg(count)]


@settings(deadline=None)
@given(NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
def test_a_sign_holds_for_every_value_in_the_interval_and_every_limit_in_the_range(
    a: float, b: float, c: float, d: float, e: float
) -> None:
    low, best, high = sorted((a, b, c))
    strict, loose = sorted((d, e))
    sign = judge(Interval(low, best, high), Limit(strict, loose, "mm", "test")).sign
    if sign == "within":
        assert high <= strict
    elif sign == "over":
        assert low > loose
    else:
        assert high > strict
        assert low <= loose


@settings(deadline=None)
@given(NUMBERS, NUMBERS)
def test_a_lower_bound_never_shows_within(value: float, limit: float) -> None:
    sign = judge_at_least(value, Limit.of_maker(limit, "mm")).sign
    assert sign == ("over" if value > limit else "cannot-tell")


@pytest.mark.parametrize("place", get_args(Place))
def test_every_place_is_judged_with_its_source_shown(place: Place) -> None:
    found = runout(dial_readings(eccentric(3.0)), place)
    assert found.total.sign == "over"
    assert found.first.sign == "over"
    assert found.limit.source in found.total.because
    assert runout(dial_readings([0.0] * 12, resolution=0.001, noise=0.001), place).total.sign == "within"


def test_radial_is_eccentricity_and_lateral_is_tilt() -> None:
    assert runout(dial_readings(eccentric(0.1)), "hub-pilot").first_is == "eccentricity"
    assert runout(dial_readings(eccentric(0.1)), "hub-face").first_is == "tilt"
    assert tilt_deg(1.0, 57.29) == pytest.approx(1.0, rel=1e-3)


def test_the_makers_figure_overrides_the_range() -> None:
    readings = dial_readings(eccentric(0.62))  # 1.24 mm in all
    usual, strict, loose = (runout(readings, "tread-radial", maker_limit_mm=m) for m in (None, 1.0, 1.5))
    assert (usual.total.sign, strict.total.sign, loose.total.sign) == ("cannot-tell", "over", "within")
    assert "makers' limits differ" in usual.total.because
    assert "common practice" in usual.total.because
    assert "the vehicle maker's figure" in strict.total.because


def test_the_eccentric_part_may_be_within_when_the_whole_is_over() -> None:
    """An oval of 1.6 mm in all on a well centred wheel: over, but nothing that centring could mend."""
    values = [0.8 * math.cos(math.radians(2 * angle)) for angle in evenly_spaced_deg(16)]
    found = runout(dial_readings(values), "tread-radial")
    assert (found.total.sign, found.first.sign) == ("over", "within")
    assert any(said.startswith("Oval: 0.80") for said in found.says)


@pytest.mark.parametrize("count", [4, 5, 6, 7])
def test_few_readings_can_show_over_but_never_within(count: int) -> None:
    """The largest less the smallest reading is a lower bound of the total, whatever the shape."""
    bad = runout(dial_readings(eccentric(1.5, count=count)), "tread-radial")
    assert bad.total.sign == "over"
    assert "at least" in bad.total.because
    good = runout(dial_readings(eccentric(0.01, count=count)), "tread-radial")
    assert good.total.sign == "cannot-tell"
    for found in (bad, good):
        assert found.first.sign == "cannot-tell"
        assert f"{count} readings cannot separate" in found.first.because
        assert found.reading.total is None
        assert any("Only a hint" in said for said in found.says) == (count >= 6)


def test_the_lower_bound_of_few_noisy_readings_is_rarely_wrong() -> None:
    """A round part read at 6 places with noise: the bound must stay below the truth (zero) in 95 % of rounds."""
    draw = np.random.default_rng(6)
    wrong = sum(
        runout(dial_readings(list(0.02 * draw.standard_normal(6)), noise=0.02), "hub-face").reading.at_least > 0.0
        for _ in range(1000)
    )
    assert wrong <= 50


def test_near_the_limit_the_sign_is_cannot_tell_and_finer_reading_decides() -> None:
    coarse = runout(dial_readings(eccentric(0.52), resolution=0.05, noise=0.05), "tread-radial", maker_limit_mm=1.0)
    fine = runout(dial_readings(eccentric(0.52), noise=0.005), "tread-radial", maker_limit_mm=1.0)
    assert coarse.total.sign == "cannot-tell"
    assert fine.total.sign == "over"


def test_thousandths_of_an_inch_give_the_same_verdict() -> None:
    thou = [None if v is None else v / 0.0254 for v in eccentric(0.62)]
    found = runout(dial_readings(thou, unit="thou", resolution=0.01 / 0.0254), "rim-inner-radial", rim="steel")
    expected = runout(dial_readings(eccentric(0.62)), "rim-inner-radial", rim="steel")
    assert found.total == expected.total
    assert found.first == expected.first


def test_clock_positions_follow_the_side_of_the_car() -> None:
    found = runout(dial_readings(eccentric(0.6, high_deg=90)), "tread-radial")
    assert any("3 o'clock" in said for said in found.says)
    left = runout(dial_readings(eccentric(0.6, high_deg=90)), "tread-radial", turning="counter-clockwise")
    assert any("9 o'clock" in said for said in left.says)
    assert [clock_hour(30.0 * hour) for hour in range(12)] == [12, *range(1, 12)]
    with pytest.raises(ValueError, match="clockwise"):
        clock_hour(0.0, turning="left")  # type: ignore[arg-type]


# --- the table of limits


def test_every_limit_names_a_source_and_can_be_overridden() -> None:
    assert set(LIMITS) == set(get_args(LimitId))
    for limit_id, limit in LIMITS.items():
        assert limit.source
        assert limit_for(limit_id, maker=0.123) == Limit.of_maker(0.123, limit.unit)


@pytest.mark.parametrize(
    ("limit_id", "published"),
    [
        ("tread-radial", ["UNI-010", "UNI-012", "UNI-016", "UNI-018"]),
        ("tread-lateral", ["UNI-011", "UNI-013", "UNI-017"]),
        ("rim-alloy-radial", ["UNI-009", "UNI-014", "UNI-022", "UNI-023"]),
        ("rim-alloy-lateral", ["UNI-009", "UNI-014", "UNI-023"]),
        ("rim-steel-radial", ["UNI-009", "UNI-015", "UNI-020"]),
        ("rim-steel-lateral", ["UNI-009", "UNI-015", "UNI-021"]),
        ("hub-face", ["UNI-029", "UNI-030"]),
        ("hub-pilot", ["UNI-028"]),
        ("brake-disc", ["UNI-034"]),
        ("disc-thickness-variation", ["UNI-031", "UNI-032", "UNI-033"]),
    ],
)
def test_published_figures_stand_beside_the_limit(limit_id: LimitId, published: list[str]) -> None:
    """Service manuals and bulletins by kind and year, and 49 CFR 570.10(b); see reference_values.yaml."""
    shown = [float(number) for number in re.findall(r"\d+\.\d+", LIMITS[limit_id].published)]
    for entry in published:
        assert PUBLISHED[entry]["expected"] in shown, PUBLISHED[entry]["source"]


def test_force_variation_limits_are_the_published_ones() -> None:
    """UNI-004, encyclopaedia page on radial force variation: 120 N in all, 80 N first harmonic, peak to peak."""
    total, first = PUBLISHED["UNI-004"]["expected"]
    assert (LIMITS["radial-force-total"].strict, LIMITS["radial-force-first"].strict) == (total, first)


def test_unknown_places_limits_and_figures_are_refused() -> None:
    with pytest.raises(ValueError, match="no place"):
        limit_id_of("roof")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="alloy, steel"):
        limit_id_of("rim-inner-radial", rim="wood")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="no limit"):
        limit_for("roof")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="strict"):
        limit_for("hub-face", maker=0.0)
    with pytest.raises(ValueError, match="radius"):
        tilt_deg(0.1, 0.0)
