"""Random cases survive writing and reading; random damage to a case file is a case still or one sentence."""

from __future__ import annotations

import types
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import BalanceReading, Case, Measurement, ReadingSet, SpeedTold
from vibdiag.case.storage import case_from_text, case_to_text
from vibdiag.case.vocabulary import UNITS_OF
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.files.strict_yaml import dump, parse

TEXTS = [path.read_text(encoding="utf-8") for path in sorted(shipped_folder("cases").glob("*.yaml"))]
TEXTS += [
    path.read_text(encoding="utf-8") for path in sorted((Path(__file__).parents[1] / "real_cases").glob("*.yaml"))
]
PLAIN = [parse(text).data for text in TEXTS]

BOUNDED = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def limits(metadata: tuple[Any, ...]) -> dict[str, Any]:
    """All bounds of an annotation, whatever level of `Annotated` or `Field` they stand on."""
    found: dict[str, Any] = {}
    for item in metadata:
        if isinstance(item, FieldInfo):
            found |= limits(tuple(item.metadata))
        for name in ("ge", "gt", "le", "lt", "min_length", "max_length", "pattern"):
            value = getattr(item, name, None)
            if value is not None:
                found[name] = value
    return found


def values(annotation: Any, bounds: dict[str, Any] | None = None) -> st.SearchStrategy[Any]:
    """What a field of this type can hold, so that fields added later are tested without a word here."""
    bounds = bounds or {}
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *metadata = get_args(annotation)
        return values(inner, limits(tuple(metadata)) | bounds)
    if origin is Literal:
        return st.sampled_from(get_args(annotation))
    if origin in (Union, types.UnionType):
        return st.one_of([values(option, bounds) for option in get_args(annotation)])
    if origin is list:
        fewest = bounds.get("min_length", 0)
        return st.lists(values(get_args(annotation)[0]), min_size=fewest, max_size=fewest + 3)
    if annotation in SIMPLE:
        return SIMPLE[annotation](bounds)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return instances(annotation)
    raise AssertionError(f"no strategy for {annotation}")


def texts(bounds: dict[str, Any]) -> st.SearchStrategy[str]:
    if "pattern" in bounds:
        return st.from_regex(bounds["pattern"], fullmatch=True).filter(lambda text: not text.endswith("\n"))
    odd = st.sampled_from(
        ["yes", "null", "1e3", "a\nb", " a", "a: b", "- a", "#", "\x85", "'\"", "ü 🚗", "\ttab", "x" * 300]
    )
    longest = bounds.get("max_length", 20_000)
    return (st.text(max_size=12) | odd.map(lambda text: text[:longest])).filter(
        lambda text: len(text) >= bounds.get("min_length", 0)
    )


def floats(bounds: dict[str, Any]) -> st.SearchStrategy[float]:
    low, high = bounds.get("ge", bounds.get("gt")), bounds.get("le", bounds.get("lt"))
    return st.floats(
        low, high, exclude_min="gt" in bounds, exclude_max="lt" in bounds, allow_nan=False, allow_infinity=False
    )


ZONES = st.sampled_from(
    [None, UTC, timezone(timedelta(hours=5, minutes=45)), timezone(-timedelta(hours=9, minutes=30))]
)
SIMPLE: dict[Any, Callable[[dict[str, Any]], st.SearchStrategy[Any]]] = {
    str: texts,
    float: floats,
    int: lambda bounds: st.integers(bounds.get("ge"), bounds.get("le")),
    bool: lambda bounds: st.booleans(),
    type(None): lambda bounds: st.none(),
    datetime: lambda bounds: st.datetimes(timezones=ZONES),
    date: lambda bounds: st.dates(),
}


def field_values(field: FieldInfo) -> st.SearchStrategy[Any]:
    # A time is one with or without a zone; both are drawn by ZONES.
    kind = datetime | None if "Aware" in str(field.annotation) else field.annotation
    return values(kind, limits(tuple(field.metadata)))


def fit_together(data: dict[str, Any]) -> None:
    """Make drawn parts of a round of readings agree, as the form asks."""
    data["unit"] = "N" if data["what"] == "radial-force" else "thou"
    data["values"] = [1.0 if value is None else min(50_000.0, abs(value) + 0.1) for value in data["values"]] + [None]
    if data.get("angles_deg") is not None:
        data["angles_deg"] = [40.0 * place + 0.25 for place in range(len(data["values"]))]
    data["first_again"] = [min(50_000.0, abs(value) + 0.1) for value in data.get("first_again", [])]


@cache
def instances(model: type[BaseModel]) -> st.SearchStrategy[Any]:
    """Instances of `model`; what is not required is left out most of the time, as people do."""
    fields = {name: field_values(field) for name, field in model.model_fields.items()}
    needed = [name for name, field in model.model_fields.items() if field.is_required()]
    optional = [name for name in fields if name not in needed]

    @st.composite
    def build(draw: st.DrawFn) -> BaseModel:
        given_names = draw(st.lists(st.sampled_from(optional), unique=True, max_size=5)) if optional else []
        data = {name: draw(fields[name]) for name in (*needed, *given_names)}
        if model is Measurement:
            data["unit"] = draw(st.sampled_from(UNITS_OF[data["quantity"]]))
        if model is ReadingSet:
            fit_together(data)
        if model is BalanceReading:
            data["outer_amount"] = data.get("outer_amount") or 0.0
            data["inner_deg"] = data.get("inner_deg") or 0.0
            data["outer_deg"] = data.get("outer_deg") or 0.0
        if model is SpeedTold and data.get("starts") and data.get("fades"):
            data["starts"], data["fades"] = sorted((data["starts"], data["fades"] + 1e-3))
            data["fades"] = min(400.0, data["fades"])
            assume(data["starts"] < data["fades"])
        return model(**data)

    return build()


