"""How often the road alone would show something this strong.

In one place the ratio of power to floor follows an F distribution with the looks of either as degrees of freedom; the
number of places searched, times a factor found on faultless runs of the car model, takes it to the whole search. What
may be something is looked at again, with its phase. At small probabilities the tail is not Gaussian noise any more, so
nothing below half a per cent is ever claimed in words.
"""

from __future__ import annotations

import numpy as np

__all__ = ["LEAST_CLAIMED", "any_of", "chance_alarm", "evidence_alarm", "shown"]

# Calibrated on 500 and more faultless drives of the car model, road classes A to C: see tests/benchmarks.
TRIALS_FACTOR = 3.0
LEAST_CLAIMED = 0.005
_EVIDENCE_SHARE, _BLUNTED, _PRICE = 0.5, 0.7, 0.5
# A smooth curve across real suspension resonances is never right to better than one part in root 60 (13 %), however
# long the recording: without this bound, two minutes gave three times the false alarms that half a minute gave.
MOST_FLOOR_LOOKS = 60.0


def chance_alarm(ratio: float, *, looks: float, floor_looks: float, places: float) -> float:
    """Probability that noise alone reaches this ratio of power to floor somewhere among so many places.

    ratio: power over floor. looks, floor_looks: independent complex looks in either. places: independent places.

    >>> chance_alarm(1.0, looks=10, floor_looks=100, places=4) > 0.5
    True
    """
    from scipy.special import betainc  # late: scipy is slow to import

    first, second = 2.0 * looks, 2.0 / (1.0 / floor_looks + 1.0 / MOST_FLOOR_LOOKS)
    once = float(betainc(second / 2.0, first / 2.0, second / (second + first * max(ratio, 1e-12))))
    return any_of(once, TRIALS_FACTOR * max(places, 1.0 / TRIALS_FACTOR))


def evidence_alarm(chance: float, log_evidence: float) -> float:
    """The false-alarm probability of one search once the phase has been looked at too (`Trial.evidence`).

    A line whose phase walks no more than the speed's noise explains is likelier real than its power alone says. Both
    numbers see the same noise and the same doubtful floor, so the evidence counts half and the product is blunted; the
    three numbers were set on 3,200 faultless drives (three axes, wheelbases 2.5 to 2.9 m, two dampers), of which 1.0 %
    then lie below 1 % and 0.5 % below 0.5 %.

    >>> evidence_alarm(0.01, 4.0) < 0.01 < evidence_alarm(0.01, -2.0)
    True
    """
    joint = np.log(max(chance, 1e-300)) - _EVIDENCE_SHARE * float(np.clip(log_evidence, -20.0, 600.0))
    return float(min(np.exp(_BLUNTED * (joint - _PRICE)), 1.0))


def any_of(once: float, trials: float) -> float:
    """Probability of at least one in so many independent trials."""
    return float(-np.expm1(trials * np.log1p(-min(once, 1.0 - 1e-12))))


def shown(probability: float) -> str:
    """The probability in words that do not claim too much.

    >>> shown(1e-9), shown(0.034)
    ('under 0.5 %', '3 %')
    """
    if probability < LEAST_CLAIMED:
        return "under 0.5 %"
    return f"{100.0 * probability:.1f} %" if probability < 0.01 else f"{100.0 * probability:.0f} %"
