"""Random cases for property tests: every field of the form, told or not, and results of any steps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, get_args, get_origin

import pytest
from hypothesis import strategies as st
from pydantic import BaseModel

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Balance, Case, Complaint, Conditions, Seen, Vehicle
from vibdiag.case.vocabulary import EventKind, Noise, Place, RepairEffect, RepairKind
from vibdiag.knowledge.base import RuleBase

Parts = dict[str, Any]


def _words(model: type[BaseModel]) -> dict[str, st.SearchStrategy[str]]:
    """A strategy for every field of a form that takes one of a list of words."""
    return {
        name: st.sampled_from(get_args(field.annotation))
        for name, field in model.model_fields.items()
        if get_origin(field.annotation) is Literal
    }


def _some(model: type[BaseModel], **more: st.SearchStrategy[Any]) -> st.SearchStrategy[Parts]:
    return st.fixed_dictionaries({}, optional={**_words(model), **more})


def _lists(words: Any, **more: st.SearchStrategy[Any]) -> st.SearchStrategy[list[Parts]]:
    one = st.fixed_dictionaries({"what": st.sampled_from(get_args(words))}, optional=more)
    return st.lists(one, max_size=4, unique_by=lambda part: str(part["what"]))


def _steps(base: RuleBase) -> st.SearchStrategy[list[Parts]]:
    def results(step: str) -> st.SearchStrategy[Parts]:
        outcomes = [*base.steps[step].outcomes, "unknown"]
        hows = ["measured", "looked", "told"]
        return st.fixed_dictionaries(
            {"step": st.just(step), "outcome": st.sampled_from(outcomes), "how": st.sampled_from(hows)}
        )

    one = st.sampled_from(sorted(base.steps)).flatmap(results)
    return st.lists(one, max_size=8, unique_by=lambda result: base.steps[str(result["step"])].sign)


def _parts(base: RuleBase) -> st.SearchStrategy[Parts]:
    noises = [noise for noise in get_args(Noise) if noise != "none"]
    speed = st.fixed_dictionaries(
        {"unit": st.sampled_from(["km/h", "mph"])},
        optional={"starts": st.floats(20, 60), "worst": st.floats(20, 120), "fades": st.floats(70, 130)},
    )
    days = st.floats(0, 400)
    return st.fixed_dictionaries(
        {
            "vehicle": _some(Vehicle),
            "complaint": _some(
                Complaint,
                speed=speed,
                conditions=_some(Conditions),
                felt_at=st.lists(st.sampled_from(get_args(Place)), max_size=3, unique=True),
                noise=st.one_of(st.just(["none"]), st.lists(st.sampled_from(noises), max_size=3, unique=True)),
            ),
            "history": st.fixed_dictionaries(
                {},
                optional={
                    "events": _lists(EventKind, ago_days=days),
                    "balance": _some(Balance, times=st.integers(0, 6), found_g=st.floats(0, 90)),
                    "repairs": _lists(RepairKind, effect=st.sampled_from(get_args(RepairEffect))),
                },
            ),
            "seen": _some(Seen),
            "steps": _steps(base),
        }
    )


def _case_of(**parts: Any) -> Case:
    return Case.model_validate({"vibdiag_case": 1, "id": "case", **parts})


@pytest.fixture(scope="session")
def case_of() -> Callable[..., Case]:
    """A case from its parts, as they stand in a file."""
    return _case_of


@pytest.fixture(scope="session")
def parts(adviser: Adviser) -> st.SearchStrategy[Parts]:
    """Parts of a case: vehicle, complaint, history, seen, steps; at most one step for each sign."""
    return _parts(adviser.base)
