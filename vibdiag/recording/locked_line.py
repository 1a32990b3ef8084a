"""How likely a recording is if a line is locked to a turning that is itself only guessed.

Turning and line are judged together: the course of the phase that both agree on best is climbed to (Newton), and the
chance of all courses about it is that of a normal distribution with the same crest (Laplace's method; MacKay,
Information Theory, Inference, and Learning Algorithms, 2003, chapter 27). The line's pointer itself, steady or slowly
fading, is summed over exactly (fading_line.py). So a line that would have the speed wander as no speed does finds no
belief, and one that the speed explains finds all of it.

What it cannot do: it finds the crests that it is led to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vibdiag.recording.demodulate import ComplexArray
from vibdiag.recording.fading_line import LineSlots, Pointer
from vibdiag.recording.signal import FloatArray
from vibdiag.recording.turning import Turning

__all__ = ["Crest", "climb", "summed"]

_SAFE_STEPS, _STEPS = 6, 15
_STILL = 0.02
_SAME_STRETCH, _SAME_HEIGHT = 3e-5, 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Crest:
    """place: (F + 1,), the turning's free values and the stretch. height: log chance there."""

    place: FloatArray
    height: float


def climb(slots: LineSlots, turning: Turning, pointer: Pointer, place: FloatArray) -> Crest:
    """To the crest near a place.

    The turning's phase must be that of the angle the slots' envelope was turned by, up to what it leaves free.
    """
    form, offset = pointer.forms[0]
    scores = _scaled(slots, turning, place)
    height = _height(turning, place, scores, form, offset)
    free = place.size - 1
    for step in range(_STEPS):
        per_place = _per_place(turning, place)
        slope = per_place.T @ (-2.0 * (scores.conj() * (form @ scores)).imag)
        slope[:free] -= turning.precision @ place[:free]
        move = np.linalg.solve(_bend(turning, per_place, scores, form, safe=step < _SAFE_STEPS), slope)
        share = 1.0
        while True:
            there = place + share * move
            scores_there = _scaled(slots, turning, there)
            reached = _height(turning, there, scores_there, form, offset)
            if reached >= height - 1e-9 or share < 0.01:
                break
            share *= 0.5
        gained = abs(reached - height)
        place, scores, height = there, scores_there, reached
        if step >= _SAFE_STEPS and gained < _STILL:
            break
    return Crest(place, height)


def summed(slots: LineSlots, turning: Turning, pointer: Pointer, crests: Sequence[Crest]) -> float:
    """Log of how much likelier the slots are with the line than without, over all places about these crests, averaged
    over the strengths; -inf without any crest. One that was reached twice counts once."""
    found = [-np.inf]
    for crest in _different(crests):
        scores, per_place = _scaled(slots, turning, crest.place), _per_place(turning, crest.place)
        for form, offset in pointer.forms:
            bend = _bend(turning, per_place, scores, form, safe=False)
            width = 0.5 * (turning.log_precision - float(np.linalg.slogdet(bend)[1]) + np.log(2.0 * np.pi))
            found.append(_height(turning, crest.place, scores, form, offset) + width)
    return float(np.logaddexp.reduce(found)) - float(np.log(len(pointer.forms)))


def _different(crests: Sequence[Crest]) -> list[Crest]:
    kept: list[Crest] = []
    for each in sorted(crests, key=lambda crest: -crest.height):
        if all(
            abs(each.height - other.height) >= _SAME_HEIGHT or abs(each.place[-1] - other.place[-1]) >= _SAME_STRETCH
            for other in kept
        ):
            kept.append(each)
    return kept


def _scaled(slots: LineSlots, turning: Turning, place: FloatArray) -> ComplexArray:
    """(K,) scores on the course of the phase at a place, on which a steady line is constant; of unit noise."""
    phase = (1.0 + place[-1]) * (turning.mean_rad + turning.per_free @ place[:-1])
    root = np.sqrt(np.where(slots.information > 0.0, slots.information, np.inf))
    return np.asarray(slots.score / root * np.exp(1j * (2.0 * np.pi * slots.order * slots.turns - phase)))


def _height(turning: Turning, place: FloatArray, scores: ComplexArray, form: ComplexArray, offset: float) -> float:
    believed = -0.5 * float(place[:-1] @ turning.precision @ place[:-1])
    return float((scores.conj() @ (form @ scores)).real) - offset + believed


def _per_place(turning: Turning, place: FloatArray) -> FloatArray:
    """(K, F + 1) slopes of the phase."""
    return np.column_stack([(1.0 + place[-1]) * turning.per_free, turning.mean_rad + turning.per_free @ place[:-1]])


def _bend(
    turning: Turning, per_place: FloatArray, scores: ComplexArray, form: ComplexArray, *, safe: bool
) -> FloatArray:
    """Minus the second derivatives; where they do not bend down everywhere, or safe, only the parts that do."""
    together = (form * np.outer(scores.conj(), scores)).real
    if not safe:
        bend = _bend_of(turning, per_place, together)
        if np.linalg.eigvalsh(bend)[0] > 0.0:
            return bend
    return _bend_of(turning, per_place, np.maximum(together, 0.0))


def _bend_of(turning: Turning, per_place: FloatArray, together: FloatArray) -> FloatArray:
    bend = per_place.T @ ((2.0 * together.sum(1))[:, None] * per_place - 2.0 * together @ per_place)
    free = turning.precision.shape[0]
    bend[:free, :free] += turning.precision
    bend[free, free] += 1e-6
    return np.asarray(bend, dtype=np.float64)
