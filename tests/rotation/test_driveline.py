"""Which parts a car has: a part it does not have is never named."""

from __future__ import annotations

import itertools
from typing import Any, get_args

import pytest

from vibdiag.rotation import Driveline, firing_order, turning_parts
from vibdiag.rotation.driveline import Driven, EngineEnd, EnginePlacement, Power, SolidAxles


def named(**layout: Any) -> dict[str, bool]:
    """Part id -> certain."""
    return {part.id: part.certain for part in turning_parts(Driveline(**layout))}


# Layout -> is there a propshaft (True, False, or None for "may have one").
PROPSHAFT = [
    ({"driven": "front", "power": "combustion"}, False),
    ({"driven": "front", "engine_placement": "longitudinal", "power": "combustion"}, False),
    ({"driven": "front"}, False),
    ({"driven": "rear", "engine_placement": "longitudinal", "power": "combustion"}, True),
    ({"driven": "rear", "engine_placement": "longitudinal"}, True),
    ({"driven": "rear", "engine_placement": "longitudinal", "engine_end": "rear"}, False),
    ({"driven": "rear", "engine_placement": "transverse", "power": "combustion"}, False),
    ({"driven": "rear", "engine_end": "front", "power": "combustion"}, True),
    ({"driven": "rear", "power": "combustion"}, None),
    ({"driven": "rear", "power": "electric"}, False),
    ({"driven": "all", "engine_placement": "longitudinal", "power": "combustion"}, True),
    ({"driven": "all", "engine_placement": "transverse", "power": "combustion"}, True),
    ({"driven": "all", "power": "combustion"}, True),
    ({"driven": "all", "power": "hybrid", "engine_placement": "transverse"}, None),
    ({"driven": "all", "power": "hybrid", "engine_placement": "longitudinal"}, True),
    ({"driven": "all", "power": "electric"}, False),
    ({"driven": "all"}, None),
    ({}, None),
    ({"power": "electric"}, False),
]


@pytest.mark.parametrize(("layout", "has"), PROPSHAFT)
def test_the_propshaft_is_named_where_there_is_one(layout: dict[str, Any], has: bool | None) -> None:
    parts = named(**layout)
    if has is False:
        assert "propshaft" not in parts
    else:
        assert parts["propshaft"] is (has is True)


@pytest.mark.parametrize(
    ("layout", "has"),
    [
        ({"driven": "front"}, True),
        ({"driven": "all"}, True),
        ({"driven": "all", "solid_axles": "rear"}, True),
        ({"driven": "all", "solid_axles": "both"}, False),
        ({"driven": "rear", "solid_axles": "rear"}, False),
        ({"driven": "rear", "solid_axles": "none"}, True),
        ({"driven": "rear"}, None),
        ({"driven": "rear", "power": "electric"}, True),
        ({"solid_axles": "none"}, True),
        ({}, None),
    ],
)
def test_halfshafts_need_independent_wheels(layout: dict[str, Any], has: bool | None) -> None:
    parts = named(**layout)
    if has is False:
        assert "halfshaft-joint" not in parts
    else:
        assert parts["halfshaft-joint"] is (has is True)


def test_the_power_decides_over_engine_and_motor() -> None:
    assert "engine" not in named(power="electric", cylinders=4, engine_rpm=3000)
    assert named(power="electric")["motor"]
    assert "motor" not in named(power="combustion", reduction_ratio=9.0)
    hybrid = named(power="hybrid")
    assert hybrid["engine"]
    assert hybrid["motor"]
    assert named() == {"wheel": True, "halfshaft-joint": False, "propshaft": False, "engine": False}
    assert named(cylinders=4)["engine"]


def test_accessories_come_with_the_engine() -> None:
    assert named(power="combustion", accessory_ratios={"alternator": 2.5})["accessory:alternator"]
    assert named(accessory_ratios={"alternator": 2.5})["accessory:alternator"] is False
    assert "accessory:alternator" not in named(power="electric", accessory_ratios={"alternator": 2.5})


def test_no_layout_at_all_breaks_a_rule() -> None:
    """Every combination of words: wheels always, no propshaft on front drive, no engine if electric."""
    words = [get_args(kind) for kind in (Driven, EnginePlacement, EngineEnd, Power, SolidAxles)]
    for driven, placement, end, power, solid in itertools.product(*words):
        parts = named(driven=driven, engine_placement=placement, engine_end=end, power=power, solid_axles=solid)
        assert parts["wheel"]
        assert not (driven == "front" and "propshaft" in parts)
        assert not (power == "electric" and parts.keys() & {"propshaft", "engine"})
        assert not (solid == "both" and "halfshaft-joint" in parts)
        assert driven != "unknown" or parts.get("propshaft") is not True


@pytest.mark.parametrize(
    ("cylinders", "strokes", "order"),
    # Even firing: 4, 6 and 8 from a trade article on vibration orders, the others by its rule.
    [(1, 4, 0.5), (2, 4, 1), (3, 4, 1.5), (4, 4, 2), (5, 4, 2.5), (6, 4, 3), (8, 4, 4), (3, 2, 3)],
)
def test_firing_order(cylinders: int, strokes: Any, order: float) -> None:
    assert firing_order(cylinders, strokes=strokes) == order


@pytest.mark.parametrize(
    ("given", "named_field"),
    [
        ({"driven": "both"}, "driven"),
        ({"engine_placement": "north-south"}, "engine_placement"),
        ({"power": "steam"}, "power"),
        ({"axle_ratio": 0.5}, "axle_ratio"),
        ({"axle_ratio": float("nan")}, "axle_ratio"),
        ({"rear_axle_ratio": 40.0}, "rear_axle_ratio"),
        ({"gear_ratio": 0.0}, "gear_ratio"),
        ({"engine_rpm": -1.0}, "engine_rpm"),
        ({"cylinders": 0}, "cylinders"),
        ({"cylinders": 4.5}, "cylinders"),
        ({"strokes": 3}, "strokes"),
        ({"accessory_ratios": {"fan": 0.0}}, "accessory_ratios"),
        ({"accessory_ratios": {" ": 1.0}}, "accessory_ratios"),
        ({"accessory_ratios": {"wheel": 1.0}}, "accessory_ratios"),
    ],
)
def test_a_wrong_field_is_named(given: dict[str, Any], named_field: str) -> None:
    with pytest.raises(ValueError, match=f"^{named_field} ") as caught:
        Driveline(**given)
    assert str(caught.value).endswith(".")


def test_it_cannot_be_changed_from_outside() -> None:
    ratios = {"alternator": 2.5}
    car = Driveline(accessory_ratios=ratios)
    ratios["alternator"] = 9.0
    assert car.accessory_ratios["alternator"] == 2.5
    assert hash(car) == hash(Driveline(accessory_ratios={"alternator": 2.5}))
