"""Worked examples from the literature, computed with this project's own belief, inquiry, weight and repair code.

Each test says how well its numbers are known: *seen* in the source, *recomputed* from input tables that were seen, or
*from memory* of a textbook and recomputed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, permutations, product
from random import Random

import numpy as np
import pytest

from vibdiag.reasoning.belief import Belief, BeliefModel, Evidence, Hypothesis, SignTable
from vibdiag.reasoning.inquiry import gain_of, prospects
from vibdiag.reasoning.repair import order_by_probability_over_cost
from vibdiag.reasoning.weight import decibans, weights_for

State = tuple[bool, ...]
TRUTH = (True, False)


def named(state: State) -> str:
    return " ".join("yes" if one else "no" for one in state)


def yes_or_no(sign: str, chances: Sequence[float]) -> SignTable:
    """A sign found `yes` with `chances[i]` under hypothesis i."""
    rows = np.array([[chance, 1.0 - chance] for chance in chances])
    return SignTable(sign, ("yes", "no"), np.array([0.5, 0.5]), rows)


def network(states: Mapping[State, float], signs: Mapping[str, Sequence[float]]) -> BeliefModel:
    """A small Bayesian network as this project sees it: one hypothesis for each joint state of the causes."""
    prior = np.array(list(states.values()))
    tables = {sign: yes_or_no(sign, chances) for sign, chances in signs.items()}
    return BeliefModel(tuple(Hypothesis(named(state), None) for state in states), prior / prior.sum(), tables)


def marginal(belief: Belief, states: Iterable[State], place: int) -> float:
    """P(the cause at `place` is present)."""
    return sum(belief.of_cause(named(state)) for state in states if state[place])


# -- Lauritzen and Spiegelhalter 1988, "Local computations with probabilities on graphical structures and their
# application to expert systems", J. R. Statist. Soc. B 50: the network "Asia".

TUBERCULOSIS, LUNG_CANCER, BRONCHITIS = range(3)


def asia() -> tuple[list[State], BeliefModel]:
    """Hypotheses are the joint states of the three diseases: given them, visit, X-ray and dyspnoea are independent.

    Smoking is summed out of the prior; the visit, a parent of tuberculosis, is turned round by Bayes' rule into a
    sign of it.
    """
    visit, tuberculosis_if = 0.01, {True: 0.05, False: 0.01}
    smoker, cancer_if, bronchitis_if = 0.5, {True: 0.1, False: 0.01}, {True: 0.6, False: 0.3}
    dyspnoea_if = {(True, True): 0.9, (True, False): 0.7, (False, True): 0.8, (False, False): 0.1}
    x_ray_if = {True: 0.98, False: 0.05}

    def chance(probability: float, happens: bool) -> float:
        return probability if happens else 1.0 - probability

    states: list[State] = list(product(TRUTH, repeat=3))
    prior: dict[State, float] = {}
    visited = []
    for state in states:
        tuberculosis, cancer, bronchitis = state
        with_visit = visit * chance(tuberculosis_if[True], tuberculosis)
        without = (1.0 - visit) * chance(tuberculosis_if[False], tuberculosis)
        visited.append(with_visit / (with_visit + without))
        lungs = sum(
            chance(smoker, smokes) * chance(cancer_if[smokes], cancer) * chance(bronchitis_if[smokes], bronchitis)
            for smokes in TRUTH
        )
        prior[state] = (with_visit + without) * lungs
    signs = {
        "visit to Asia": visited,
        "X-ray": [x_ray_if[tuberculosis or cancer] for tuberculosis, cancer, _ in states],
        "dyspnoea": [dyspnoea_if[tuberculosis or cancer, bronchitis] for tuberculosis, cancer, bronchitis in states],
    }
    return states, network(prior, signs)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        ([], {TUBERCULOSIS: 0.0104, LUNG_CANCER: 0.055, BRONCHITIS: 0.45}),
        (["visit to Asia", "dyspnoea"], {TUBERCULOSIS: 0.0878, LUNG_CANCER: 0.0995, BRONCHITIS: 0.8114}),
        (["dyspnoea"], {LUNG_CANCER: 0.1028}),
    ],
)
def test_asia(found: list[str], expected: dict[int, float]) -> None:
    """Input tables seen; posteriors recomputed from them to four places."""
    states, model = asia()
    belief = model.believe([Evidence(sign, "yes") for sign in found])
    for place, probability in expected.items():
        assert marginal(belief, states, place) == pytest.approx(probability, abs=5e-5)


# -- Pearl's burglary network, as in Russell and Norvig, "Artificial Intelligence: A Modern Approach".


def test_burglary() -> None:
    """P(burglary | John and Mary call) = 0.2842. From memory, recomputed and agreeing."""
    burglary, earthquake = 0.001, 0.002
    alarm_if = {(True, True): 0.95, (True, False): 0.94, (False, True): 0.29, (False, False): 0.001}
    states: dict[State, float] = {
        (b, e, a): (burglary if b else 1.0 - burglary)
        * (earthquake if e else 1.0 - earthquake)
        * (alarm_if[b, e] if a else 1.0 - alarm_if[b, e])
        for b, e, a in product(TRUTH, repeat=3)
    }
    signs = {
        "John calls": [0.9 if alarm else 0.05 for _, _, alarm in states],
        "Mary calls": [0.7 if alarm else 0.01 for _, _, alarm in states],
    }
    belief = network(states, signs).believe([Evidence("John calls", "yes"), Evidence("Mary calls", "yes")])
    assert marginal(belief, states, 0) == pytest.approx(0.2842, abs=5e-5)
    # Not from the book: the total log evidence is the plain sum over the joint distribution.
    total = sum(p * j * m for p, j, m in zip(states.values(), signs["John calls"], signs["Mary calls"], strict=True))
    assert belief.log_evidence == pytest.approx(math.log(total), abs=1e-12)


@pytest.mark.parametrize(
    ("ills", "fever"),
    [(("cold", "flu"), 0.88), (("cold", "flu", "malaria"), 0.988), (("cold",), 0.4), (("flu", "malaria"), 0.98)],
)
def test_noisy_or_of_fever(ills: tuple[str, ...], fever: float) -> None:
    """Cold, flu and malaria fail to cause fever in 0.6, 0.2 and 0.1 of cases (Russell and Norvig, as above).

    From memory, recomputed and agreeing. A hypothesis is which of the ills present is held back; fever follows unless
    all are. What is tested is the chance that `prospects` foretells for an outcome.
    """
    held_back = {"cold": 0.6, "flu": 0.2, "malaria": 0.1}
    states = {
        state: math.prod(
            held_back[ill] if held else 1.0 - held_back[ill] for ill, held in zip(ills, state, strict=True)
        )
        for state in product(TRUTH, repeat=len(ills))
    }
    nearly = 1e-12  # a table of this project has no zero
    belief = network(states, {"fever": [nearly if all(state) else 1.0 - nearly for state in states]}).believe([])
    (found, missing) = prospects(belief, "fever")
    assert found.probability == pytest.approx(fever, abs=1e-9)
    assert missing.probability == pytest.approx(1.0 - fever, abs=1e-9)


# -- de Kleer and Williams 1987, "Diagnosing multiple faults", Artificial Intelligence 32: three multipliers and two
# adders.

PARTS = ("M1", "M2", "M3", "A1", "A2")
FAILS = 0.01
VALUES = 10  # values a line can carry
NEARLY = 1e-13  # a table of this project has no zero; small enough to move no third decimal


def lines_if_sound(sound: frozenset[str]) -> dict[str, int] | None:
    """What the sound parts imply for X, Y and Z, or None where they contradict what was seen.

    Inputs A=3, B=2, C=2, D=3, E=3; X=A*C, Y=B*D, Z=C*E; F=X+Y was seen to be 10 and G=Y+Z to be 12.
    """
    known: dict[str, int] = {}
    # Each is a sum: a multiplier says what one line is, an adder what two lines make.
    sums = {"M1": (("X",), 6), "M2": (("Y",), 6), "M3": (("Z",), 6), "A1": (("X", "Y"), 10), "A2": (("Y", "Z"), 12)}
    for _ in PARTS:  # once round for every part is enough to carry anything through
        for part in sorted(sound):
            names, total = sums[part]
            missing = [name for name in names if name not in known]
            rest = total - sum(known[name] for name in names if name in known)
            if len(missing) == 1:
                known[missing[0]] = rest
            elif not missing and rest != 0:
                return None
    return known


def circuit() -> BeliefModel:
    """Every set of faulty parts that agrees with what was seen, with its prior, and the three probes as signs.

    A diagnosis that does not imply a line's value gives each of the ten values the same chance.
    """
    diagnoses: dict[str, tuple[float, dict[str, int]]] = {}
    for size in range(len(PARTS) + 1):
        for faulty in combinations(PARTS, size):
            lines = lines_if_sound(frozenset(PARTS) - set(faulty))
            if lines is not None:
                chance = FAILS**size * (1.0 - FAILS) ** (len(PARTS) - size)
                diagnoses[" ".join(faulty)] = (chance, lines)
    prior = np.array([chance for chance, _ in diagnoses.values()])
    tables = {}
    for probe in ("X", "Y", "Z"):
        seen = sorted({lines[probe] for _, lines in diagnoses.values() if probe in lines})
        words = (*map(str, seen), "another")
        open_row = [1.0 / VALUES] * len(seen) + [1.0 - len(seen) / VALUES]
        rows = [
            [1.0 - NEARLY * len(seen) if word == str(lines[probe]) else NEARLY for word in words]
            if probe in lines
            else open_row
            for _, lines in diagnoses.values()
        ]
        tables[probe] = SignTable(probe, words, np.array(open_row), np.array(rows))
    hypotheses = tuple(Hypothesis(faulty, None) for faulty in diagnoses)
    return BeliefModel(hypotheses, prior / prior.sum(), tables)


def test_circuit_diagnoses() -> None:
    """Minimal diagnoses {A1}, {M1}, {A2, M2}, {M2, M3} (from memory of the paper); M1 and A1 at 0.478 each, by our own
    enumeration: the paper's tables were not seen."""
    by_cause = circuit().believe([]).by_cause()
    faulty = [frozenset(name.split()) for name in by_cause]
    minimal = {one for one in faulty if not any(other < one for other in faulty)}
    assert minimal == {frozenset({"A1"}), frozenset({"M1"}), frozenset({"A2", "M2"}), frozenset({"M2", "M3"})}
    assert by_cause["M1"] == pytest.approx(0.478, abs=5e-4)
    assert by_cause["A1"] == pytest.approx(0.478, abs=5e-4)


