"""Random belief models for property tests: small enough to enumerate, with no regularity to hide behind."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from vibdiag.reasoning.belief import BeliefModel, Evidence, Hypothesis, SignTable


def _random_model(seed: int) -> BeliefModel:
    random = np.random.default_rng(seed)
    hypotheses: list[Hypothesis] = []
    for number in range(random.integers(2, 5)):
        axles = ("front", "rear") if random.random() < 0.5 else (None,)
        hypotheses += [Hypothesis(f"cause-{number}", axle) for axle in axles]
    for _ in range(random.integers(0, 3)):
        first, second = (str(name) for name in random.choice([h.cause for h in hypotheses], size=2))
        axle = next((h.axle for h in hypotheses if h.cause in (first, second) and h.axle is not None), None)
        pair = Hypothesis(min(first, second), axle, max(first, second))
        if first != second and pair not in hypotheses:
            hypotheses.append(pair)
    prior = random.dirichlet(np.full(len(hypotheses), 2.0))
    tables = {}
    for number in range(random.integers(2, 6)):
        words = tuple(f"word-{word}" for word in range(random.integers(2, 5)))
        rows = random.dirichlet(np.full(len(words), 1.5), size=len(hypotheses)) * 0.98 + 0.02 / len(words)
        background = random.dirichlet(np.full(len(words), 3.0)) * 0.98 + 0.02 / len(words)
        tables[f"sign-{number}"] = SignTable(f"sign-{number}", words, background, rows)
    return BeliefModel(tuple(hypotheses), prior, tables)


def _random_evidence(model: BeliefModel, seed: int) -> list[Evidence]:
    random = np.random.default_rng(seed)
    return [
        Evidence(table.sign, str(random.choice(table.words)), float(random.choice([0.3, 0.8, 1.0])))
        for table in model.tables.values()
        if random.random() < 0.6
    ]


@pytest.fixture(scope="session")
def random_model() -> Callable[[int], BeliefModel]:
    """From a seed: 2 to 4 causes, some on two axles, up to 2 pairs; 2 to 5 signs of 2 to 4 words, none impossible."""
    return _random_model


@pytest.fixture(scope="session")
def random_evidence() -> Callable[[BeliefModel, int], list[Evidence]]:
    """From a model and a seed: about six in ten signs known, each with its own trust."""
    return _random_evidence
