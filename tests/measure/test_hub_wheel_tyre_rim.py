"""Which part carries the runout, and what turning or exchanging parts would do."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from vibdiag.measure import (
    Limit,
    Mounting,
    UncertainVector,
    as_predicted,
    hub_or_wheel,
    match_mount,
    pair_tyres_with_rims,
    place_on_axles,
    predicted_left,
    rim_of,
    separate,
    stud_angles_deg,
    tyre_of,
)
from vibdiag.rotation import Polar

ERROR = 0.004
POLARS = st.builds(Polar, st.floats(0.02, 0.6), st.floats(0.0, 359.0))


def seen(vector: Polar, error: float = ERROR) -> UncertainVector:
    return UncertainVector.even(vector, error)


def at(vector: Polar, by: float) -> Polar:
    return Polar(vector.amount, vector.angle_deg + by)


# --- hub or wheel


@settings(deadline=None)
@given(POLARS, POLARS, st.integers(3, 10), st.integers(1, 9))
def test_any_stud_angle_and_either_mark_give_hub_and_wheel_back(
    hub: Polar, wheel: Polar, studs: int, step: int
) -> None:
    assume(step < studs)
    moved = 360.0 * step / studs
    first, second = hub + wheel, hub + at(wheel, moved)
    from_hub = hub_or_wheel([(0.0, seen(first)), (moved, seen(second))])
    from_stem = hub_or_wheel([(0.0, seen(first)), (moved, seen(at(second, -moved)))], angles_from="wheel")
    for found in (from_hub, from_stem):
        assert (found.hub.value - hub).amount < 1e-9
        assert (found.wheel.value - wheel).amount < 1e-9
        assert found.repeatability_mm is None


def test_half_a_turn_is_half_the_sum_and_half_the_difference() -> None:
    found = hub_or_wheel([(0.0, seen(Polar(0.4, 10.0))), (180.0, seen(Polar(0.3, 200.0)))])
    assert found.hub.value.amount == pytest.approx((Polar(0.4, 10.0) + Polar(0.3, 200.0)).amount / 2)
    assert found.wheel.value.amount == pytest.approx((Polar(0.4, 10.0) - Polar(0.3, 200.0)).amount / 2)


def test_half_a_turn_sees_most() -> None:
    def sees(moved: float) -> float:
        return hub_or_wheel([(0.0, seen(Polar(0.1, 0))), (moved, seen(Polar(0.1, 0)))]).smallest_detectable_mm[0]

    assert sees(180.0) < sees(144.0) < sees(90.0) < sees(72.0)
    for studs in range(3, 11):
        angles = stud_angles_deg(studs)
        assert len(angles) == studs - 1
        amounts = [round(sees(angle), 9) for angle in angles]
        assert amounts == sorted(amounts)


def test_words_follow_from_what_was_detected() -> None:
    def belongs(hub: float, wheel: float, error: float = ERROR) -> str:
        h, w = Polar(hub, 20.0), Polar(wheel, 80.0)
        return hub_or_wheel([(0.0, seen(h + w, error)), (180.0, seen(h - w, error))]).belongs_to

    assert belongs(0.1, 0.0) == "hub"
    assert belongs(0.0, 0.3) == "wheel"
    assert belongs(0.1, 0.3) == "both"
    assert belongs(0.003, 0.003) == "cannot-tell"
    assert belongs(0.1, 0.3, error=0.5) == "cannot-tell"


def test_the_larger_is_named_only_when_the_intervals_are_apart() -> None:
    def larger(hub: float, wheel: float) -> str | None:
        h, w = Polar(hub, 20.0), Polar(wheel, 80.0)
        return hub_or_wheel([(0.0, seen(h + w)), (180.0, seen(h - w))]).larger

    assert (larger(0.1, 0.3), larger(0.3, 0.1), larger(0.2, 0.2)) == ("wheel", "hub", None)


def test_seating_that_does_not_repeat_hides_a_small_hub() -> None:
    rounds = [(0.0, seen(Polar(0.32, 0.0))), (180.0, seen(Polar(0.28, 180.0)))]
    assert hub_or_wheel(rounds).belongs_to == "both"
    assert hub_or_wheel(rounds, seating_error_mm=0.03).belongs_to == "wheel"


def test_more_positions_show_their_repeatability() -> None:
    h, w = Polar(0.05, 10.0), Polar(0.2, 70.0)
    exact = [(m, seen(h + at(w, m))) for m in (0.0, 90.0, 180.0, 270.0)]
    assert hub_or_wheel(exact).repeatability_mm == pytest.approx(0.0, abs=1e-12)
    slipped = [*exact[:3], (270.0, seen(Polar(0.4, 0.0)))]
    bad = hub_or_wheel(slipped)
    assert (bad.repeatability_mm or 0.0) > 0.05
    assert bad.wheel.amount.width > 5.0 * hub_or_wheel(exact).wheel.amount.width


@pytest.mark.parametrize(
    ("mountings", "sentence"),
    [
        ([Mounting(0.0, seen(Polar(1, 0)))], "One mounting"),
        ([Mounting(0.0, seen(Polar(1, 0))), Mounting(360.0, seen(Polar(1, 0)))], "same index angle"),
        ([Mounting(0.0, seen(Polar(1, 0), 0.0)), Mounting(180.0, seen(Polar(1, 0)))], "error above zero"),
    ],
)
def test_mountings_that_tell_nothing_are_refused(mountings: list[Mounting], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        separate(mountings)


def test_wrong_words_are_refused() -> None:
    with pytest.raises(ValueError, match="hub or wheel"):
        hub_or_wheel([], angles_from="car")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="3 to 10"):
        stud_angles_deg(2)


# --- tyre or rim


@settings(deadline=None)
@given(POLARS, POLARS)
def test_the_tyre_is_assembly_less_rim_and_its_high_point_goes_to_the_rims_low_point(rim: Polar, tyre: Polar) -> None:
    plan = match_mount(seen(rim + tyre), seen(rim), turn_error_deg=0.0)
    assert (plan.tyre.value - tyre).amount < 1e-9
    assert (rim + at(tyre, plan.turn_deg)).amount == pytest.approx(abs(rim.amount - tyre.amount), abs=1e-9)
    assert plan.left.best == pytest.approx(abs(rim.amount - tyre.amount), abs=1e-9)
    assert plan.left.best <= plan.before.best + 1e-12
    assert plan.gain.best == pytest.approx(max(0.0, plan.before.best - plan.left.best), abs=1e-9)


@settings(deadline=None)
@given(POLARS, POLARS, st.floats(0.0, 360.0))
def test_no_other_turn_leaves_less(rim: Polar, tyre: Polar, other: float) -> None:
    turn, left = predicted_left(seen(rim), seen(tyre))
    assert (rim + at(tyre, other)).amount >= left.value.amount - 1e-9
    assert (rim + at(tyre, turn)).amount == pytest.approx(left.value.amount, abs=1e-9)


@settings(deadline=None)
@given(POLARS, POLARS, st.floats(0.0, 360.0))
def test_turning_the_whole_frame_turns_nothing_about_the_plan(rim: Polar, tyre: Polar, by: float) -> None:
    one = match_mount(seen(rim + tyre), seen(rim))
    two = match_mount(seen(at(rim + tyre, by)), seen(at(rim, by)))
    off = (one.turn_deg - two.turn_deg + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(0.0, abs=1e-6)
    assert two.left.high == pytest.approx(one.left.high, abs=1e-6)


def test_advice() -> None:
    limit = Limit(1.0, 1.5, "mm", "common practice")

    def advice(rim: Polar, tyre: Polar, error: float = ERROR) -> str:
        return match_mount(seen(rim + tyre, error), seen(rim, error), limit=limit).advice

    assert advice(Polar(0.5, 0), Polar(0.5, 30)) == "turn"
    assert advice(Polar(0.1, 0), Polar(0.2, 30)) == "leave"  # 0.6 mm in all: within as it is
    assert advice(Polar(0.1, 180), Polar(0.9, 0)) == "leave"  # as good as it gets already
    assert advice(Polar(0.2, 0), Polar(1.2, 0)) == "not-enough"  # 2 mm in all would stay
    assert advice(Polar(0.2, 0), Polar(0.8, 0)) == "cannot-tell"  # 1.2 mm in all: makers differ
    assert advice(Polar(0.5, 0), Polar(0.5, 30), error=0.5) == "leave"


def test_after_the_turn_as_predicted_or_not() -> None:
    plan = match_mount(seen(Polar(0.58, 20.0)), seen(Polar(0.25, 0.0)))
    assert plan.advice == "turn"
    assert as_predicted(plan, seen(plan.left_vector.value)).sign == "as-predicted"
    assert as_predicted(plan, seen(Polar(plan.left.high + 0.1, 0.0))).sign == "worse"
    assert as_predicted(plan, seen(Polar(0.0, 0.0), 0.002)).sign == "better"
    assert as_predicted(plan, seen(plan.left_vector.value, 0.3)).sign == "cannot-tell"


def test_the_rim_is_the_mean_of_both_lips() -> None:
    rim = rim_of(seen(Polar(0.2, 0.0)), seen(Polar(0.2, 90.0)))
    assert rim.value.amount == pytest.approx(math.sqrt(0.02))
    assert rim.standard_error_amount == pytest.approx(ERROR / math.sqrt(2.0))
    assert (tyre_of(seen(Polar(0.5, 45.0)), rim).value - Polar(0.5 - math.sqrt(0.02), 45.0)).amount < 1e-9


def test_impossible_hands_are_refused() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        match_mount(seen(Polar(1, 0)), seen(Polar(1, 0)), turn_error_deg=-1.0)


# --- pairing


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(POLARS, POLARS), min_size=1, max_size=4), st.floats(0.001, 0.1))
def test_pairing_is_never_predicted_worse_than_leaving_alone(wheels: list[tuple[Polar, Polar]], error: float) -> None:
    plan = pair_tyres_with_rims([seen(t + r, error) for t, r in wheels], [seen(r, error) for _, r in wheels])
    assert plan.left_rms_mm <= plan.before_rms_mm + 1e-12
    assert sorted(pair.tyre for pair in plan.pairs) == sorted(pair.rim for pair in plan.pairs) == [*range(len(wheels))]
    unmoved = [pair for pair in plan.pairs if pair.turn_deg is None]
    assert all(pair.tyre == pair.rim for pair in unmoved)
    assert plan.beads_to_break == len(wheels) - len(unmoved)


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(POLARS, POLARS), min_size=2, max_size=4))
def test_with_exact_readings_it_is_the_best_of_all_pairings(wheels: list[tuple[Polar, Polar]]) -> None:
    """Every permutation tried, each tyre at its best angle: what is left is ||rim| - |tyre||."""
    plan = pair_tyres_with_rims(
        [seen(t + r, 1e-9) for t, r in wheels], [seen(r, 1e-9) for _, r in wheels], turn_error_deg=0.0
    )
    best = min(
        sum((wheels[t][0].amount - wheels[r][1].amount) ** 2 for t, r in enumerate(order))
        for order in itertools.permutations(range(len(wheels)))
    )
    assert plan.left_rms_mm == pytest.approx(math.sqrt(best / len(wheels)), abs=1e-6)


def test_two_tyres_and_two_rims_are_exchanged_when_that_surely_helps() -> None:
    rims = [Polar(0.1, 0.0), Polar(0.5, 120.0)]
    tyres = [Polar(0.5, 200.0), Polar(0.1, 10.0)]
    plan = pair_tyres_with_rims(
        [seen(t + r) for t, r in zip(tyres, rims, strict=True)], [seen(r) for r in rims], turn_error_deg=0.0
    )
    assert {(pair.tyre, pair.rim) for pair in plan.pairs} == {(0, 1), (1, 0)}
    assert plan.left_rms_mm < 1e-9
    for pair in plan.pairs:
        assert pair.turn_deg is not None
        assert (rims[pair.rim] + at(tyres[pair.tyre], pair.turn_deg)).amount < 1e-9


def test_tyres_stay_when_the_readings_cannot_tell_or_the_exchange_is_not_allowed() -> None:
    rims = [Polar(0.1, 0.0), Polar(0.5, 120.0)]
    tyres = [Polar(0.5, 200.0), Polar(0.1, 10.0)]
    assemblies = [t + r for t, r in zip(tyres, rims, strict=True)]
    coarse = pair_tyres_with_rims([seen(a, 0.5) for a in assemblies], [seen(r, 0.5) for r in rims])
    assert coarse.beads_to_break == 0
    fixed = pair_tyres_with_rims(
        [seen(a) for a in assemblies], [seen(r) for r in rims], allowed=[[True, False], [False, True]]
    )
    assert all(pair.tyre == pair.rim for pair in fixed.pairs)
    bolted = pair_tyres_with_rims(
        [seen(a) for a in assemblies], [seen(r) for r in rims], allowed=[[False, False], [False, False]]
    )
    assert bolted.beads_to_break == 0


@settings(deadline=None)
@given(st.lists(st.floats(0.0, 5.0), min_size=4, max_size=4))
def test_assemblies_go_where_they_are_felt_least(amounts: list[float]) -> None:
    placing = place_on_axles(amounts)
    weights = {"front-left": 1.0, "front-right": 1.0, "rear-left": 0.6, "rear-right": 0.6}
    best = min(
        sum((amounts[a] * weights[place]) ** 2 for place, a in zip(weights, order, strict=True))
        for order in itertools.permutations(range(4))
    )
    assert placing.felt == pytest.approx(best, abs=1e-12)
    front = max(amounts[placing.at[place]] for place in ("front-left", "front-right"))
    assert front <= min(amounts[placing.at[place]] for place in ("rear-left", "rear-right")) + 1e-9


def test_staggered_sizes_keep_their_axle() -> None:
    front_only, rear_only = [True, True, False, False], [False, False, True, True]
    placing = place_on_axles([0.5, 0.4, 0.1, 0.2], allowed=[front_only, front_only, rear_only, rear_only])
    assert {placing.at["front-left"], placing.at["front-right"]} == {0, 1}


def test_numbers_that_do_not_agree_are_refused() -> None:
    one = seen(Polar(0.1, 0.0))
    with pytest.raises(ValueError, match="as many"):
        pair_tyres_with_rims([one, one], [one])
    with pytest.raises(ValueError, match="rows"):
        pair_tyres_with_rims([one], [one], allowed=[[True, True]])
    with pytest.raises(ValueError, match="as many"):
        place_on_axles([1.0])
    with pytest.raises(ValueError, match="zero or more"):
        place_on_axles([1.0, 1.0, 1.0, -1.0])
    with pytest.raises(ValueError, match="rows"):
        place_on_axles([1.0] * 4, allowed=[[True]])
    with pytest.raises(ValueError, match="No placing"):
        place_on_axles([1.0] * 4, allowed=[[True, False, False, False]] * 4)
