"""A judged recording as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from vibdiag.commands.road.ask import Judged
from vibdiag.recording.compare import Change
from vibdiag.recording.orders import Line

__all__ = ["road_data"]


def _number(value: float | None, digits: int = 5) -> float | None:
    """None for what JSON has no word for."""
    return None if value is None or not np.isfinite(value) else round(float(value), digits)


def _pair(value: tuple[float, float] | None) -> list[float | None] | None:
    return None if value is None else [_number(each) for each in value]


def _order(judged: Judged, line: Line) -> dict[str, Any]:
    found, key = judged.analysis, (line.name, line.channel)
    channel = judged.reading.recording.channels[line.channel]
    verdict, beat = found.judged.get(key), found.beats.get(key)
    return {
        "order": line.name,
        "part": line.part,
        "channel": line.channel,
        "axis": channel.axis,
        "unit": channel.unit,
        "hz": _number(line.frequency_hz, 3),
        "amplitude": _number(line.amplitude),
        "interval": _pair(line.interval),
        "alarm": _number(line.alarm, 6),
        "may_be": [
            {"order": name, "circumference_m": _number(metres)}
            for name, metres in (() if found.orders is None else found.orders.rivals.get(line.name, ()))
        ],
        "order_or_fixed": None if verdict is None else verdict.verdict,
        "beat": None
        if beat is None
        else {
            "percent": _number(100 * beat.difference, 3),
            "period_s": _number(beat.period_s, 2),
            "weaker_share": _number(beat.weaker_share, 3),
            "alarm": _number(beat.alarm, 6),
        },
        "over_speed": [
            {"kmh": _number(at.speed_kmh, 1), "amplitude": _number(at.amplitude), "interval": _pair(at.interval)}
            for at in found.over_speed.get(key, ())
        ],
    }


def road_data(judged: Judged, changes: Sequence[Change] | None, kept: str | None) -> dict[str, Any]:
    """Everything the text says, under the keys that README names."""
    found, recording = judged.analysis, judged.reading.recording
    metres = None if found.orders is None else found.orders.circumference
    felt = found.severity
    return {
        "seconds": _number(recording.recorded_s, 2),
        "sensor_place": recording.sensor_place,
        "read_as": list(judged.reading.layout.lines()),
        "remarks": [
            *recording.notes,
            *(says for kind, says in judged.reading.faults if kind not in {each.kind for each in found.faults}),
        ],
        "faults": [
            {"kind": each.kind, "says": each.sentence, "blocks_orders": each.blocks_orders} for each in found.faults
        ],
        "mean_kmh": _number(None if found.mean_speed_ms is None else 3.6 * found.mean_speed_ms, 2),
        "delay_s": _number(found.delay_s, 2),
        "searched_m": _pair(judged.searched_m),
        "circumference": None
        if metres is None
        else {
            "m": _number(metres.metres),
            "sd_m": _number(metres.sd_m),
            "confidence": _number(metres.confidence, 4),
            "other_m": _number(metres.other_m),
        },
        "engine_traced": found.engine_traced,
        "orders": [_order(judged, line) for line in found.lines],
        "not_found": sorted({line.name for each in (found.orders, found.engine) if each for line in each.lines}
                            - {line.name for line in found.lines}),
        "cannot_show": list(() if found.orders is None else found.orders.unseen),
        "fixed_hz": {name: [_number(each, 2) for each in hz] for name, hz in found.humps_hz.items()},
        "severity": None
        if felt is None
        else {
            "weighted_ms2": {name: _number(each) for name, each in felt.weighted_ms2.items()},
            "vector_sum_ms2": _number(felt.vector_sum_ms2),
            "worst_ms2": _number(felt.worst_ms2),
            "comfort": felt.comfort,
            "missing_axes": list(felt.missing_axes),
            "why_no_word": felt.why_no_word,
            "assumed_upright": list(felt.assumed_upright),
            "left_out": list(felt.left_out),
        },
        "order_severity_ms2": {name: _number(each) for name, each in found.order_severity_ms2.items()},
        "wheels": None
        if found.wheels is None
        else {
            "order": found.wheels.order,
            "channel": found.wheels.channel,
            "condition": _number(found.wheels.condition, 3),
            "beats": _number(found.wheels.beats, 2),
            "refused": found.wheels.refused,
            "shares": [
                {
                    "wheel": each.name,
                    "amplitude": _number(each.amplitude),
                    "interval": _pair(each.interval),
                    "alarm": _number(each.alarm, 6),
                }
                for each in found.wheels.shares
            ],
        },
        "signs": [
            {"sign": each.sign, "word": each.word, "trust": _number(each.trust, 4), "because": each.because}
            for each in found.signs
        ],
        "changes": None
        if changes is None
        else [
            {
                "order": each.name,
                "channel": each.channel,
                "verdict": each.verdict,
                "ratio": _number(each.ratio),
                "interval": _pair(each.interval),
                "because": each.why,
            }
            for each in changes
        ],
        "kept_in": kept,
    }  # fmt: skip
