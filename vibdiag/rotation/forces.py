"""What shakes: the force of an imbalance, of a runout, of a wheel sitting off-centre, and what answers to it.

Unbalance is in g.mm (mass times radius), frequencies in Hz, stiffness in N/mm. Forces of rotation are
amplitudes (zero to peak); force variation from runout is peak to peak, as runout itself is read. Compare like
with like.
"""

from __future__ import annotations

import math
from typing import Final

__all__ = [
    "CAR_WHEEL_GRADE",
    "PASSENGER_TYRE_N_PER_MM",
    "allocate_to_planes",
    "balance_grade",
    "imbalance_force_n",
    "lift_off_amplitude_mm",
    "mass_at_radius_g",
    "natural_frequency_hz",
    "off_centre_unbalance_gmm",
    "offset_from_runout_mm",
    "permissible_residual_gmm",
    "ride_rate_n_per_mm",
    "runout_force_n",
    "stiffness_n_per_mm",
    "tolerance_per_side_g",
    "unbalance_gmm",
    "weight_moment_nmm",
    "wheel_hop_hz",
]

STANDARD_GRAVITY: Final = 9.80665  # m/s2, by definition
CAR_WHEEL_GRADE: Final = 40.0  # mm/s; ISO 21940-11 table 1, car wheels and wheel sets (from memory)
PASSENGER_TYRE_N_PER_MM: Final = 200.0  # usual range 150 to 300 (from memory)


def unbalance_gmm(mass_g: float, radius_mm: float) -> float:
    """U = m * r."""
    return mass_g * radius_mm


def mass_at_radius_g(unbalance: float, radius_mm: float) -> float:
    """The weight that makes (or corrects) an unbalance in g.mm when it sits at radius_mm.

    >>> round(mass_at_radius_g(2000, 203.2), 2)
    9.84
    """
    return unbalance / _positive(radius_mm, "radius", "mm")


def off_centre_unbalance_gmm(mass_kg: float, offset_mm: float) -> float:
    """Unbalance of an assembly whose axis lies offset_mm from the axis it turns about: U = m * e (ISO
    21940-11).

    The dial shows twice the offset; see `offset_from_runout_mm`.

    >>> off_centre_unbalance_gmm(20, 0.1)
    2000.0
    """
    return 1000.0 * mass_kg * offset_mm


def offset_from_runout_mm(total_indicated_mm: float) -> float:
    """Eccentricity behind a total indicator reading that is all first harmonic: half of it."""
    return total_indicated_mm / 2.0


def imbalance_force_n(unbalance: float, rotation_hz: float) -> float:
    """F = U * w^2, N amplitude, from g.mm and turns per second.

    >>> round(imbalance_force_n(20 * 200, 14.4))
    33
    """
    return unbalance * 1e-6 * (2.0 * math.pi * rotation_hz) ** 2


def weight_moment_nmm(unbalance: float) -> float:
    """Moment of the weight about the axis at standstill, N.mm, from g.mm: what a static balance feels.

    Not to be mistaken for the force of rotation.
    """
    return unbalance * 1e-3 * STANDARD_GRAVITY


def runout_force_n(runout_mm: float, *, tyre_n_per_mm: float = PASSENGER_TYRE_N_PER_MM) -> float:
    """Force variation of a loaded tyre from its radial runout, dF = k * e: peak to peak for a total reading.

    It does not change with speed, so no weight cancels it at more than one speed.

    >>> runout_force_n(0.5)
    100.0
    """
    return runout_mm * tyre_n_per_mm


def stiffness_n_per_mm(force_n: float, travel_mm: float) -> float:
    """k = F / x."""
    return force_n / _positive(travel_mm, "travel", "mm")


