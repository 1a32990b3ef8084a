"""What many tests share: the shipped rule base, made ready once."""

from __future__ import annotations

import pytest
from hypothesis import settings

from vibdiag.advice.assess import Adviser
from vibdiag.knowledge.base import RuleBase

# How long one example takes says more about the machine than about the code; speed has its own benchmarks.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(scope="session")
def adviser() -> Adviser:
    """The program's own answer to a case: shipped rule base, shipped engine."""
    return Adviser.shipped()


@pytest.fixture(scope="session")
def rule_base(adviser: Adviser) -> RuleBase:
    """The shipped rule base."""
    return adviser.base
