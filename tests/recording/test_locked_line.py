"""The chances that tell an order from a fixed frequency, against densities and integrals of scipy."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import multivariate_normal

from vibdiag.recording.demodulate import Envelope
from vibdiag.recording.fading_line import (
    LineSlots,
    beating_difference,
    fading_pointer,
    line_slots,
    two_wheels,
    walking_evidence,
)
from vibdiag.recording.locked_line import Crest, climb, summed
from vibdiag.recording.possible_speeds import ReadSpeed, Wander, matern, read_speed
from vibdiag.recording.signal import SpeedTrack
from vibdiag.recording.speed import smooth_speed
from vibdiag.recording.turning import Turning, turning_by_clock, turning_by_readings

STRENGTHS = (1.0, 0.5, 0.7, 1.4)


def some_slots(*, seed: int = 1, count: int = 24, amplitude: float = 1.0, stretch: float = 0.0) -> LineSlots:
    """A line of phase 0.7 rad with 14 turns a second in half-second slots, one of them not heard."""
    rng = np.random.default_rng(seed)
    turns = np.asarray(7.0 * (np.arange(count) + 0.5), dtype=np.float64)
    information = rng.uniform(1.0, 6.0, count)
    information[5] = 0.0
    line = amplitude * np.exp(1j * (0.7 + 2.0 * np.pi * stretch * turns))
    noise = (rng.normal(size=count) + 1j * rng.normal(size=count)) * np.sqrt(0.5)
    return LineSlots(1.0, information * line + np.sqrt(information) * noise, information, turns, 0.5)


def log_ratio(slots: LineSlots, covariance: np.ndarray) -> float:
    """Log of the density of what was seen with a line of this covariance over that without, by scipy, as real numbers:
    a circular complex normal of covariance C is a real one of [[Re C, -Im C], [Im C, Re C]] / 2."""
    heard = slots.information > 0.0
    seen = slots.score[heard] / slots.information[heard]
    noise = np.diag(1.0 / slots.information[heard]).astype(complex)
    with_line = noise + covariance[np.ix_(heard, heard)]
    real = np.concatenate((seen.real, seen.imag))

    def log_density(c: np.ndarray) -> float:
        whole = 0.5 * np.block([[c.real, -c.imag], [c.imag, c.real]])
        return float(multivariate_normal(np.zeros(real.size), whole).logpdf(real))

    return log_density(with_line) - log_density(noise)


@pytest.mark.parametrize("walk", [0.0, 0.3, 2.0])
def test_the_chance_of_a_walking_line_is_that_of_its_normal_distribution(walk: float) -> None:
    slots = some_slots()
    apart = 0.5 * np.abs(np.subtract.outer(np.arange(24), np.arange(24)))
    truth = [
        log_ratio(slots, (0.8 * strength) ** 2 * np.exp(-0.5 * walk * apart).astype(complex)) for strength in STRENGTHS
    ]
    averaged = np.logaddexp.reduce(truth) - np.log(len(STRENGTHS))
    filtered = walking_evidence(slots, amplitude=0.8, walks=(walk,), stretches=np.array([0.0]))
    assert filtered[0, 0] == pytest.approx(averaged, rel=1e-9)
    pointer = fading_pointer(slots, amplitude=0.8, walk=walk)
    scaled = np.where(slots.information > 0.0, slots.score / np.sqrt(np.maximum(slots.information, 1e-12)), 0.0)
    found = [float((scaled.conj() @ (form @ scaled)).real) - offset for form, offset in pointer.forms]
    assert found == pytest.approx(truth, rel=1e-9)


def test_the_chance_of_two_wheels_is_that_of_their_normal_distribution() -> None:
    slots = some_slots(stretch=0.004)
    beside = np.exp(2j * np.pi * 0.006 * slots.turns)
    scaled = np.where(slots.information > 0.0, slots.score / np.sqrt(np.maximum(slots.information, 1e-12)), 0.0)
    form, offset = two_wheels(slots, amplitude=0.8, difference=0.006, walk=0.0).forms[0]
    truth = log_ratio(slots, 0.8**2 * (1.0 + np.outer(beside, beside.conj())))
    assert float((scaled.conj() @ (form @ scaled)).real) - offset == pytest.approx(truth, rel=1e-9)


def test_a_beat_shows_the_difference_of_two_wheels() -> None:
    slots = some_slots(count=120)
    beating = LineSlots(
        1.0,
        slots.score + slots.information * np.exp(2j * np.pi * 0.008 * slots.turns),
        slots.information,
        slots.turns,
        0.5,
    )
    assert beating_difference(beating) == pytest.approx(0.008, abs=0.0005)


def test_the_crest_stands_for_the_integral_over_the_stretch() -> None:
    slots = some_slots(count=40, amplitude=1.5, stretch=0.001)
    turning = turning_by_clock(slots.turns, rad_per_turn=2.0 * np.pi)
    pointer = fading_pointer(slots, amplitude=1.5, walk=0.0)
    crest = climb(slots, turning, pointer, np.array([0.0014]))
    evidence = summed(slots, turning, pointer, [crest])
    assert crest.place[-1] == pytest.approx(0.001, abs=2e-4)

    def chance(stretch: float) -> float:
        found = walking_evidence(slots, amplitude=1.5, walks=(0.0,), stretches=np.array([stretch]))
        return float(np.exp(found[0, 0] - evidence))

    whole, _ = quad(chance, crest.place[-1] - 0.002, crest.place[-1] + 0.002, points=[crest.place[-1]])
    assert np.log(whole) == pytest.approx(0.0, abs=0.05)


def test_the_crest_stands_for_the_integral_over_a_free_course() -> None:
    # one free value that bends the phase by a parabola, believed to be about 0 +- 1; the stretch is held by a line that
    # is far too short to tell it, so the integral over it is done too
    slots = some_slots(count=30, amplitude=1.5)
    bend = ((slots.turns - slots.turns.mean()) / slots.turns.max()) ** 2 * 8.0
    turning = Turning(2.0 * np.pi * slots.turns, bend[:, None], np.array([[1.0]]))
    pointer = fading_pointer(slots, amplitude=1.5, walk=0.05)
    crest = climb(slots, turning, pointer, np.array([0.0, 0.0003]))
    evidence = summed(slots, turning, pointer, [crest])
    apart = 0.5 * np.abs(np.subtract.outer(np.arange(30), np.arange(30)))
    root = np.sqrt(slots.information)

    def chance_at(free: float, stretch: float) -> float:
        phase = (1.0 + stretch) * (turning.mean_rad + bend * free) - 2.0 * np.pi * slots.turns
        scores = np.where(root > 0.0, slots.score * np.exp(-1j * phase) / np.where(root > 0.0, root, 1.0), 0.0)
        each = []
        for strength in STRENGTHS:
            spread = np.eye(30) + np.outer(root, root) * (1.5 * strength) ** 2 * np.exp(-0.025 * apart)
            form = np.eye(30) - np.linalg.inv(spread)
            each.append(float((scores.conj() @ (form @ scores)).real) - float(np.linalg.slogdet(spread)[1]))
        prior = -0.5 * free**2 - 0.5 * np.log(2.0 * np.pi)
        return float(np.exp(np.logaddexp.reduce(each) - np.log(4.0) + prior - evidence))

    frees = np.linspace(crest.place[0] - 4.0, crest.place[0] + 4.0, 121)
    stretches = np.linspace(crest.place[1] - 0.008, crest.place[1] + 0.008, 121)
    whole = sum(chance_at(free, stretch) for free in frees for stretch in stretches)
    whole *= (frees[1] - frees[0]) * (stretches[1] - stretches[0])
    assert np.log(whole) == pytest.approx(0.0, abs=0.05)


def test_a_crest_reached_twice_counts_once() -> None:
    slots = some_slots(count=40, amplitude=1.5, stretch=0.001)
    turning = turning_by_clock(slots.turns, rad_per_turn=2.0 * np.pi)
    pointer = fading_pointer(slots, amplitude=1.5, walk=0.0)
    one, again = (climb(slots, turning, pointer, np.array([start])) for start in (0.0012, 0.0008))
    other = Crest(one.place + 0.0004, one.height - 1.0)
    alone = summed(slots, turning, pointer, [one])
    assert summed(slots, turning, pointer, [one, again]) == pytest.approx(alone)
    assert summed(slots, turning, pointer, [one, other]) > alone
    assert summed(slots, turning, pointer, []) == -np.inf


def test_the_phase_foretold_from_readings_is_that_of_the_conditional_normal() -> None:
    # the conditional of a joint normal distribution (Rasmussen and Williams 2006, equation 2.19), by blocks, against
    # many draws of it: speed at knots, readings of it, and the way driven
    rng = np.random.default_rng(4)
    wander = Wander(1.0, 0.5, 5.0, 0.1)
    read_s = np.arange(0.0, 20.0)
    fine = np.arange(-0.25, 20.3, 0.05)
    root = np.linalg.cholesky(matern(fine, fine, wander) + 1e-9 * np.eye(fine.size))
    misses, foretold = [], []
    at = np.array([4.0, 9.0, 15.0])
    for _ in range(300):
        speed = 25.0 + root @ rng.normal(size=fine.size)
        read = np.interp(read_s, fine, speed) + rng.normal(0.0, 0.1, read_s.size)
        turning = turning_by_readings(at, ReadSpeed(read_s, read, 0.0, (wander,)), wander, rad_per_m=1.0)
        way = np.array([np.trapezoid(speed[fine <= t + 1e-9], fine[fine <= t + 1e-9]) for t in at])
        misses.append(np.diff(turning.mean_rad - way))
        spread = turning.per_free @ np.linalg.inv(turning.precision) @ turning.per_free.T
        steps = np.array([[-1.0, 1.0, 0.0], [0.0, -1.0, 1.0]])
        foretold.append(np.sqrt(np.diag(steps @ spread @ steps.T)))
    measured, said = np.std(misses, axis=0), np.mean(foretold, axis=0)
    assert np.abs(np.mean(misses, axis=0)).max() < 0.05
    # what it says besides holds the wheel's own way, 0.1 % of 25 m/s for some seconds, so it may say a little more
    own_way_m = 0.001 * 25.0 * np.sqrt(np.array([5.0, 6.0]) * 5.0)
    assert (measured < 1.15 * said).all()
    assert (said < 1.15 * np.hypot(measured, own_way_m)).all()


def test_readings_of_a_standing_car_say_nothing_of_the_wander() -> None:
    rng = np.random.default_rng(5)
    time = np.arange(80.0)
    held = np.where(time < 20.0, 0.0, 27.0 + rng.normal(0.0, 0.05, 80))
    found = read_speed(smooth_speed(SpeedTrack(time, held, "gps")), begin_s=0.0, end_s=80.0)
    assert found is not None
    assert found.time_s.min() > 18.0
    assert found.spread_ms < 0.3


def test_slots_keep_what_the_envelope_holds() -> None:
    turns = np.arange(0.0, 140.0, 0.5)
    pointer = 0.3 * np.exp(1j * (0.4 + 2.0 * np.pi * 0.01 * turns))
    spread = np.full(turns.size, 2.0)
    spread[:20] = np.inf
    envelope = Envelope(1.0, 0.5, pointer[None, :], spread[None, :], turns, np.full(turns.size, 14.0), 3.0)
    slots = line_slots(envelope, noise=0.05, start=0.01)
    assert slots.seconds == pytest.approx(0.5)
    assert slots.information[0] == 0.0
    heard = slots.information > 0.0
    seen = slots.score[heard] / slots.information[heard]
    assert seen * np.exp(-2j * np.pi * 0.01 * slots.turns[heard]) == pytest.approx(0.3 * np.exp(0.4j))
    assert slots.information[-1] == pytest.approx(14 / (0.05 * 2.0))
