"""How likely a recording is if a line is locked to the clock, and how likely if it is locked to the wheel.

What a line may be like is different for the two. What is driven by the clock is a steady tone or a resonance, struck
by the road and ringing: its pointer walks, the faster the more it is damped. What turns with the wheel is steady, or
nearly so, or is the sum of two wheels that differ a little and beat; the walk of its phase is the speed's, which the
readings foretell.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vibdiag.recording.demodulate import Envelope
from vibdiag.recording.fading_line import (
    Pointer,
    beating_difference,
    fading_pointer,
    line_slots,
    two_wheels,
    walking_evidence,
)
from vibdiag.recording.locked_line import Crest, climb, summed
from vibdiag.recording.possible_speeds import ReadSpeed
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.turning import turning_by_clock, turning_by_readings

__all__ = ["ORDER_REACH", "line_by_the_clock", "line_by_the_wheel"]

ORDER_REACH = 0.006  # how far the found stretch may be from the true one
_APART = 0.0006  # of the stretches tried by the clock; a minute at 14 Hz tells 0.0012 apart
_FAST_WALKS, _SLOW_WALKS = (1.0, 0.3), (0.05, 0.0)  # rad2/s; a resonance of 14 Hz and 0.5 % damping walks by 0.9
_FIXED_SHARES = np.array((0.25, 0.25, 0.25, 0.25))  # before anything is heard (from memory), as the next
_ORDER_SHARES = np.array((0.3, 0.25, 0.45))  # two wheels, and one that walks slowly or not at all
_LEADING_WALK = 0.3  # its crests are wide, so it leads to those of the slower ones
_ONE_DIFFERENCE = float(-np.log(15.0))  # of two wheels: one of so many that a minute tells apart
_LEAST_CHANCE, _MOST_WANDERS = 0.05, 4
_STARTS, _START_APART = 3, 0.002
_ORDER_MOST = ORDER_REACH + _START_APART


def line_by_the_clock(
    envelope: Envelope, *, noise: float, start: float, reach: float, amplitude: float
) -> tuple[float, float]:
    """Log evidence of a line of one frequency: anywhere within reach, and where an order at a held speed would be."""
    slots = line_slots(envelope, noise=noise, start=start)
    stretches = start + np.linspace(-reach, reach, int(np.ceil(2.0 * reach / _APART)) + 1)
    fast = walking_evidence(slots, amplitude=amplitude, walks=_FAST_WALKS, stretches=stretches)
    fast += np.log(stretches[1] - stretches[0])
    slowest = fast[-1]
    inner = np.flatnonzero((slowest[1:-1] >= slowest[:-2]) & (slowest[1:-1] >= slowest[2:])) + 1
    tops = stretches[inner[np.argsort(-slowest[inner])[:_STARTS]]] if inner.size else [start]
    turning = turning_by_clock(slots.turns, rad_per_turn=2.0 * np.pi * slots.order)
    found: list[tuple[Pointer, list[Crest]]] = []
    places = [np.array([top]) for top in tops]
    for walk in _SLOW_WALKS:
        pointer = fading_pointer(slots, amplitude=amplitude, walk=walk)
        crests = [climb(slots, turning, pointer, place) for place in places]
        found.append((pointer, crests))
        places = [crest.place for crest in crests]

    def within(most: float) -> float:
        near = np.abs(stretches - start) <= most
        slow = [summed(slots, turning, pointer, _near(crests, start, most)) for pointer, crests in found]
        return _averaged(_FIXED_SHARES, [*np.logaddexp.reduce(fast[:, near], axis=1), *slow])

    return within(reach), within(ORDER_REACH)


def line_by_the_wheel(
    envelope: Envelope,
    *,
    at_s: FloatArray,
    read: ReadSpeed,
    circumference_m: float,
    noise: float,
    start: float,
    amplitude: float,
) -> float:
    """Log evidence of a line locked to a speed that wandered as its readings allow.

    at_s: (K,), time of the envelope's points. circumference_m: that its turns were reckoned with.
    """
    slots = line_slots(envelope, noise=noise, start=start)
    leading, *slow = (fading_pointer(slots, amplitude=amplitude, walk=walk) for walk in (_LEADING_WALK, *_SLOW_WALKS))
    difference = beating_difference(slots)
    pairs = [two_wheels(slots, amplitude=amplitude, difference=difference, walk=walk) for walk in (_LEADING_WALK, 0.0)]
    middle_s = np.interp(slots.turns, envelope.turns, at_s)
    rad_per_m = 2.0 * np.pi * slots.order / circumference_m
    likely = [each for each in read.wanders[:_MOST_WANDERS] if each.chance > _LEAST_CHANCE * read.wanders[0].chance]
    total = sum(each.chance for each in likely)
    found = []
    for wander in likely:
        turning = turning_by_readings(middle_s, read, wander, rad_per_m=rad_per_m)
        free = np.zeros(turning.per_free.shape[1])
        led = [
            climb(slots, turning, leading, np.append(free, start + off)) for off in (0.0, -_START_APART, _START_APART)
        ]
        paired = [np.append(free, start - share * difference) for share in (0.0, 0.5, 1.0)]
        for pointer in pairs:
            crests = [climb(slots, turning, pointer, place) for place in paired]
            paired = [crest.place for crest in crests]
        near = _near(crests, start - 0.5 * difference, 0.5 * difference + _ORDER_MOST)
        each = [_ONE_DIFFERENCE + summed(slots, turning, pairs[-1], near)]
        for pointer in slow:
            led = [climb(slots, turning, pointer, crest.place) for crest in led]
            each.append(summed(slots, turning, pointer, _near(led, start, _ORDER_MOST)))
        found.append(np.log(wander.chance / total) + _averaged(_ORDER_SHARES, each))
    return float(np.logaddexp.reduce(found))


def _near(crests: Sequence[Crest], start: float, most: float) -> list[Crest]:
    return [crest for crest in crests if abs(crest.place[-1] - start) <= most]


def _averaged(shares: FloatArray, evidence: Sequence[float]) -> float:
    return float(np.logaddexp.reduce(np.log(shares) + np.array(evidence)))
