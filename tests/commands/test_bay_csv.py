"""The bay's commands from a table or a case: the same answer as typed in, or one sentence with its line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner, Result

from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.commands.bay.inputs import table
from vibdiag.commands.main import app
from vibdiag.files.errors import InputError

TRIM = ("trim", "--trial", "20@0", "--scatter", "0.1")
ROLLING = ("rolling", "--tyre", "225/45R17", "--speed", "100")
HEADERS = {
    "trim": "before,before_deg,with,with_deg",
    "balance": "inner,inner_deg,outer,outer_deg",
    "rolling": "wheel,pressure,tread",
}
COMMAND: dict[str, tuple[str, ...]] = {"trim": TRIM, "balance": ("balance",), "rolling": ROLLING}


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80"})
    assert result.exit_code == code, f"{result.output} {result.exception!r}"
    return result


def data_of(*arguments: str) -> Any:
    return json.loads(ran(*arguments, "--json").stdout)


def written(folder: Path, text: str) -> str:
    path = folder / "shown.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


TRIM_RUNS = ("--run", "4.5@10=2.5@40", "--run", "3@350=1.5@0")
TRIM_TABLES = [
    "before,before_deg,with,with_deg\n4.5,10,2.5,40\n3,350,1.5,0\n",
    "before;before_deg;with;with_deg\r\n4,5;10;2,5;40\r\n3;350;1,5;0\r\n",
    "\ufeffWith;With_deg;Before;Before_deg\n2,5;40;4,5;10\n;;;\n\n1,5;0;3;350\n",
    "before\tbefore_deg\twith\twith_deg\t\n4,5\t10\t2,5\t40\t\n3\t350\t1,5\t0\n",
    'before,before_deg,with,with_deg\n"4,5",10,"2,5",40\n3,350,"1,5",0\n',
]


@pytest.mark.parametrize("text", TRIM_TABLES)
def test_trim_reads_a_table_as_it_reads_runs(tmp_path: Path, text: str) -> None:
    assert data_of(*TRIM, "--csv", written(tmp_path, text)) == data_of(*TRIM, *TRIM_RUNS)


def test_trim_of_a_table_says_the_weight_of_the_influence_coefficient(tmp_path: Path) -> None:
    """4 falls to 2 at the same phase with 20 g: 40 g at the same angle leave nothing (w = -v0 * t / (v1 - v0))."""
    said = data_of(*TRIM, "--csv", written(tmp_path, f"{HEADERS['trim']}\n4,30,2,30\n"))
    assert said["weight_g"]["amount"]["best"] == pytest.approx(40.0)
    assert said["weight_g"]["deg"] == pytest.approx(0.0)


def test_balance_says_of_every_row_what_it_says_of_one(tmp_path: Path) -> None:
    text = "wheel;inner;inner_deg;outer;outer_deg\nfront-left;30;0;20;90\n;7,5;350;0;\n"
    more = ("--to-outer", "100/180", "--step", "5", "--tyre", "225/45R17", "--speed", "110", "--mass", "20")
    rows = data_of("balance", "--csv", written(tmp_path, text), *more)["rows"]
    assert [row.pop("wheel") for row in rows] == ["front-left", None]
    assert rows[0] == data_of("balance", "--inner", "30@0", "--outer", "20@90", *more)
    assert rows[1] == data_of("balance", "--inner", "7.5@350", *more)
    assert rows[0]["static_gmm"] == {"amount": 7211.1, "deg": 33.69}  # 200 * sqrt(30^2 + 20^2), geometry
    ounces = data_of("balance", "--csv", written(tmp_path, text), "--unit", "oz")["rows"][0]
    assert ounces["static_gmm"]["amount"] == pytest.approx(28.349523125 * 7211.1, rel=1e-4)  # 1 oz avoirdupois


def test_balance_prints_every_row_and_the_caution_once(tmp_path: Path) -> None:
    text = f"{HEADERS['balance']},wheel\n30,0,20,90,rear-left\n10,0,0,\n"
    said = ran("balance", "--csv", written(tmp_path, text)).stdout
    assert "Row 1, rear-left:" in said
    assert "Row 2:" in said
    assert said.count("Static and couple") == 2
    assert said.count("Caution: ") == said.count("a qualified person") == 1
    assert max(map(len, said.splitlines())) <= 80


@pytest.mark.parametrize(
    "text",
    [
        "wheel,pressure,tread\nfront-left,2.3,7\nfront-right,2.1,3.5\n",
        "Tread;Wheel;Pressure\n7;front-left;2,3\n3,5;front-right;2,1\n",
    ],
)
def test_rolling_reads_a_table_as_it_reads_wheels(tmp_path: Path, text: str) -> None:
    typed = data_of(*ROLLING, "--at", "front-left=2.3/7", "--at", "front-right=2.1/3.5")
    assert data_of(*ROLLING, "--csv", written(tmp_path, text)) == typed


WRONG = [
    ("trim", "", "has no rows; write a header before,before_deg,with,with_deg"),
    ("trim", "before,before_deg,with,with_deg\n", "has no rows"),
    ("trim", "4,0,2,10\n", ":1: the header must be before,before_deg,with,with_deg"),
    ("trim", "before,before_deg,with\n4,0,2\n", ":1: the header must be"),
    ("trim", "before,before_deg,with,with_deg,with\n4,0,2,1,2\n", ":1: the header must be"),
    ("trim", "before,before_deg,with,with_deg,speed\n4,0,2,1,2\n", ":1: the header must be"),
    ("trim", f"{HEADERS['trim']}\n4,0,2,10\n4,0,much,10\n", ":3: with: 'much' is no number"),
    ("trim", f"{HEADERS['trim']}\n4,0,inf,10\n", ":2: with: 'inf' is no number that can be measured"),
    ("trim", f"{HEADERS['trim']}\n4,0,2\n", ":2: with_deg: is empty; a number is needed"),
    ("trim", f"{HEADERS['trim']}\n\n4,5,0,2,5,10\n", ":3: has 6 cells under 4 columns; decimal commas need semi"),
    ("trim", f'{HEADERS["trim"]}\n4,0,"2,10\n', ":2: is no CSV"),
    ("balance", f"{HEADERS['balance']}\n,,20,90\n", ":2: inner: is empty"),
    ("balance", f"{HEADERS['balance']}\n30,0,-20,90\n", ":2: outer: is below zero"),
    ("balance", f"{HEADERS['balance']}\n30,,20,90\n", ":2: inner_deg: is empty"),
    ("balance", f"{HEADERS['balance']},wheel\n30,0,20,90,roof\n", ":2: wheel: 'roof' is not known"),
    ("balance", "inner,outer\n30,20\n", "outer_deg (and, if noted, wheel)"),
    ("rolling", f"{HEADERS['rolling']}\nroof,2.3,7\n", ":2: wheel: 'roof' is not known"),
    ("rolling", f"{HEADERS['rolling']}\nfront-left,2.3,7\nfront-left,2.3,7\n", ":3: wheel: 'front-left' stands"),
    ("rolling", f"{HEADERS['rolling']}\nfront-left,23,7\n", ":2: The pressure front-left is 2300 kPa"),
    ("rolling", f"{HEADERS['rolling']}\nfront-left,2.3,7\n", "At least two wheels"),
]


@pytest.mark.parametrize(("command", "text", "says"), WRONG)
def test_a_wrong_table_is_one_sentence_with_its_line(tmp_path: Path, command: str, text: str, says: str) -> None:
    result = ran(*COMMAND[command], "--csv", written(tmp_path, text), code=1)
    assert result.stdout == ""
    assert result.stderr.startswith("vibdiag: ")
    assert result.stderr.count("\n") == 1
    assert says in result.stderr
    assert "shown.csv" in result.stderr or "two wheels" in says


def test_one_source_at_a_time_and_a_file_that_is_there(tmp_path: Path) -> None:
    path = written(tmp_path, f"{HEADERS['trim']}\n4,0,2,10\n")
    assert "give one of --run, --csv" in ran(*TRIM, "--run", "4@0=2@10", "--csv", path, code=1).stderr
    assert "give one of --run, --csv" in ran(*TRIM, code=1).stderr
    assert "give one of --at, --csv, --case" in ran(*ROLLING, "--at", "front-left=2/7", "--csv", path, code=1).stderr
    assert "give one of --inner" in ran("balance", "--inner", "3@0", "--csv", path, code=1).stderr
    for command in COMMAND.values():
        assert "nowhere.csv: cannot be read" in ran(*command, "--csv", "nowhere.csv", code=1).stderr


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(*[st.floats(0, 999, allow_subnormal=False)] * 2), min_size=1, max_size=5))
def test_decimal_comma_and_point_read_alike(tmp_path_factory: pytest.TempPathFactory, rows: list[Any]) -> None:
    lines = ["one;other", *(f"{one:.6f};{other:.6f}" for one, other in rows)]
    folder = tmp_path_factory.mktemp("alike")
    read = []
    for text in ("\n".join(lines).replace(".", ","), "\n".join(lines).replace(";", ",")):
        found = table(Path(written(folder, text)), ("one", "other"))
        read.append([(row.number("one"), row.number("other")) for row in found])
    assert read[0] == read[1] == [(float(f"{one:.6f}"), float(f"{other:.6f}")) for one, other in rows]


@settings(max_examples=60, deadline=None)
@given(st.text("ab1,;\t\"'\n\r\x00 é", max_size=30))
def test_any_text_is_a_table_or_one_sentence(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_text(text, encoding="utf-8", newline="")
    try:
        found = table(path, ("a",), optional=("b",))
    except InputError as error:
        said, found = str(error), []
    else:
        said = f"{path} was read"
    assert "any.csv" in said
    assert "\n" not in said
    assert all(set(row.cells) == {"a", "b"} for row in found)


# --- split from a case


@pytest.fixture
def case(tmp_path: Path) -> str:
    shown = [
        {"wheel": "front-left", "inner_amount": 10.0, "inner_deg": 50.0},
        {"wheel": "front-left", "inner_amount": 30.0, "inner_deg": 10.0, "outer_amount": 1.0, "outer_deg": 0.0},
        {"wheel": "front-left", "inner_amount": 5.0, "inner_deg": 0.0, "taken": "after"},
        {"wheel": "rear-left", "outer_amount": 1.0, "outer_deg": 90.0, "unit": "oz"},
    ]
    told = {"vibdiag_case": 1, "id": "split", "invented": True, "balance_readings": shown}
    path = tmp_path / "split.yaml"
    save_case(Case.model_validate(told), path)
    return str(path)


def test_split_takes_the_last_reading_before_the_repair(case: str) -> None:
    over = ("--over", "-26 46")
    found = data_of("split", "--case", case, "--wheel", "front-left", *over)
    assert found == data_of("split", "--weight", "30@10", *over)
    rear = data_of("split", "--case", case, "--wheel", "rear-left", "--plane", "outer", "--equal", "20")
    assert rear["wanted_g"] == {"amount": pytest.approx(28.3495, abs=1e-4), "deg": 90.0}  # 1 oz avoirdupois


def test_split_says_what_the_case_lacks(case: str) -> None:
    over = ("--over", "-26 46")
    at_rear = ("--case", case, "--wheel", "rear-left", *over)
    assert "no 'balance_readings' in the inner plane at rear-left" in ran("split", *at_rear, code=1).stderr
    assert "say which with --wheel" in ran("split", "--case", case, "--plane", "outer", *over, code=1).stderr
    assert "'middle' is not known" in ran("split", *at_rear, "--plane", "middle", code=1).stderr
    assert "give one of --weight, --case" in ran("split", *over, code=1).stderr
    assert "give one of --weight, --case" in ran("split", "--weight", "3@0", *at_rear, code=1).stderr


@pytest.mark.parametrize(
    ("command", "lacks"), [("trim", "no --case"), ("split", "no --csv"), ("forces", "no --csv and no --case")]
)
def test_help_says_what_a_command_does_not_take(command: str, lacks: str) -> None:
    assert lacks in " ".join(ran(command, "--help").stdout.split())
