"""The complaint as a form: the speeds that were typed, judged one by one and together, and said back."""

from __future__ import annotations

from collections.abc import Mapping

from vibdiag.case.model import SpeedTold
from vibdiag.work.form import FormField, value_typed
from vibdiag.work.phrases import said

__all__ = ["SPEED_FIELDS", "read_speeds", "speeds_said"]

SPEED_FIELDS = (
    FormField("starts", "starts at", "number", "95"),
    FormField("worst", "worst at", "number", "110"),
    FormField("fades", "fades at", "number", "130"),
)


def read_speeds(typed: Mapping[str, str]) -> tuple[dict[str, float], dict[str, str]]:
    """The speeds that were typed and one sentence for each field that cannot be, both by path; an empty field is left
    out."""
    speeds: dict[str, float] = {}
    faults: dict[str, str] = {}
    for field in SPEED_FIELDS:
        text = typed.get(field.path, "").strip()
        try:
            if text:
                speeds[field.path] = float(value_typed(field, text, SpeedTold))
        except ValueError as error:
            faults[field.path] = str(error)
    if not faults:
        faults |= _out_of_order(speeds)
    return speeds, faults


def _out_of_order(speeds: Mapping[str, float]) -> dict[str, str]:
    """A shake begins, is worst and fades in this order while the car goes faster."""
    starts, worst, fades = (speeds.get(field.path) for field in SPEED_FIELDS)
    slow = "for a shake that is worst when slow leave 'starts at' empty"
    if starts is not None and worst is not None and worst < starts:
        return {"worst": f"worst at: {worst:g} lies below the {starts:g} where it starts; {slow}."}
    if starts is not None and fades is not None and fades <= starts:
        return {"fades": f"fades at: {fades:g} is not above the {starts:g} where it starts; {slow}."}
    if worst is not None and fades is not None and fades < worst:
        return {
            "fades": f"fades at: {fades:g} lies below the {worst:g} where it is worst; it is where the shake has gone "
            "again when the car goes faster still."
        }
    return {}


def speeds_said(speed: SpeedTold) -> str:
    """The speeds in a sentence to read back; empty when none were told.

    >>> speeds_said(SpeedTold(starts=95, worst=110, read_from="gps"))
    'It starts at 95 and is worst at 110 km/h, read from: gps.'
    """
    verbs = {"starts": "starts at", "worst": "is worst at", "fades": "fades at"}
    told = [f"{verb} {value:g}" for name, verb in verbs.items() if (value := getattr(speed, name)) is not None]
    if not told:
        return ""
    listed = " and ".join([", ".join(told[:-1]), told[-1]] if told[:-1] else told)
    source = "" if speed.read_from == "unknown" else f", read from: {said(speed.read_from)}"
    return f"It {listed} {speed.unit}{source}."
