"""From lines to the words of the rule base, each with a trust from 0 to 1: a weak line speaks weakly.

Trust is one less the chance of a false alarm, scaled down where the circumference is not settled, the car's speed did
not change enough to exclude a fixed frequency, or the line may as well be another order (rivals.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from vibdiag.recording.beat import Beat
from vibdiag.recording.order_or_fixed import OrderOrFixed
from vibdiag.recording.orders import Line, Orders
from vibdiag.recording.origin import Origin

__all__ = ["SignWord", "signs_of"]

_MOST = 0.97  # a recording may belong to another drive, be misplaced or mistimed (from memory)
_UNTOLD = 0.6  # an order not told from a fixed frequency


@dataclass(frozen=True, slots=True)
class SignWord:
    """sign and word as in the rule base. trust: 0 to 1. because: one sentence."""

    sign: str
    word: str
    trust: float
    because: str


def signs_of(
    orders: Orders,
    *,
    judged: Mapping[tuple[str, str], OrderOrFixed],
    beats: Mapping[tuple[str, str], Beat],
    origin: Origin | None,
) -> tuple[SignWord, ...]:
    """The signs a recording gives, the surest first.

    judged, beats: by (line name, channel).
    """
    found: list[SignWord] = []
    if orders.found:
        line = max(orders.found, key=lambda each: each.log_likelihood_ratio)
        verdict = judged.get((line.name, line.channel))
        trust = _trust(line, orders)
        if verdict is not None and verdict.verdict == "fixed":
            because = f"{line.frequency_hz:.1f} Hz stays while the speed changes."
            found.append(SignWord("follows", "fixed-frequency", trust * _sureness(verdict.log_odds), because))
        else:
            told = verdict is not None and verdict.verdict == "order"
            trust *= _sureness(verdict.log_odds) if told and verdict is not None else _UNTOLD
            found.append(SignWord("follows", _follows(line), trust, f"{line.name} at {line.frequency_hz:.1f} Hz."))
            tracks = "engine-speed" if line.part == "engine" else "road-speed"
            found.append(SignWord("tracks", tracks, trust, f"{line.name} at {line.frequency_hz:.1f} Hz."))
        beat = min((b for (name, _), b in beats.items() if name == line.name), key=lambda b: b.alarm, default=None)
        if beat is not None and beat.weaker_share > 0.3:
            found.append(
                SignWord(
                    "rhythm",
                    "comes-and-goes",
                    (1.0 - beat.alarm) * 0.9,
                    f"It swells every {beat.period_s:.0f} s: two wheels, {100 * beat.difference:.1f} % apart.",
                )
            )
    if origin is not None and origin.end != "cannot tell":
        found.append(SignWord("seems-from", origin.end, origin.trust, f"Because {origin.why}."))
    if origin is not None and origin.direction is not None:
        found.append(SignWord("direction", origin.direction, 0.6, f"Strongest on {origin.strongest}."))
    return tuple(sorted(found, key=lambda each: -each.trust))


def _sureness(log_odds: float) -> float:
    """Probability of the likelier of order and fixed frequency, both alike beforehand."""
    return 1.0 / (1.0 + math.exp(-abs(log_odds)))


def _follows(line: Line) -> str:
    if line.part == "engine":
        return "engine"
    if line.part == "propshaft":
        return "propshaft-1x" if line.name.startswith("1x") else "propshaft-2x"
    if line.order == 1.0:
        return "wheel-1x"
    return "halfshaft-3x" if "halfshaft" in line.name else "wheel-2x-or-more"


def _trust(line: Line, orders: Orders) -> float:
    trust = _MOST * (1.0 - line.alarm) * (0.5 if line.alarm > 0.005 else 1.0)
    if orders.circumference is not None:
        trust *= max(orders.circumference.confidence, 0.3)
    if line.name in orders.rivals:
        trust /= 1.0 + len(orders.rivals[line.name])
    return trust
