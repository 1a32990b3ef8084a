"""A judged recording in words, for 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

from vibdiag.commands.output import bar, paragraph, say
from vibdiag.commands.road.ask import Judged, what_is_wrong
from vibdiag.commands.road.picture import map_rows, order_bars, speed_bars, strongest_lines
from vibdiag.recording.alarm import shown
from vibdiag.recording.analyse import Analysis
from vibdiag.recording.compare import Change
from vibdiag.recording.orders import Line
from vibdiag.recording.signal import Recording

__all__ = ["say_changes", "say_road"]

WHO_DECIDES = "The tool advises; a qualified person decides. The vehicle maker's figures, local law and practice rule."
CAUTION = (
    "Caution: record with the sensor fixed and a passenger at the screen, never the driver; keep to the law and to "
    "what the road allows, and stop the test when the car is hard to hold."
)
_LEAST_SHARE = 0.3  # a weaker wheel than this is not felt as a beat; the same bound as in recording/evidence.py
_STEERING = ("steering-wheel", "steering-column")
_SWEPT_MS = 0.5
_UNCLEAR = "It cannot be told from a fixed frequency here: too weak, or the speed too noisy for so high an order."
_FOLLOWS = {
    "order": "It follows the turning, not a fixed frequency.",
    "fixed": "It stays at its own frequency while the speed changes: a resonance or a part with a speed of its own.",
    "cannot tell": "The speed changed too little to tell it from a fixed frequency; sweep slowly through 20 km/h.",
}


def say_road(judged: Judged) -> None:
    """The whole answer."""
    found, recording = judged.analysis, judged.reading.recording
    speed = "" if found.mean_speed_ms is None else f", mean speed {3.6 * found.mean_speed_ms:.0f} km/h"
    _say(f"{recording.recorded_s:.0f} s recorded{speed}; the sensor sat at: {recording.sensor_place}.")
    wrong = what_is_wrong(judged)
    if wrong or recording.notes:
        say()
        say("What is wrong or was guessed:")
        for sentence in (*wrong, *recording.notes):
            _say(sentence, first="  - ", indent="    ")
    _say_circumference(judged)
    _say_orders(found, recording)
    _say_pictures(found, recording)
    _say_severity(found, recording)
    say()
    _say(CAUTION)
    _say(WHO_DECIDES)


def say_changes(changes: Sequence[Change]) -> None:
    """Before and after, one paragraph an order and channel."""
    say()
    say("Before and after:")
    if not changes:
        _say("No order was found before or after.", first="  ", indent="    ")
    for each in changes:
        _say(f"{each.name} on {each.channel}: {each.verdict}. {each.why}", first="  ", indent="    ")


def _say(text: str, *, first: str = "", indent: str = "  ") -> None:
    say(paragraph(text, indent=indent, first=first))


def _say_circumference(judged: Judged) -> None:
    orders = judged.analysis.orders
    if orders is None:
        return
    say()
    low, high = judged.searched_m
    found = orders.circumference
    if found is None:
        _say(f"No order settles the rolling circumference; looked for from {low:.3f} to {high:.3f} m.")
        return
    other = ""
    if found.confidence < 0.95 and found.other_m is not None:
        other = f" Only {100 * found.confidence:.0f} % sure; the next best is {found.other_m:.3f} m."
    _say(
        f"Rolling circumference by the recorded speed: {found.metres:.3f} m, give or take {1.645 * found.sd_m:.3f} "
        f"(looked for from {low:.3f} to {high:.3f}).{other}"
    )


def _say_orders(found: Analysis, recording: Recording) -> None:
    lines = strongest_lines(found)
    if not lines:
        if found.orders is not None or found.engine is not None:
            _say(_none_found(found))
        return
    for line in lines:
        say()
        _say_order(line, found, recording)
    _say_wheels(found, recording)
    missing = [name for name in _tried(found) if name not in {line.name for line in lines}]
    if missing:
        say()
        _say(f"Not found: {', '.join(missing)}.")
    if found.engine_traced:
        _say("The engine's speed was traced from the shake itself; its firing order is not looked for.")


def _tried(found: Analysis) -> tuple[str, ...]:
    lines = [line for each in (found.orders, found.engine) if each is not None for line in each.lines]
    return tuple(
        dict.fromkeys(line.name for line in sorted(lines, key=lambda line: (line.part == "engine", line.order)))
    )


def _none_found(found: Analysis) -> str:
    if tried := _tried(found):
        return f"No order was found. Tried: {', '.join(tried)}."
    unseen = dict.fromkeys(name for each in (found.orders, found.engine) if each is not None for name in each.unseen)
    return (
        f"No order could be looked for: {', '.join(unseen)} cannot be shown by this rate or in so short a time."
        if unseen
        else "No order could be looked for; the reason stands above."
    )


def _say_order(line: Line, found: Analysis, recording: Recording) -> None:
    same = [each for each in found.lines if each.name == line.name]
    felt = [each for each in same if recording.channels[each.channel].kind == "acceleration"] or same
    top = max(felt, key=lambda each: each.amplitude)
    channel = recording.channels[top.channel]
    axis = "" if channel.axis == "unknown" else f" ({channel.axis})"
    say(f"{line.name} at {line.frequency_hz:.1f} Hz")
    _say(
        f"Strongest on {top.channel}{axis}: {top.amplitude:.3f} {channel.unit} zero to peak "
        f"({top.interval[0]:.3f} to {top.interval[1]:.3f}, 90 %).",
        first="  ",
        indent="    ",
    )
    _say(f"Chance of a false alarm: {shown(min(each.alarm for each in same))}.", first="  ", indent="    ")
    for each in same:
        verdict = found.judged.get((each.name, each.channel))
        if verdict is not None:
            unclear = verdict.verdict == "cannot tell" and verdict.spread_ms > _SWEPT_MS
            _say(_UNCLEAR if unclear else _FOLLOWS[verdict.verdict], first="  ", indent="    ")
    rivals = () if found.orders is None else found.orders.rivals.get(line.name, ())
    if rivals:
        others = " or ".join(f"{name} of a {metres:.3f} m wheel" for name, metres in rivals)
        _say(
            f"It may as well be {others}: cannot tell. The tyre's marking (--tyre) or a second order would settle it.",
            first="  ",
            indent="    ",
        )
    elif _could_be_a_shaft(line, found):
        _say(
            "No other order settles it: a propshaft of about this ratio would look the same. Give --axle-ratio where "
            "the car has one.",
            first="  ",
            indent="    ",
        )
    beats = [beat for (name, _), beat in found.beats.items() if name == line.name and beat.weaker_share > _LEAST_SHARE]
    if beats:
        beat = min(beats, key=lambda each: each.alarm)
        _say(
            f"It swells every {beat.period_s:.0f} s: two wheels {100 * beat.difference:.2f} % apart, the weaker "
            f"{100 * beat.weaker_share:.0f} % of the stronger (false alarm {shown(beat.alarm)}).",
            first="  ",
            indent="    ",
        )
    alone = found.order_severity_ms2.get(line.name)
    if alone is not None:
        _say(f"Weighted, this order alone: {alone:.3f} m/s2 r.m.s.", first="  ", indent="    ")


def _say_wheels(found: Analysis, recording: Recording) -> None:
    """1x wheel, wheel by wheel."""
    apart = found.wheels
    if apart is None:
        return
    say()
    say(f"{apart.order} wheel by wheel, on {apart.channel} (90 %):")
    if apart.refused is not None:
        _say(apart.refused, first="  ", indent="    ")
    largest = max((each.amplitude for each in apart.shares), default=1.0)
    unit = recording.channels[apart.channel].unit
    for each in apart.shares:
        low, high = each.interval
        sure = "" if each.alarm < 0.01 else " not sure"
        length = bar(each.amplitude / largest, cells=12)
        say(f"  {each.name:16.16} {length} {each.amplitude:.3f} ({low:.3f} to {high:.3f}) {unit}{sure}")


def _could_be_a_shaft(line: Line, found: Analysis) -> bool:
    """A single order of about an axle ratio, when no ratio was given."""
    alone = len({each.name for each in found.lines if each.part != "engine"}) == 1
    orders = () if found.orders is None else found.orders.lines
    return alone and 2.5 <= line.order <= 4.5 and not any(each.part == "propshaft" for each in orders)


def _say_pictures(found: Analysis, recording: Recording) -> None:
    if found.order_map is not None:
        say()
        _say(f"Order map of {found.order_map.channel}, by turns of the wheel: darker stands more above the road.")
        for row in map_rows(found.order_map):
            say(row)
    lines = strongest_lines(found)
    if not lines:
        return
    say()
    say("Orders, zero to peak:")
    for row in order_bars(lines, {name: channel.unit for name, channel in recording.channels.items()}):
        say(row)
    for line in lines:
        points = found.over_speed.get((line.name, line.channel), ())
        if len(points) >= 2:
            say()
            say(f"{line.name} on {line.channel} over speed (90 %):")
            for row in speed_bars(points, recording.channels[line.channel].unit):
                say(row)


def _say_severity(found: Analysis, recording: Recording) -> None:
    felt = found.severity
    if felt is None:
        return
    say()
    if recording.sensor_place in _STEERING:
        _say(
            f"For the hands (ISO 5349-1): {felt.vector_sum_ms2:.2f} m/s2 weighted, {felt.worst_ms2:.2f} in the worst "
            "8 s."
        )
    else:
        word = f", {felt.comfort}" if felt.comfort else ""
        _say(
            f"For a person (ISO 2631-1): {felt.vector_sum_ms2:.2f} m/s2 weighted{word}; "
            f"{felt.worst_ms2:.2f} in the worst 8 s. Of everything, the road too."
        )
        if felt.why_no_word:
            _say(f"How it feels cannot be said: {felt.why_no_word}.")
        if felt.assumed_upright:
            _say(f"The axis of {', '.join(felt.assumed_upright)} is not known; weighted as up and down.")
    if felt.left_out:
        _say(f"Of one sensor; {', '.join(felt.left_out)} would count the same shake again.")
    if felt.missing_axes:
        _say(f"Axis {', '.join(felt.missing_axes)} was not measured: the true value is higher.")