@BOUNDED
@given(instances(Case))
def test_a_case_is_written_and_read_without_loss(case: Case) -> None:
    text = case_to_text(case)
    assert case_from_text(text) == case
    assert case_to_text(case_from_text(text)) == text
    assert Case.model_validate_json(case.model_dump_json()) == case


@settings(BOUNDED, max_examples=100)
@given(instances(Case))
def test_any_case_is_assessed_or_told_in_one_sentence(adviser: Adviser, case: Case) -> None:
    steps = list(adviser.base.steps.values())
    known = [result.model_copy(update={"step": steps[len(result.step) % len(steps)].id}) for result in case.steps]
    unread = [one.model_copy(update={"signs": []}) for one in case.attachments]
    steps_done = [result.model_copy(update={"outcome": "unknown"}) for result in known]
    case = case.model_copy(update={"steps": steps_done, "attachments": unread})
    try:
        assessment = adviser.assess(case)
    except InputError as error:
        # Free text is free; the one text that must be understood is the tyre's marking.
        assert error.field is not None and "tyres" in error.field, error  # noqa: PT017, PT018
        return
    assert abs(sum(cause.probability for cause in assessment.causes) - 1.0) < 1e-9


def copied(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: copied(value) for key, value in data.items()}
    return [copied(value) for value in data] if isinstance(data, list) else data


WRONG: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, 0, -1, 7, 1e300, 0.5, 10**30, "", "unknown", "yes", "no", "nan", "x" * 30_000, "2026-01-01", "front"]
) | st.sampled_from([[], {}, [1], {"a": 1}, ["seat"]]).map(copied)


def places(data: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) of the plain data."""
    found: list[tuple[Any, Any]] = []
    items = list(data.items()) if isinstance(data, dict) else list(enumerate(data)) if isinstance(data, list) else []
    for key, value in items:
        found.append((data, key))
        found += places(value)
    return found


@st.composite
def changed_data(draw: st.DrawFn) -> str:
    """A shipped case with up to three of its values replaced, or keys deleted or misspelt."""
    data = copied(draw(st.sampled_from(PLAIN)))
    for _ in range(draw(st.integers(1, 3))):
        spots = places(data)
        if not spots:
            break
        container, key = draw(st.sampled_from(spots))
        match draw(st.sampled_from(["replace", "delete", "misspell"])):
            case "replace":
                container[key] = draw(WRONG)
            case "delete":
                del container[key]
            case _ if isinstance(key, str):
                container[key[::-1] or "x"] = container.pop(key)
            case _:
                container.insert(key, draw(WRONG))
    return dump(data)


@st.composite
def changed_text(draw: st.DrawFn) -> str:
    """A shipped case file with lines lost, doubled, indented or out of order."""
    lines = draw(st.sampled_from(TEXTS)).splitlines(keepends=True)
    for _ in range(draw(st.integers(1, 4))):
        here, there = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["lose", "double", "indent", "outdent", "swap", "cut"])):
            case "lose" if len(lines) > 1:
                del lines[here]
            case "double":
                lines.insert(there, lines[here])
            case "indent":
                lines[here] = "  " + lines[here]
            case "outdent":
                lines[here] = lines[here].lstrip(" ")
            case "swap":
                lines[here], lines[there] = lines[there], lines[here]
            case _:
                lines[here] = lines[here][: len(lines[here]) // 2]
    return "".join(lines)


@st.composite
def changed_bytes(draw: st.DrawFn) -> bytes:
    """A shipped case file with some bytes flipped."""
    content = bytearray(draw(st.sampled_from(TEXTS)).encode())
    for _ in range(draw(st.integers(1, 5))):
        content[draw(st.integers(0, len(content) - 1))] = draw(st.integers(0, 255))
    return bytes(content)


@settings(BOUNDED, max_examples=400)
@given(changed_data() | changed_text() | changed_bytes())
def test_a_damaged_file_is_a_case_or_one_sentence_with_its_place(text: str | bytes) -> None:
    try:
        case = case_from_text(text, file="some.yaml")
    except InputError as error:
        fault = error
    else:
        assert case_from_text(case_to_text(case)) == case
        return
    assert fault.message
    assert str(fault).startswith("some.yaml")
    assert "\n" not in str(fault)
    if fault.spot is None:
        # Only what is missing as a whole has no line.
        assert fault.field == "vibdiag_case" or "'key: value'" in fault.message
    else:
        lines = (text if isinstance(text, bytes) else text.encode()).count(b"\n") + 1
        assert 1 <= fault.spot.line <= lines + 1