@pytest.mark.parametrize(("probe", "expected_nats"), [("X", 0.229), ("Y", 0.886), ("Z", 0.910)])
def test_circuit_probes(probe: str, expected_nats: float) -> None:
    """Expected entropy after each probe, in nats, with ten values a line; our own enumeration, the paper's tables not
    seen. The best probe is X."""
    belief = circuit().believe([])
    after = (belief.entropy_bits() - gain_of(belief, probe).all_bits) * math.log(2.0)
    assert after == pytest.approx(expected_nats, abs=1e-3)
    assert max(("X", "Y", "Z"), key=lambda one: gain_of(belief, one).all_bits) == "X"


# -- Weight of evidence (I. J. Good, "Probability and the Weighing of Evidence", 1950; from memory).


def test_likelihood_ratio_of_twenty_in_decibans() -> None:
    """10 log10 20 = 13.01 decibans. From memory, recomputed."""
    assert decibans(20.0) == pytest.approx(13.01, abs=5e-3)
    model = network({(True,): 0.1, (False,): 0.9}, {"sign": [0.8, 0.04]})
    (weight,) = weights_for(model.believe([Evidence("sign", "yes")]), named((True,)))
    assert weight.decibans == pytest.approx(13.01, abs=5e-3)


# -- Heckerman, Breese and Rommelse 1995, "Decision-theoretic troubleshooting", Comm. ACM 38(3).


