"""In which order to try repairs: probability over cost.

When exactly one fault is to be found and each repair mends its own, this order has the least expected cost (Heckerman,
Breese and Rommelse 1995, "Decision-theoretic troubleshooting"; paper not seen whole, checked against all orders).
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["order_by_probability_over_cost"]


def order_by_probability_over_cost(chances: Mapping[str, float], costs: Mapping[str, float]) -> tuple[str, ...]:
    """The names in `chances` (probability of the fault, 0 to 1), best first; equal ones by name.

    `costs` has a cost above zero, in any one unit, for each of them; raises KeyError for one that it lacks.

    >>> order_by_probability_over_cost({"bearing": 0.6, "balance": 0.4}, {"bearing": 90, "balance": 30})
    ('balance', 'bearing')
    """
    return tuple(sorted(chances, key=lambda name: (-chances[name] / costs[name], name)))