def permissible_residual_gmm(mass_kg: float, rotation_hz: float, *, grade_mm_per_s: float = CAR_WHEEL_GRADE) -> float:
    """Permissible residual unbalance by ISO 21940-11: U_per = 1000 * G * m / w, g.mm.

    G 40 is where the standard puts car wheels. It is a loose bound: felt limits and shop practice are far
    lower.

    >>> round(permissible_residual_gmm(3600, 50, grade_mm_per_s=2.5))
    28648
    """
    return 1000.0 * grade_mm_per_s * mass_kg / (2.0 * math.pi * _positive(rotation_hz, "rotation frequency", "Hz"))


def balance_grade(unbalance: float, mass_kg: float, rotation_hz: float) -> float:
    """The grade G in mm/s that an unbalance in g.mm amounts to: e * w."""
    return unbalance * 2.0 * math.pi * rotation_hz / (1000.0 * _positive(mass_kg, "mass", "kg"))


def allocate_to_planes(unbalance: float, *, distance_a_mm: float, distance_b_mm: float) -> tuple[float, float]:
    """Share a permissible residual between planes A and B by lever arms from the centre of mass (ISO
    21940-11).

    U_A = U * L_B / L and U_B = U * L_A / L; halves when the centre of mass lies half-way.

    >>> allocate_to_planes(100, distance_a_mm=60, distance_b_mm=60)
    (50.0, 50.0)
    """
    length = _positive(distance_a_mm + distance_b_mm, "distance between the planes", "mm")
    if distance_a_mm < 0.0 or distance_b_mm < 0.0:
        raise ValueError("The centre of mass must lie between the planes: both distances must be zero or more.")
    return unbalance * distance_b_mm / length, unbalance * distance_a_mm / length


def tolerance_per_side_g(
    mass_kg: float, speed_kmh: float, *, diameter_ratio: float, grade_mm_per_s: float = CAR_WHEEL_GRADE
) -> float:
    """Weight at the rim, g, that a balance grade allows on each side of the wheel at a road speed.

    diameter_ratio: tyre diameter D over the diameter d on which the weights sit. p = 3.6 * (D / d) * m * G /
    v, from p * d / 2 = U_per and w = v / (D / 2). The form is in print (Vehicle Noise and Vibration
    Refinement, ed. Wang, 2010, eq. 16.4, per wheel side; its coefficient, badly legible, reads 3.67, and its
    grades are not those of ISO 21940-11).
    """
    return 3.6 * diameter_ratio * mass_kg * grade_mm_per_s / _positive(speed_kmh, "speed", "km/h")


def natural_frequency_hz(stiffness: float, mass_kg: float) -> float:
    """f = sqrt(k / m) / (2 pi), undamped, from N/mm and kg."""
    return math.sqrt(1000.0 * stiffness / _positive(mass_kg, "mass", "kg")) / (2.0 * math.pi)


def wheel_hop_hz(*, spring_n_per_mm: float, tyre_n_per_mm: float, unsprung_kg: float) -> float:
    """Frequency of the wheel between road and body: both springs hold it (Gillespie, ch. 5, from memory).

    >>> round(wheel_hop_hz(spring_n_per_mm=20.63, tyre_n_per_mm=300, unsprung_kg=40), 2)
    14.25
    """
    return natural_frequency_hz(spring_n_per_mm + tyre_n_per_mm, unsprung_kg)


def ride_rate_n_per_mm(*, spring_n_per_mm: float, tyre_n_per_mm: float) -> float:
    """Spring and tyre in a row, as the body feels them: k_s k_t / (k_s + k_t)."""
    together = _positive(spring_n_per_mm + tyre_n_per_mm, "sum of the two rates", "N/mm")
    return spring_n_per_mm * tyre_n_per_mm / together


def lift_off_amplitude_mm(load_n: float, unsprung_kg: float, frequency_hz: float) -> float:
    """Amplitude of a hop at which the wheel leaves the road: its inertia force m x w^2 reaches the load on
    it.
    """
    frequency = _positive(frequency_hz, "frequency", "Hz")
    return 1000.0 * load_n / (_positive(unsprung_kg, "unsprung mass", "kg") * (2.0 * math.pi * frequency) ** 2)


def _positive(value: float, what: str, unit: str) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"A {what} must be above zero, not {value} {unit}.")
    return value
