"""The form of a case: nothing misspelt slips through, nothing is lost, and its schema is the code book."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest
from pydantic import BaseModel

from vibdiag.case import migrate as migration
from vibdiag.case import vocabulary
from vibdiag.case.model import CASE_VERSION, Case, Measurement
from vibdiag.case.storage import case_from_text, case_to_text, load_case, load_folder, save_case
from vibdiag.files.errors import InputError
from vibdiag.files.shipped import shipped_folder
from vibdiag.files.strict_yaml import parse

HEAD = "vibdiag_case: 1\nid: a\n"
REAL_CASES = Path(__file__).parents[1] / "real_cases"
FILES = sorted(shipped_folder("cases").glob("*.yaml")) + sorted(REAL_CASES.glob("*.yaml"))

each_file = pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])


def refused(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        case_from_text(text, file="some.yaml")
    return caught.value


@each_file
def test_a_shipped_case_is_written_and_read_without_loss(path: Path, tmp_path: Path) -> None:
    case = load_case(path)
    assert case_from_text(case_to_text(case)) == case
    save_case(case, tmp_path / path.name)
    assert load_case(tmp_path / path.name) == case


@each_file
def test_everything_that_stands_in_a_file_arrives_in_the_case(path: Path) -> None:
    """Against a second reader: every leaf of the plain data is found again under the same names."""
    case = load_case(path).model_dump(mode="json")
    for keys, value in leaves(parse(path.read_bytes()).data):
        found: Any = case
        for key in keys:
            found = found[key]
        if isinstance(found, float) or found is True:
            assert found == value or (found is True and value == "yes")
        elif "at" not in str(keys[-1]):
            assert found == value, keys


def leaves(data: Any, keys: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else None
    if items is None:
        yield keys, data
        return
    for key, value in items:
        yield from leaves(value, (*keys, key))


@each_file
def test_the_schema_accepts_every_shipped_case(path: Path) -> None:
    schema = Case.model_json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    data = json.loads(load_case(path).model_dump_json(exclude_none=True))
    jsonschema.validate(data, schema, format_checker=jsonschema.FormatChecker())


def test_the_schema_refuses_what_the_form_refuses() -> None:
    validator = jsonschema.Draft202012Validator(Case.model_json_schema())
    good = {"vibdiag_case": 1, "id": "a"}
    assert validator.is_valid(good)
    for wrong in (
        {"id": "a"},
        good | {"vibdiag_case": 2},
        good | {"vehicel": {}},
        good | {"complaint": {"speed": {"worst": 0}}},
        good | {"seen": {"rim_bent": "perhaps"}},
        good | {"outcome": {}},
    ):
        assert not validator.is_valid(wrong), wrong


# Named by what they are, or by a vocabulary whose words say it: nothing is left to explain.
PLAIN = {
    "ago_days",
    "at",
    "axle_ratio",
    "by",
    "cylinders",
    "done",
    "due",
    "id",
    "note",
    "odometer_km",
    "opened_at",
    "opened_by",
    "path",
    "quantity",
    "source",
    "title",
    "unit",
    "value",
    "what",
    "worst",
}


def test_what_carries_meaning_is_described_in_the_schema() -> None:
    """A word list or number without a description must speak for itself; the few that do are counted."""
    schema = Case.model_json_schema()
    silent = [
        f"{name}.{key}"
        for name, part in schema["$defs"].items()
        for key, value in part["properties"].items()
        if "description" not in value and not _speaks_for_itself(key, value)
    ]
    assert silent == []


def _speaks_for_itself(key: str, value: dict[str, Any]) -> bool:
    return "$ref" in value or "enum" in value or "items" in value or value.get("default") == "unknown" or key in PLAIN


def test_the_code_book_explains_how_to_code_a_story() -> None:
    """The properties that two people would code differently without help."""
    definitions = Case.model_json_schema()["$defs"]
    for part, key in (
        ("SpeedTold", "pattern"),
        ("SpeedTold", "starts"),
        ("SpeedTold", "fades"),
        ("Complaint", "tracks"),
        ("Complaint", "rhythm"),
        ("Complaint", "growth"),
        ("Complaint", "felt_at"),
        ("Complaint", "strongest"),
        ("History", "events"),
        ("History", "not_happened"),
        ("History", "axle_swap"),
        ("Balance", "effect"),
        ("StepResult", "how"),
        ("StepResult", "step"),
        ("Measurement", "limit"),
    ):
        assert len(definitions[part]["properties"][key].get("description", "")) > 10, (part, key)


def parts(model: type[BaseModel]) -> set[type[BaseModel]]:
    found: set[type[BaseModel]] = set()
    queue: list[Any] = [model]
    while queue:
        item = queue.pop()
        if isinstance(item, type) and issubclass(item, BaseModel):
            if item not in found:
                found.add(item)
                queue += [field.annotation for field in item.model_fields.values()]
        else:
            queue += get_args(item)
    return found


PARTS = {part.__name__: part for part in parts(Case)}


@pytest.mark.parametrize("name", sorted(PARTS))
def test_every_part_refuses_unknown_keys_and_cannot_be_changed(name: str) -> None:
    part = PARTS[name]
    assert part.model_config["extra"] == "forbid"
    assert part.model_config["frozen"] is True


@pytest.mark.parametrize(
    ("wrong", "key", "line", "right"),
    [
        ("vehicel: {driven: front}", "vehicel", 3, "vehicle"),
        ("complaint:\n  wrods: shakes", "complaint.wrods", 4, "words"),
        ("complaint:\n  speed:\n    unit: mph\n    wrost: 60", "complaint.speed.wrost", 6, "worst"),
        ("complaint:\n  conditions: {breaking: brings}", "complaint.conditions.breaking", 4, "braking"),
        ("history:\n  balance: {time: 2}", "history.balance.time", 4, "times"),
        ("steps:\n  - step: ask-idle\n    outcom: yes\n    outcome: yes", "steps.0.outcom", 5, "outcome"),
        ("outcome: {confirmed_cause: bent-rim, axel: front}", "outcome.axel", 3, "axle"),
    ],
)
def test_a_misspelt_key_is_told_with_the_nearest_right_one(wrong: str, key: str, line: int, right: str) -> None:
    error = refused(HEAD + wrong)
    assert error.field == key
    assert error.message == f"'{key.rsplit('.', 1)[-1]}' is not known here; did you mean '{right}'?"
    assert error.spot is not None
    assert error.spot.line == line
    assert str(error).startswith(f"some.yaml:{line}:")


def test_a_key_like_no_other_is_told_without_a_guess() -> None:
    assert refused(HEAD + "zzzz: 1").message == "'zzzz' is not known here"


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        ("complaint: {felt_at: seat}", "complaint.felt_at", "list"),
        ("complaint: {felt_at: [seat, hood]}", "complaint.felt_at.1", "'hood' is not one of"),
        ("vehicle: {cylinders: 4.5}", "vehicle.cylinders", "integer"),
        ("vehicle: {cylinders: true}", "vehicle.cylinders", "found True"),
        ("vehicle: {axle_ratio: nan}", "vehicle.axle_ratio", "number"),
        ("vehicle: {axle_ratio: '3.9'}", "vehicle.axle_ratio", "number"),
        ("complaint: {speed: {worst: 0}}", "complaint.speed.worst", "greater than 0"),
        (
            "complaint: {speed: {starts: 110, fades: 90}}",
            "complaint.speed",
            "'fades' (90) must be above 'starts' (110)",
        ),
        ("opened_at: yesterday", "opened_at", "datetime"),
        ("seen: {rim_bent: true}", "seen.rim_bent", "True is not one of 'yes', 'no' or 'unknown'"),
        ("outcome: {axle: front}", "outcome.confirmed_cause", "'confirmed_cause' is missing"),
        ("steps: [{outcome: yes}]", "steps.0.step", "'step' is missing"),
        ("measurements: [{quantity: tread-radial-runout, value: 1, unit: Hz}]", "measurements.0", "'Hz' is no unit of"),
    ],
)
def test_a_wrong_value_is_told_with_its_field_and_line(text: str, field: str, says: str) -> None:
    error = refused(HEAD + text)
    assert error.field == field
    assert says in error.message
    assert error.spot is not None
    assert error.spot.line == 3


@pytest.mark.parametrize("text", ["", "# nothing\n", "- a\n", "word\n", "3\n"])
def test_a_file_that_is_no_mapping_is_told_so(text: str) -> None:
    assert "'key: value'" in refused(text).message


@pytest.mark.parametrize(
    ("version", "says"),
    [
        (None, "begins with 'vibdiag_case: 1'"),
        ("one", "begins with 'vibdiag_case: 1'"),
        ("1.0", "begins with 'vibdiag_case: 1'"),
        ("true", "begins with 'vibdiag_case: 1'"),
        ("99", "has version 99, this program reads up to 1; update vibdiag"),
        ("0", "there never was a version 0"),
        ("-3", "there never was a version -3"),
    ],
)
def test_a_version_this_program_cannot_read_is_told(version: str | None, says: str) -> None:
    text = "id: a\n" + (f"vibdiag_case: {version}\n" if version is not None else "")
    error = refused(text)
    assert says in error.message
    assert error.field == "vibdiag_case"
    if version is not None:
        assert error.spot is not None
        assert error.spot.line == 2


def test_an_old_file_loads_through_each_step_that_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two steps that never were: the first renames a key, the second moves one."""
    first = CASE_VERSION - 2

    def renamed(data: dict[str, Any]) -> dict[str, Any]:
        kept = {key: value for key, value in data.items() if key != "name"}
        return kept | {"vibdiag_case": first + 1, "headline": data["name"]}

    def moved(data: dict[str, Any]) -> dict[str, Any]:
        kept = {key: value for key, value in data.items() if key != "headline"}
        return kept | {"vibdiag_case": CASE_VERSION, "title": data["headline"]}

    monkeypatch.setattr(migration, "_STEPS", {first: renamed, first + 1: moved})
    assert case_from_text(f"vibdiag_case: {first}\nid: a\nname: old\n").title == "old"
    assert case_from_text(f"vibdiag_case: {first + 1}\nid: a\nheadline: newer\n").title == "newer"
    error = refused(f"vibdiag_case: {first}\nid: a\nname: old\nvehicel: {{}}\n")
    assert error.spot is not None
    assert error.spot.line == 4


def test_every_quantity_has_its_units() -> None:
    assert set(vocabulary.UNITS_OF) == set(get_args(vocabulary.Quantity))
    assert {unit for units in vocabulary.UNITS_OF.values() for unit in units} == set(get_args(vocabulary.Unit))
    for quantity, units in vocabulary.UNITS_OF.items():
        for unit in units:
            Measurement(quantity=quantity, value=1.0, unit=unit)


def test_a_folder_of_cases_is_read_in_order_or_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no case file"):
        load_folder(tmp_path)
    for name in ("b", "a"):
        (tmp_path / f"{name}.yaml").write_text(HEAD)
    assert [path.stem for path, _ in load_folder(tmp_path)] == ["a", "b"]
    (tmp_path / "c.yaml").write_text("id: a")
    with pytest.raises(InputError, match=r"c\.yaml"):
        load_folder(tmp_path)
    with pytest.raises(InputError, match="is not a folder"):
        load_folder(tmp_path / "a.yaml")


def test_a_file_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.yaml: cannot be read: No such file"):
        load_case(tmp_path / "none.yaml")
    with pytest.raises(InputError, match="cannot be read: Is a directory"):
        load_case(tmp_path)
