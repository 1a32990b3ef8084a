"""What the shipped rules make of plain facts where it was once lost or turned round. All of it is common practice."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from vibdiag.advice.assess import Adviser

Facts = Mapping[str, str | float]

# Facts, a sign, and the words that must follow for it: none, or just one.
CONCLUDED: list[tuple[Facts, str, set[str]]] = [
    # A shudder in a band is not the shape of a tyre; one that is there from walking pace and fades may be.
    ({"starts-kmh": 40, "fades-kmh": 56}, "speed-pattern", {"narrow-band"}),
    ({"starts-kmh": 24.9, "fades-kmh": 56}, "speed-pattern", {"slow-worst"}),
    ({"starts-kmh": 25, "fades-kmh": 56}, "speed-pattern", {"narrow-band"}),
    ({"fades-kmh": 50}, "speed-pattern", {"slow-worst"}),
    ({"starts-kmh": 125, "fades-kmh": 145, "band-kmh": 20}, "speed-pattern", {"narrow-band"}),
    ({"starts-kmh": 125, "fades-kmh": 175, "band-kmh": 50}, "speed-pattern", {"very-fast"}),
    ({"starts-kmh": 125}, "speed-pattern", {"very-fast"}),
    ({"starts-kmh": 80, "told-pattern": "very-fast"}, "speed-pattern", {"very-fast"}),
    # Out of gear it goes: only a shake that is there at idle may say that of the engine.
    ({"in-neutral": "eases"}, "power", {"brings"}),
    ({"in-neutral": "eases", "when-idling": "eases"}, "power", {"brings"}),
    ({"in-neutral": "eases", "when-idling": "worsens"}, "power", set()),
    ({"turning-left": "eases"}, "turning", {"eases"}),
    ({"turning-right": "eases", "turning-left": "eases"}, "turning", {"eases"}),
    ({"turning-left": "eases", "turning-right": "unchanged"}, "turning", {"one-way"}),
    ({"turning-left": "unchanged", "turning-right": "eases"}, "turning", {"one-way"}),
    ({"turning-left": "eases", "turning-right": "worsens"}, "turning", {"one-way"}),
    ({"turning-left": "brings"}, "turning", {"one-way"}),
    ({"turning-left": "brings", "turning-right": "brings"}, "turning", {"both-ways"}),
    ({"when-warm": "eases"}, "warm-up", {"goes-when-warm"}),
    ({"when-cold": "eases"}, "warm-up", {"comes-when-warm"}),
    ({"when-cold": "eases", "when-warm": "worsens"}, "warm-up", {"comes-when-warm"}),
    ({"when-cold": "unchanged"}, "warm-up", {"unchanged"}),
    ({"when-warm": "unchanged"}, "warm-up", {"unchanged"}),
    ({"when-cold": "unchanged", "when-warm": "unchanged"}, "warm-up", {"unchanged"}),
    ({"when-cold": "unchanged", "when-warm": "brings"}, "warm-up", {"comes-when-warm"}),
    ({"when-cold": "eases", "when-warm": "eases"}, "warm-up", set()),
    ({"balance-found-g": 6}, "balance-found", {"little"}),
    ({"balance-found-g": 10}, "balance-found", set()),
    ({"balance-found-g": 16}, "balance-found", {"much"}),
    ({"felt-steering-wheel": "yes", "felt-mirror-or-dash": "yes", "places-felt": 2}, "felt-most", {"steering-wheel"}),
    ({"felt-steering-wheel": "yes", "felt-seat": "yes", "places-felt": 2}, "felt-most", set()),
    # A rough road that makes it worse is not one bump that sets off a shimmy.
    ({"on-rough-road": "worsens", "how-strong": "violent"}, "bump-starts-it", set()),
    ({"on-rough-road": "brings"}, "bump-starts-it", set()),
    ({"on-rough-road": "brings", "how-strong": "violent"}, "bump-starts-it", {"yes"}),
    ({"tried-rotation": "cured"}, "axle-swap", {"gone"}),
    # Kilometres are kept whole, so no car lies in two bands or in none.
    ({"odometer-km": 29_999.4}, "km-run", {"low"}),
    ({"odometer-km": 29_999.6}, "km-run", {"middle"}),
    ({"odometer-km": 30_000}, "km-run", {"middle"}),
    ({"odometer-km": 150_000.4}, "km-run", {"middle"}),
    ({"odometer-km": 150_000.6}, "km-run", {"high"}),
    *(
        ({f"had-{work}": "yes"}, "wheels-were-off", {"yes"})
        for work in ("new-tyres", "rotation", "other-wheels", "brake-work", "suspension-work", "balance")
    ),
    ({"had-brake-work": "yes", "had-wheels-off": "no"}, "wheels-were-off", {"no"}),
]


@pytest.mark.parametrize(("facts", "sign", "words"), CONCLUDED, ids=lambda value: str(value)[:60])
def test_from_plain_facts(adviser: Adviser, facts: Facts, sign: str, words: set[str]) -> None:
    assert set(adviser.engine.evaluate(facts).signs.get(sign, ())) == words


# Facts, what checks and questions found, and the dangers that are raised: these and no others.
RAISED: list[tuple[Facts, Mapping[str, str], set[str]]] = [
    ({"had-wheels-off": "yes", "wheels-off-days": 20, "told-growth": "slow"}, {}, {"loose-wheel"}),
    ({"had-brake-work": "yes", "wheel-work-days": 20, "told-growth": "stable"}, {}, {"loose-wheel"}),
    ({"had-brake-work": "yes", "wheel-work-days": 200, "told-growth": "sudden"}, {}, set()),
    ({"had-brake-work": "yes", "told-growth": "sudden"}, {}, {"loose-wheel"}),
    ({"how-strong": "violent"}, {}, {"tyre-belt-damage", "loose-wheel", "steering-suspension-play"}),
    ({}, {"wheel-rocks": "yes"}, {"loose-wheel", "wheel-bearing", "steering-suspension-play"}),
    ({"saw-wheel-wobble": "yes"}, {}, {"loose-wheel", "tyre-belt-damage"}),
    ({"saw-rim-bent": "yes"}, {}, {"bent-rim"}),
    ({}, {"leak": "oil-at-axle-or-wheel"}, {"final-drive"}),
    ({"had-sealant": "yes"}, {}, {"tyre-belt-damage"}),
    ({}, {"panel-shakes": "yes"}, {"aerodynamic"}),
    ({"had-under-cover-touched": "yes"}, {}, {"aerodynamic"}),
    ({}, {"outer-joint": "worn"}, {"outer-drive-joint"}),
    ({}, {"centre-bearing": "torn-or-rough"}, {"propshaft-centre-bearing"}),
    ({}, {"axle-play": "worn"}, {"final-drive"}),
    ({"had-crash": "yes"}, {}, {"steering-suspension-play"}),
    ({"hot-or-smells": "yes"}, {}, {"brake-drag"}),
    ({"hot-or-smells": "yes", "lamp-lit": "yes"}, {}, {"brake-drag", "engine-rough-running"}),
    ({"hot-or-smells": "yes"}, {"smell-from": "engine-or-exhaust"}, {"brake-drag", "engine-rough-running"}),
    ({"hot-or-smells": "yes"}, {"smell-from": "clutch-or-gearbox"}, {"brake-drag", "converter-or-clutch-judder"}),
    ({"on-rough-road": "worsens", "felt-strongest": "steering-wheel"}, {}, set()),
    ({"starts-kmh": 40, "fades-kmh": 56, "told-growth": "slow", "at-steady-speed": "brings"}, {}, set()),
]


@pytest.mark.parametrize(("facts", "found", "dangers"), RAISED, ids=lambda value: str(value)[:60])
def test_what_raises_a_danger(adviser: Adviser, facts: Facts, found: Mapping[str, str], dangers: set[str]) -> None:
    signs = adviser.engine.evaluate(facts, found).signs
    assert {name.removeprefix("danger-") for name in signs if name.startswith("danger-")} == dangers


def test_fasteners_measured_tight_clear_a_loose_wheel_of_whatever_growth(adviser: Adviser) -> None:
    text = adviser.base.causes["loose-wheel"].danger
    assert text is not None
    assert (text.cleared_by, text.clear_outcome) == ("bay-fasteners", "tight")


def test_a_dragging_brake_is_looked_for_before_the_car_is_driven(adviser: Adviser) -> None:
    check = adviser.base.steps["bay-brake-heat"]
    hand = next(place for place, line in enumerate(check.steps) if "turn each wheel by hand" in line)
    drive = next(place for place, line in enumerate(check.steps) if "drive steadily" in line)
    assert hand < drive
    assert check.steps[drive].startswith("Only where all four turn freely")
