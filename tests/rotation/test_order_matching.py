"""Which orders a frequency fits, and which it cannot tell apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibdiag.rotation import (
    Driveline,
    Interval,
    Rate,
    frequency_from_count,
    indistinguishable,
    match_frequency,
    order_of,
    possibility_of_equality,
    rotation_rates,
    true_speed,
)

PICKUP = Driveline(
    driven="rear", engine_placement="longitudinal", power="combustion", axle_ratio=3.08, solid_axles="rear"
)


def rate(label: str, low: float, best: float, high: float, per_wheel: float | None = None) -> Rate:
    """A rate of a wheel part."""
    turns = None if per_wheel is None else Interval.exact(per_wheel)
    return Rate("part", label, 1.0, Interval(low, best, high), "given.", per_wheel_turn=turns)


def test_a_measured_frequency_finds_its_order() -> None:
    """Vehicle service manual, 2008 sedan: 14 Hz with wheel 7 and propshaft 22 Hz is wheel order 2."""
    rates = rotation_rates(Interval.around_fraction(2.4, 0.01), Interval.around_fraction(60.48, 0.01), PICKUP)
    matches = match_frequency(14.0, rates, resolution_hz=0.5)
    assert [match.rate.label for match in matches] == ["2x wheel"]
    assert matches[0].confused_with == ()


def test_what_fits_equally_is_named_on_both_sides() -> None:
    """With an axle ratio of 3.08 the propshaft's first order lies 2.7 % above the wheel's third."""
    dashboard = true_speed(60, "mph", "dashboard")
    rates = rotation_rates(Interval.around_fraction(2.4, 0.02), dashboard, PICKUP)
    matches = {match.rate.label: match for match in match_frequency(32.0, rates)}
    assert "1x propshaft" in matches["3x wheel"].confused_with
    assert "3x wheel" in matches["1x propshaft"].confused_with
    exact = rotation_rates(Interval.exact(2.4), Interval.exact(dashboard.best), PICKUP)
    third = next(each for each in exact if each.label == "3x wheel").frequency_hz.best
    assert [match.rate.label for match in match_frequency(third, exact, resolution_hz=0.3)] == ["3x wheel"]


def test_better_knowledge_of_the_speed_separates_what_turns_differently() -> None:
    rates = rotation_rates(Interval.around_fraction(2.4, 0.02), true_speed(60, "mph", "dashboard"), PICKUP)
    groups = {tuple(each.label for each in group.rates): group for group in indistinguishable(rates)}
    assert groups[("3x wheel", "1x propshaft")].separable_by_speed


def test_what_turns_alike_is_not_separable_by_speed() -> None:
    car = Driveline(driven="front", power="combustion")
    rates = rotation_rates(Interval.exact(2.0), Interval.exact(72.0), car)
    (group,) = indistinguishable(rates, resolution_hz=1.0)
    assert [each.label for each in group.rates] == ["3x wheel", "3x halfshaft"]
    assert not group.separable_by_speed


def test_an_engine_order_is_separable_by_another_gear() -> None:
    (group,) = indistinguishable([rate("3x wheel", 29, 30, 31, 3.0), rate("1x engine", 29, 30, 31)])
    assert group.separable_by_speed


def test_groups_may_share_a_member() -> None:
    rates = [rate("a", 10, 11, 12), rate("b", 11.5, 13, 14), rate("c", 13.5, 15, 16), rate("d", 20, 20, 20)]
    assert [[each.label for each in group.rates] for group in indistinguishable(rates)] == [
        ["a", "b"],
        ["b", "c"],
    ]
    assert [[each.label for each in group.rates] for group in indistinguishable(rates, resolution_hz=2.0)] == [
        ["a", "b", "c"]
    ]


@st.composite
def rate_lists(draw: st.DrawFn) -> list[Rate]:
    """Up to eight rates with random limits."""
    triples = draw(st.lists(st.tuples(*[st.floats(1.0, 100.0)] * 3), max_size=8))
    return [rate(f"{number}", *sorted(triple)) for number, triple in enumerate(triples)]


@given(rate_lists(), st.floats(0.0, 5.0))
def test_groups_are_exactly_the_largest_sets_of_mutual_overlap(rates: list[Rate], resolution: float) -> None:
    groups = [{each.label for each in group.rates} for group in indistinguishable(rates, resolution_hz=resolution)]
    by_label = {each.label: each.frequency_hz for each in rates}
    together = {
        frozenset((a, b))
        for a in by_label
        for b in by_label
        if a < b and by_label[a].overlaps(by_label[b], within=resolution)
    }
    listed = {frozenset((a, b)) for group in groups for a in group for b in group if a < b}
    assert listed == together
    assert not any(one < other for one in groups for other in groups)


@given(rate_lists(), st.floats(1.0, 100.0), st.floats(0.0, 5.0))
def test_goodness_lies_between_nought_and_one_and_means_overlap(rates: list[Rate], hz: float, width: float) -> None:
    measured = Interval.around(hz, min(width, hz))
    matches = match_frequency(measured, rates)
    assert all(0.0 < match.goodness <= 1.0 for match in matches)
    assert [m.goodness for m in matches] == sorted((m.goodness for m in matches), reverse=True)
    assert all(match.rate.frequency_hz.overlaps(measured) for match in matches)
    for each in rates:
        if each.frequency_hz.overlap_width(measured) > 1e-6:
            assert any(match.rate is each for match in matches)


def test_possibility_of_equality_by_hand() -> None:
    """Two triangles of half-width 1, bests apart by 0, 1, 2: they cross at 1, 1/2 and 0."""
    base = Interval(9, 10, 11)
    for shift, height in ((0.0, 1.0), (1.0, 0.5), (2.0, 0.0), (3.0, 0.0)):
        other = Interval(9 + shift, 10 + shift, 11 + shift)
        assert possibility_of_equality(base, other) == pytest.approx(height)
        assert possibility_of_equality(other, base) == pytest.approx(height)
    assert possibility_of_equality(Interval.exact(5), Interval.exact(5)) == 1.0
    assert possibility_of_equality(Interval.exact(5), Interval.exact(6)) == 0.0
    assert possibility_of_equality(base, Interval.exact(10.25)) == pytest.approx(0.75)


def test_certain_orders_stand_before_doubtful_ones() -> None:
    doubtful = Rate("propshaft", "1x propshaft", 1.0, Interval(9, 10, 11), "given.", certain=False)
    matches = match_frequency(10.0, [doubtful, rate("1x wheel", 9, 10, 11)])
    assert [match.rate.label for match in matches] == ["1x wheel", "1x propshaft"]


def test_nothing_fits_a_frequency_that_no_part_has() -> None:
    assert match_frequency(3.0, [rate("1x wheel", 9, 10, 11)], resolution_hz=0.5) == ()


@given(st.integers(1, 1000), st.floats(1.0, 60.0))
def test_a_count_is_good_to_one_either_way(count: int, seconds: float) -> None:
    found = frequency_from_count(count, seconds)
    assert found.best == pytest.approx(count / seconds)
    assert found.width == pytest.approx(2.0 / seconds)


def test_order_of_two_intervals_encloses_every_quotient() -> None:
    found = order_of(Interval(13.5, 14, 14.5), Interval(6.9, 7, 7.1))
    assert found.best == 2.0
    assert found.contains(13.5 / 7.1)
    assert found.contains(14.5 / 6.9)


def test_bad_input_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        frequency_from_count(0, 10)
    with pytest.raises(ValueError, match="above zero seconds"):
        frequency_from_count(10, 0)
    with pytest.raises(ValueError, match="resolution"):
        match_frequency(10, [], resolution_hz=-1)
    with pytest.raises(ValueError, match="resolution"):
        indistinguishable([], resolution_hz=float("nan"))
    with pytest.raises(ValueError, match="zero or more"):
        match_frequency(-1.0, [])
