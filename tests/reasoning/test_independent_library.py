"""The posterior of the shipped rule base equals pgmpy's exact inference, case by case.

Independent reference: pgmpy (MIT licence), `DiscreteBayesianNetwork` and `VariableElimination`. The network is drawn
out in full: the hypothesis is the parent of every sign, every sign the parent of its report, and the report is a noisy
channel that repeats the sign with probability `trust` and otherwise says a word drawn from the background. Only the
tables are taken from vibdiag; Bayes' rule, the channel and the exclusion are pgmpy's work.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from random import Random
from typing import Any

import numpy as np
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.reasoning.belief import BeliefModel, Evidence, SignTable

pytest.importorskip("pgmpy", reason="pgmpy weighs some 500 MB; it is in the extra 'test'")
with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the library's own deprecations are not this project's
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

HYPOTHESIS = "hypothesis"
CASES = 800
BATCHES = 8


class Reference:
    """pgmpy's network over the tables of a model, cut down to the signs of a case."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self.states = [
            f"{' and '.join(hypothesis.causes)} {hypothesis.axle} {hypothesis.variant}"
            for hypothesis in model.hypotheses
        ]
        self.signs = {table.sign: self._sign(table) for table in model.tables.values()}

    def _sign(self, table: SignTable) -> Any:
        return TabularCPD(
            table.sign,
            len(table.words),
            table.rows.T,
            evidence=[HYPOTHESIS],
            evidence_card=[len(self.states)],
            state_names={table.sign: list(table.words), HYPOTHESIS: self.states},
        )

    def _report(self, table: SignTable, trust: float) -> Any:
        """P(report | sign): columns are the true word, rows the reported one."""
        size = len(table.words)
        channel = [
            [trust * (said == true) + (1.0 - trust) * float(table.background[said]) for true in range(size)]
            for said in range(size)
        ]
        name = f"report of {table.sign}"
        return TabularCPD(
            name,
            size,
            channel,
            evidence=[table.sign],
            evidence_card=[size],
            state_names={name: list(table.words), table.sign: list(table.words)},
        )

    def _prior(self, excluded: Sequence[str]) -> Any:
        weights = [
            0.0 if set(hypothesis.causes) & set(excluded) else float(weight)
            for hypothesis, weight in zip(self.model.hypotheses, self.model.prior, strict=True)
        ]
        column = [[weight / sum(weights)] for weight in weights]
        return TabularCPD(HYPOTHESIS, len(column), column, state_names={HYPOTHESIS: self.states})

    def posterior(self, evidence: Sequence[Evidence], excluded: Sequence[str]) -> list[float]:
        network = DiscreteBayesianNetwork()
        network.add_node(HYPOTHESIS)
        network.add_cpds(self._prior(excluded))
        known = {}
        for item in evidence:
            network.add_edge(HYPOTHESIS, item.sign)
            network.add_cpds(self.signs[item.sign])
            if item.trust == 1.0:
                known[item.sign] = item.word
            else:
                report = self._report(self.model.tables[item.sign], item.trust)
                network.add_edge(item.sign, report.variable)
                network.add_cpds(report)
                known[report.variable] = item.word
        assert network.check_model()
        found = VariableElimination(network).query([HYPOTHESIS], evidence=known, show_progress=False)
        assert found.state_names[HYPOTHESIS] == self.states
        return [float(value) for value in found.values]


def random_case(model: BeliefModel, random: Random) -> tuple[list[Evidence], list[str]]:
    signs = random.sample(sorted(model.tables), random.randint(1, 14))
    evidence = [
        Evidence(sign, random.choice(model.tables[sign].words), random.choice([1.0, 0.98, 0.95, 0.8, 0.55, 0.05]))
        for sign in signs
    ]
    return evidence, random.sample(model.causes, random.choice([0, 0, 1, 3]))


@pytest.fixture(scope="module")
def reference(adviser: Adviser) -> Reference:
    return Reference(adviser.base.model)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_posterior_equals_exact_inference_in_another_library(reference: Reference, batch: int) -> None:
    random = Random(batch)
    for _ in range(CASES // BATCHES):
        evidence, excluded = random_case(reference.model, random)
        ours = reference.model.believe(evidence, excluded=excluded).posterior
        theirs = reference.posterior(evidence, excluded)
        assert float(np.abs(ours - theirs).max()) < 1e-9, (evidence, excluded)