def expected_cost(order: Sequence[str], chances: Mapping[str, float], costs: Mapping[str, float]) -> float:
    """Repairs are tried in turn until the one fault there is has gone; each try costs, the last one included."""
    total, still_there = 0.0, 1.0
    for name in order:
        total += still_there * costs[name]
        still_there -= chances[name]
    return total


def test_repairs_by_probability_over_cost_cost_least() -> None:
    """Against all orders in 300 random single-fault cases. The theorem is the paper's (not seen whole); the check is
    complete enumeration."""
    random = Random(1995)
    for _ in range(300):
        names = [f"repair-{number}" for number in range(random.randint(2, 5))]
        weights = [random.random() for _ in names]
        chances = {name: weight / sum(weights) for name, weight in zip(names, weights, strict=True)}
        costs = {name: random.uniform(5.0, 240.0) for name in names}
        best = min(expected_cost(order, chances, costs) for order in permutations(names))
        chosen = order_by_probability_over_cost(chances, costs)
        assert sorted(chosen) == names
        assert expected_cost(chosen, chances, costs) == pytest.approx(best, rel=1e-12)


def test_a_cheap_unlikely_repair_may_come_first() -> None:
    order = order_by_probability_over_cost(
        {"balance": 0.3, "bearing": 0.6, "b": 0.05, "a": 0.05},
        {
            "balance": 20.0,
            "bearing": 90.0,
            "a": 100.0,
            "b": 100.0,
        },
    )
    assert order == ("balance", "bearing", "a", "b")
