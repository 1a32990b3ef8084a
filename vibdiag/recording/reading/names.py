"""What a column's name and unit say it is. The words are those in which loggers and people write headers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from vibdiag.recording.reading.roles import QUANTITY, Role, RoleKind
from vibdiag.recording.reading.units import known_unit

__all__ = ["NameGuess", "guess_by_name", "kind_of_file"]

_BRACKETED = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_WORD = re.compile(r"[^\W_]+(?:/[^\W_]+)?")


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_NOT_MEANT: Final = _set(
    """accuracy error uncertainty quality std limit gravity mag magnetic magnetometer magnetfeld orientation attitude
    quat quaternion euler heading bearing course lat latitude lon lng longitude alt altitude height pressure temperature
    temp temperatur battery total absolute magnitude norm resultant atotal target setpoint index sample no nr count
    counter flag label sensor id wind calibrated"""
)
_TIME: Final = _set(
    """time timestamp timestamps t ts zeit uhrzeit zeitstempel temps heure tiempo hora tempo tid aika datetime epoch
    unixtime elapsed clock utc gmt uptime"""
)
_SURELY_TIME: Final = _set("time timestamp timestamps zeitstempel uptime elapsed epoch unixtime datetime")
_ONLY_TIME: Final = _set("s sec secs seconds second us µs ns nanos millis micros")  # ms may be m/s
_DATE: Final = _set("date datum fecha data dato day")
_SPEED: Final = _set(
    """speed velocity geschwindigkeit vitesse velocidad velocita snelheid hastighet vss speedkmh vehiclespeed
    gpsspeed"""
)
_ENGINE: Final = _set("rpm enginespeed motordrehzahl drehzahl regime crankshaft crank")
_AXES: Final = {
    **dict.fromkeys(("x", "long", "longitudinal", "laengs", "längs", "forward", "surge"), "x"),
    **dict.fromkeys(("y", "lateral", "quer", "transverse", "sway"), "y"),
    **dict.fromkeys(("z", "vert", "vertical", "vertikal", "up", "heave"), "z"),
}
_SHORT = re.compile(r"(?P<what>gf|g|a|w|acc|accel|gyr|gyro|om|omega|vib)_?(?P<axis>[xyz])$")
_ANGLES: Final = {"roll": "x", "pitch": "y", "yaw": "z"}
_GYRO_STARTS: Final = ("gyr", "girosc", "rotat", "angular", "omega", "drehrate", "winkelgeschw")
_WHEELS: Final = ("wheel", "rad", "rueda", "roue", "ruota")
_ACCEL_STARTS: Final = ("acc", "beschl", "vibration", "gforce", "aceler", "versnelling")


@dataclass(frozen=True, slots=True)
class NameGuess:
    """role: None when the name says nothing. linear: acceleration with gravity taken out. why: for a person."""

    role: Role | None
    linear: bool = False
    why: str = ""


def _words(name: str) -> list[str]:
    return [word.casefold() for word in _WORD.findall(_CAMEL.sub(" ", name))]


def _unit_of(name: str, given: str, kind: RoleKind) -> str:
    """The unit from the file's own field, brackets, or the last word of the name."""
    quantity = QUANTITY.get(kind)
    if quantity is None:
        return ""
    last = re.split(r"[\s_]+", _BRACKETED.sub(" ", name).strip())[-1]
    words = _words(name)
    candidates = [given, *_BRACKETED.findall(name)]
    if len(words) > 1:
        candidates += [last, words[-1]]
    if kind == "time":
        candidates += [word for word in words if word.startswith(("sec", "millis", "micros", "nanos"))]
    if kind == "speed":
        candidates += words[-1:]
    return next((unit for text in candidates if text and (unit := known_unit(text, quantity))), "")


def _kind_of(words: list[str]) -> tuple[RoleKind | None, str]:
    """The kind and axis that the words say; (None, "") when they say nothing."""
    said = set(words)
    whole = "".join(words)
    if said & _SURELY_TIME and not said & (_SPEED | _NOT_MEANT):
        return "time", ""
    axis = next((_AXES[word] for word in words if word in _AXES), "")
    short = next((found for word in (*words, whole) if (found := _SHORT.match(word))), None)
    if whole in ("x", "y", "z"):
        return "accel", whole
    if whole == "v":
        return "speed", ""
    angle = next((word for word in words if word in _ANGLES), None)
    if any(word.startswith(_GYRO_STARTS) and not (short and short["what"] == "gf") for word in words) or (
        angle and said & {"rate", "speed", "velocity"}
    ):
        return "gyro", axis or _ANGLES.get(angle or "", "") or (short["axis"] if short else "")
    felt = [word for word in words if word.startswith(_ACCEL_STARTS) and not word.startswith("accura")]
    if felt:
        tail = next((word[-1] for word in felt if word[-1] in "xyz"), "")
        beside = "y" if said & {"lat"} else "x" if said & {"lon"} else ""
        return "accel", axis or tail or (short["axis"] if short else beside)
    if said & _NOT_MEANT:
        return "ignore", ""
    if short is not None:
        return ("gyro" if short["what"] in ("g", "w", "om", "omega") else "accel"), short["axis"]
    if "force" in said and "g" in said:
        return "accel", axis
    if said & _ENGINE or ("engine" in said and said & _SPEED) or ("motor" in said and said & _SPEED):
        return "engine", ""
    if said & {"date"} and said & {"time"}:
        return "time", ""
    if (said & _TIME and not (said & {"gps"} and said & _SPEED)) or words[:1] in (["seconds"], ["millis"], ["sec"]):
        return "time", ""
    if said & _DATE:
        return "date", ""
    if said & _SPEED or any(re.match(r"(wheel|rad)\d?$", word) for word in words):
        return "speed", ""
    return None, ""


