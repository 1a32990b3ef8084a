"""What is wrong with the practice car: the forces its turning parts make.

An imbalance pushes with m r w^2, a runout with k e (as a road would, through the tyre), a worn tripod joint three times
a turn along the car, a propshaft and an engine through the body. Angles are in turns.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Body", "Shaft", "Wheel"]


@dataclass(frozen=True, slots=True)
class Wheel:
    """One wheel. place: 0 front-left, 1 front-right, 2 rear-left, 3 rear-right.

    imbalance_g: at radius_m. runout_mm: amplitude of the radial runout's harmonics 1, 2, 3, 4 (half the total reading
    of each). joint_n: amplitude of the fore-and-aft force of its tripod joint at 3x. larger: by how much its
    circumference exceeds the car's, as a fraction. start_turns: where it stood at the start.
    """

    place: int = 0
    imbalance_g: float = 0.0
    radius_m: float = 0.20
    runout_mm: tuple[float, ...] = ()
    joint_n: float = 0.0
    larger: float = 0.0
    start_turns: float = 0.0


@dataclass(frozen=True, slots=True)
class Shaft:
    """A propshaft turning ratio times as fast as the wheels. imbalance_gmm; joint_n: amplitude at 2x."""

    ratio: float = 3.07
    imbalance_gmm: float = 0.0
    joint_n: float = 0.0


@dataclass(frozen=True, slots=True)
class Body:
    """What shakes the body itself.

    engine_ratio: turns of the engine per turn of the wheels (gear times axle). engine_n: force amplitude by order of
    the engine, as (order, N) pairs. tone_hz, tone_n: a part that turns at its own fixed speed, whatever the car does.
    """

    engine_ratio: float = 0.0
    engine_n: tuple[tuple[float, float], ...] = ()
    tone_hz: float = 0.0
    tone_n: float = 0.0
