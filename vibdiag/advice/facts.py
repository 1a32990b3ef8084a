"""From a case to flat facts: one word or number for each name, unknowns left out, free text never.

The names declared here are what rule files may speak of. Units: km/h, seconds, grams, millimetres, newtons, degrees
Celsius, days, kilometres run; converted here, once, from what the case says.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import get_args

from vibdiag.advice.measured import JUDGED_FACTS, judged_facts, numbers_that_count
from vibdiag.advice.remount import remount_word, remounts
from vibdiag.advice.turning import follows, layout_facts
from vibdiag.case.model import Case, History, Measurement
from vibdiag.case.vocabulary import EventKind, Noise, Place, RepairKind
from vibdiag.reasoning.language import Fact, Name
from vibdiag.units import to_kmh, to_mm, to_newton

__all__ = ["FACTS", "facts_of"]

_YES_NO = ("yes", "no")
_EFFECT = ("brings", "worsens", "unchanged", "eases")
_PLACES = tuple(place for place in get_args(Place) if place != "unknown")
_NOISES = tuple(noise for noise in get_args(Noise) if noise != "none")
_EVENTS: tuple[str, ...] = get_args(EventKind)
# Work of one kind: the youngest of it counts.
_WHEEL_WORK = frozenset(
    {"new-tyres", "other-wheels", "wheels-off", "rotation", "balance", "brake-work", "suspension-work"}
)
_REPAIRS: tuple[str, ...] = tuple(kind for kind in get_args(RepairKind) if kind != "other")
_REPAIR_EFFECTS = ("cured", "partly", "none", "worse", "came-back")

# Field of Conditions -> name of the fact.
_CONDITIONS = {
    "braking": "when-braking",
    "accelerating": "when-accelerating",
    "pulling_away": "pulling-away",
    "coasting": "when-coasting",
    "neutral": "in-neutral",
    "constant_speed": "at-steady-speed",
    "turning_left": "turning-left",
    "turning_right": "turning-right",
    "rough_road": "on-rough-road",
    "smooth_road": "on-smooth-road",
    "loaded": "when-loaded",
    "cold": "when-cold",
    "warm": "when-warm",
    "idle": "when-idling",
    "idle_out_of_gear": "idling-out-of-gear",
    "windows_or_wind": "windows-or-wind",
    "air_conditioning": "air-conditioning",
    "parking_brake": "parking-brake",
    "certain_roads": "on-certain-roads",
    "clutch_or_lockup": "clutch-or-lock-up",
}

# Quantity of a measurement -> (fact, to the fact's unit). The largest value over the wheels counts.
_MEASURED = {
    "tread-radial-runout": ("tread-radial-mm", to_mm),
    "tread-lateral-runout": ("tread-lateral-mm", to_mm),
    "rim-radial-runout": ("rim-radial-mm", to_mm),
    "rim-lateral-runout": ("rim-lateral-mm", to_mm),
    "hub-face-runout": ("hub-face-mm", to_mm),
    "hub-pilot-runout": ("hub-pilot-mm", to_mm),
    "disc-runout": ("disc-runout-mm", to_mm),
    "disc-thickness-variation": ("disc-thickness-variation-mm", to_mm),
    "propshaft-runout": ("propshaft-runout-mm", to_mm),
    "radial-force-variation": ("radial-force-n", to_newton),
}


def _words(name: str, words: tuple[str, ...]) -> Name:
    return Name(name, words)


def _number(name: str, scale: int = 1) -> Name:
    return Name(name, (), scale)


def _declare() -> dict[str, Name]:
    names = [
        _words("driven", ("front", "rear", "all")),
        _words("engine-placement", ("transverse", "longitudinal")),
        _words("drive-energy", ("combustion", "electric", "hybrid")),
        _words("gearbox", ("manual", "automatic")),
        _words("front-axle-solid", _YES_NO),
        _words("rims-not-original", _YES_NO),
        _words("tyres-old", _YES_NO),
        _number("odometer-km"),
        _words("propshaft-in-car", _YES_NO),
        _words("engine-in-car", _YES_NO),
        _words("clutch-or-converter-in-car", _YES_NO),
        _number("starts-kmh", 10),
        _number("worst-kmh", 10),
        _number("fades-kmh", 10),
        _number("band-kmh", 10),
        _words("told-pattern", ("slow-worst", "from-slow", "narrow-band", "fast", "very-fast", "no-fixed-speed")),
        _words("keeps-pace-with", ("road-speed", "engine-speed", "neither")),
        _number("places-felt"),
        _words("felt-strongest", _PLACES),
        _words("comes-from", ("front", "rear", "middle")),
        _words("how-strong", ("slight", "plain", "violent")),
        _words("shakes", _YES_NO),
        _words("moves", ("steering-rotates", "up-down", "side-to-side", "fore-aft")),
        _words("told-rhythm", ("steady", "comes-and-goes", "once-per-turn", "bursts")),
        _number("beat-s", 10),
        _words("same-engine-speed", _YES_NO),
        _words("pulls", _YES_NO),
        _words("hot-or-smells", _YES_NO),
        _words("held-back", _YES_NO),
        _words("lamp-lit", _YES_NO),
        _words("does-not-run-straight", _YES_NO),
        _words("goes-on-bouncing", _YES_NO),
        _words("another-car-does", _YES_NO),
        _words("told-growth", ("sudden", "days", "slow", "stable")),
        _number("wheels-off-days"),
        _number("wheel-work-days"),
        _number("engine-work-days"),
        _number("driveline-work-days"),
        _number("balance-times"),
        _number("balance-found-g"),
        _words("balance-needed", ("little", "much", "impossible")),
        _words("balance-old-weights-off", _YES_NO),
        _words("balance-centring", ("true-bore", "doubtful")),
        _number("balance-step-g", 10),
        _words("balance-repeats", _YES_NO),
        _words("balance-did", ("none", "better", "worse", "came-back")),
        _words("swap-did", ("moved", "no-change", "better", "worse", "gone")),
        _words("good-wheels-did", ("gone", "stays")),
        _words("saw-weight-missing", _YES_NO),
        _words("saw-dirt-in-wheel", _YES_NO),
        _words("saw-rim-bent", _YES_NO),
        _words("saw-tyre", ("bulge-or-cord", "cupped-or-worn", "flat-place", "nothing")),
        _words("saw-wheel-wobble", _YES_NO),
        _words("saw-boot-torn", _YES_NO),
        _words("saw-propshaft-damage", _YES_NO),
        _words("saw-engine-rock", _YES_NO),
        _number("one-brake-hotter-c"),
        _words(
            "frequency-follows",
            (
                "wheel-1x",
                "wheel-2x-or-more",
                "propshaft-1x",
                "propshaft-2x",
                "halfshaft-3x",
                "engine",
                "fixed-frequency",
            ),
        ),
        *(_words(fact, ("within", "over")) for fact in JUDGED_FACTS),
        _words("half-turn-judged", ("with-hub", "with-wheel", "neither")),
        _words("remount-judged", ("repeats", "differs")),
        *(_words(fact, _EFFECT) for fact in _CONDITIONS.values()),
        *(_words(f"felt-{place}", _YES_NO) for place in _PLACES),
        *(_words(f"hears-{noise}", _YES_NO) for noise in _NOISES),
        *(_words(f"had-{event}", _YES_NO) for event in _EVENTS),
        *(_words(f"tried-{kind}", _REPAIR_EFFECTS) for kind in _REPAIRS),
        *(_number(fact, 1000 if to is to_mm else 1) for fact, to in _MEASURED.values()),
        *(_words(f"{fact.rsplit('-', 1)[0]}-against-maker", ("within", "over")) for fact, _ in _MEASURED.values()),
    ]
    declared = {name.name: name for name in names}
    assert len(declared) == len(names), "two facts share a name"
    return declared


FACTS: dict[str, Name] = _declare()


def facts_of(case: Case) -> dict[str, Fact]:
    """Everything the case says, as facts; nothing for what it does not say."""
    return {name: value for name, value in _all(case) if value not in (None, "unknown")}


def _all(case: Case) -> Iterator[tuple[str, Fact | None]]:
    yield from _vehicle(case)
    yield from _complaint(case)
    yield from _history(case)
    yield from _seen(case)
    yield from _measured(case)


def _vehicle(case: Case) -> Iterator[tuple[str, Fact | None]]:
    vehicle = case.vehicle
    yield "driven", vehicle.driven
    yield "engine-placement", vehicle.engine_placement
    yield "drive-energy", vehicle.power
    yield "gearbox", vehicle.gearbox
    yield "front-axle-solid", vehicle.solid_front_axle
    yield "rims-not-original", vehicle.wheels_not_original
    yield "tyres-old", vehicle.tyres.old_or_used
    yield "odometer-km", vehicle.odometer_km
    yield from layout_facts(vehicle).items()


def _complaint(case: Case) -> Iterator[tuple[str, Fact | None]]:
    told = case.complaint
    speed = told.speed
    kmh = {
        field: None if value is None else to_kmh(value, speed.unit)
        for field, value in (("starts", speed.starts), ("worst", speed.worst), ("fades", speed.fades))
    }
    yield from ((f"{field}-kmh", value) for field, value in kmh.items())
    if kmh["starts"] is not None and kmh["fades"] is not None:
        yield "band-kmh", kmh["fades"] - kmh["starts"]
    yield "told-pattern", speed.pattern
    yield "keeps-pace-with", told.tracks
    places = {place for place in told.felt_at if place != "unknown"}
    if told.strongest != "unknown":
        places.add(told.strongest)
    if places:
        yield "places-felt", float(len(places))
        yield from ((f"felt-{place}", "yes" if place in places else "no") for place in _PLACES)
    yield "felt-strongest", told.strongest
    yield "comes-from", told.seems_from
    yield "how-strong", told.severity
    yield "shakes", told.shake
    yield "moves", told.direction
    yield "told-rhythm", told.rhythm
    yield "beat-s", told.beat_period_s
    yield "same-engine-speed", told.same_engine_speed
    yield from ((fact, getattr(told.conditions, field)) for field, fact in _CONDITIONS.items())
    for noise in _NOISES:
        if noise in told.noise:
            yield f"hears-{noise}", "yes"
        elif told.noise == ["none"]:
            yield f"hears-{noise}", "no"
    yield "pulls", told.pull
    yield "hot-or-smells", told.heat_or_smell
    yield "held-back", told.sluggish
    yield "lamp-lit", told.warning_lamp
    yield "does-not-run-straight", told.wanders
    yield "goes-on-bouncing", told.keeps_bouncing
    yield "another-car-does", told.same_in_another_car
    yield "told-growth", told.growth


def _history(case: Case) -> Iterator[tuple[str, Fact | None]]:
    history = case.history
    had = {event.what for event in history.events}
    for event in _EVENTS:
        if event in had:
            yield f"had-{event}", "yes"
        elif event in history.not_happened:
            yield f"had-{event}", "no"
    days = [event.ago_days for event in history.events if event.what == "wheels-off" and event.ago_days is not None]
    yield "wheels-off-days", min(days, default=None)
    yield "wheel-work-days", _youngest(history, _WHEEL_WORK)
    yield "engine-work-days", _youngest(history, {"engine-work"})
    yield "driveline-work-days", _youngest(history, {"driveline-work"})
    balance = history.balance
    yield "balance-times", None if balance.times is None else float(balance.times)
    yield "balance-found-g", balance.found_g
    yield "balance-needed", balance.needed
    yield "balance-old-weights-off", balance.old_weights_removed
    yield "balance-centring", balance.centring
    yield "balance-step-g", balance.display_step_g
    yield "balance-repeats", balance.repeats_on_remount
    yield "balance-did", balance.effect
    yield "swap-did", history.axle_swap
    yield "good-wheels-did", history.known_good_wheels
    # The latest report of each kind of work counts.
    latest = {repair.what: repair.effect for repair in history.repairs if repair.effect != "unknown"}
    yield from ((f"tried-{kind}", effect) for kind, effect in latest.items() if kind in _REPAIRS)


def _youngest(history: History, kinds: Collection[str]) -> float | None:
    """Days from the youngest work of these kinds to the shake; None while any of it has no date: it may be younger."""
    days = [event.ago_days for event in history.events if event.what in kinds]
    dated = [day for day in days if day is not None]
    return min(dated) if dated and len(dated) == len(days) else None


def _seen(case: Case) -> Iterator[tuple[str, Fact | None]]:
    seen = case.seen
    yield "saw-weight-missing", seen.weight_missing
    yield "saw-dirt-in-wheel", seen.dirt_in_wheel
    yield "saw-rim-bent", seen.rim_bent
    yield "saw-tyre", seen.tyre
    yield "saw-wheel-wobble", seen.wheel_wobbles
    yield "saw-boot-torn", seen.joint_boot_torn
    yield "saw-propshaft-damage", seen.propshaft_damaged
    yield "saw-engine-rock", seen.engine_rocks


def _measured(case: Case) -> Iterator[tuple[str, Fact | None]]:
    from_rounds = judged_facts(case)
    yield from from_rounds.items()
    yield "remount-judged", remount_word(remounts(case))
    by_quantity: dict[str, list[Measurement]] = {}
    # A reading after the repair proves it; it says nothing of the complaint.
    for measurement in numbers_that_count(case, from_rounds):
        by_quantity.setdefault(measurement.quantity, []).append(measurement)
    for quantity, (fact, convert) in _MEASURED.items():
        readings = by_quantity.get(quantity, [])
        if not readings:
            continue
        yield fact, max(abs(convert(reading.value, reading.unit)) for reading in readings)
        judged = [abs(reading.value) > reading.limit for reading in readings if reading.limit is not None]
        if any(judged):
            yield f"{fact.rsplit('-', 1)[0]}-against-maker", "over"
        elif len(judged) == len(readings):
            yield f"{fact.rsplit('-', 1)[0]}-against-maker", "within"
    heat = sorted(reading.value for reading in by_quantity.get("brake-temperature", []))
    if len(heat) >= 2:
        yield "one-brake-hotter-c", heat[-1] - heat[-2]
    yield "frequency-follows", follows(case)