def guess_by_name(name: str, unit: str = "", axis: str = "") -> NameGuess:
    """What a column is by its name, the unit and the axis its file gives.

    >>> str(guess_by_name("Acceleration x (m/s^2)").role), str(guess_by_name("gyroRotationZ(rad/s)").role)
    ('accel-x:m/s2', 'gyro-z:rad/s')
    >>> str(guess_by_name("gnss_speed_mps").role), str(guess_by_name("az_mps2").role), guess_by_name("CH1").role
    ('speed:m/s', 'accel-z:m/s2', None)
    """
    words = _words(_BRACKETED.sub(" ", name))
    said = set(words)
    if len(words) == 1 and (lone := _lone_g(words[0], name)) is not None:
        return lone
    kind, found_axis = _kind_of(words)
    if kind == "accel" and any(text.casefold() in _ONLY_TIME for text in (unit, *_BRACKETED.findall(name)) if text):
        kind, found_axis = "time", ""
    if kind == "ignore" and not (said & {"gravity"} and said & {"including", "with", "incl"}):
        return NameGuess(Role("ignore"), why="its name")
    if kind == "accel" and said & {"total", "absolute", "magnitude", "norm", "resultant"}:
        return NameGuess(Role("ignore"), why="it is a sum over the axes")
    if kind is not None:
        linear = kind == "accel" and bool(said & {"linear", "lin", "user", "without", "excluding", "excl"})
        spelt = _unit_of(name, unit, kind)
        if kind == "accel" and not spelt and ("".join(words).startswith("gf") or "force" in said):
            spelt = "g"
        if kind == "speed" and spelt == "rpm" and not any(word.startswith(_WHEELS) for word in words):
            kind = "engine"
        if kind == "engine" and not spelt:
            spelt = "rpm" if "rpm" in said else ""
        return NameGuess(Role(kind, axis or found_axis, spelt), linear, "its name" + (" and unit" if spelt else ""))
    by_unit: tuple[RoleKind, ...] = ("accel", "gyro", "speed", "engine")
    for kind in by_unit:
        spelt = _unit_of(name, unit, kind)
        if kind == "speed" and spelt in ("rpm", "rad/s"):  # without a wheel in its name it is the engine's, or rotation
            continue
        if spelt in ("m/s2", "g", "mg", "rad/s", "deg/s", "km/h", "mph", "kn", "rpm", "m/s") or (
            spelt and kind in ("accel", "gyro") and spelt[0] != "h"
        ):
            found_axis = axis or next((_AXES[word] for word in words if word in _AXES), "") or _last_letter(name)
            return NameGuess(Role(kind, found_axis if kind in ("accel", "gyro") else "", spelt), why="its unit")
    return NameGuess(None)


def _lone_g(word: str, name: str) -> NameGuess | None:
    """`G(x)`: acceleration with its axis in brackets; `G(calibrated)` and the like are no axis."""
    brackets = [text.casefold() for text in _BRACKETED.findall(name)]
    if word != "g" or not brackets or known_unit(brackets[0], "acceleration"):
        return None
    if brackets[0] in ("x", "y", "z"):
        return NameGuess(Role("accel", brackets[0], "g"), why="its name and unit")
    return NameGuess(Role("ignore"), why="its name")


def _last_letter(name: str) -> str:
    """The axis that follows a word of another script without a blank."""
    bare = _BRACKETED.sub(" ", name).strip().casefold()
    return bare[-1] if len(bare) > 1 and bare[-1] in "xyz" and not bare[-2].isascii() else ""


def kind_of_file(label: str) -> RoleKind | None:
    """What bare x, y, z are by the name of their file: rotation, or nothing that is used; None where it does not say.

    >>> kind_of_file("Giroscopio.csv"), kind_of_file("Gravity.csv"), kind_of_file("drive.csv")
    ('gyro', 'ignore', None)
    """
    words = _words(label)
    if any(word.startswith(("gyr", "giro", "kreisel")) for word in words):
        return "gyro"
    if any(word.startswith(("gravity", "magnet", "orientation", "compass")) for word in words):
        return "ignore"
    return None
