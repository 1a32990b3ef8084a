"""The bay's commands as they are typed: 80 columns, keys as README says, cautions, and one sentence for wrong input."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from vibdiag.case.model import Case
from vibdiag.case.storage import save_case
from vibdiag.commands.bay import COMMANDS
from vibdiag.commands.bay.inputs import numbers
from vibdiag.commands.main import app

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def wave(total: float, high_deg: float = 0.0, middle: float = 0.0) -> list[float]:
    return [round(middle + total / 2 * math.cos(math.radians(30 * place - high_deg)), 4) for place in range(12)]


def typed(values: list[float]) -> str:
    return " ".join(str(value) for value in values)


TREAD, RIM = typed(wave(2.0)), typed(wave(1.0, 60.0))
DISC = typed(wave(0.08, middle=22.0))
GOOD: dict[str, tuple[str, ...]] = {
    "runout": ("--values", TREAD),
    "index": ("--round", f"0={TREAD}", "--round", f"180={RIM}", "--studs", "5"),
    "match": ("--tread", TREAD, "--rim-inner", RIM, "--rim-outer", RIM, "--after", RIM),
    "pair": ("--tread", TREAD, "--tread", RIM, "--rim", RIM, "--rim", TREAD),
    "balance": (
        *("--inner", "30@0", "--outer", "20@90", "--to-outer", "100/180", "--step", "5", "--tyre", "225/45R17"),
        *("--speed", "110", "--mass", "20"),
    ),
    "split": ("--weight", "30@10", "--over", "-26 46", "--equal", "20", "--stock", "5 10 15 20"),
    "mountings": (
        *("--mounting", "0=24@90", "--mounting", "120=16.4@97", "--mounting", "240=17.3@69", "--step", "0.3"),
        *("--mass", "20", "--bore", "57.1", "--pilot", "56.9"),
    ),
    "trim": ("--trial", "20@0", "--run", "4@0=2@10", "--scatter", "0.1"),
    "forces": ("--tyre", "225/45R17", "--imbalance", "20", "--runout", "0.5"),
    "disc": ("--thickness", DISC, "--runout", typed(wave(0.02))),
    "rolling": ("--at", "front-left=2.3/7", "--at", "front-right=2.3/3", "--tyre", "225/45R17", "--speed", "100"),
    "torque": ("--found", "118 121 x 119 120", "--maker", "110 130"),
}
WRONG: list[tuple[str, tuple[str, ...], str]] = [
    ("runout", (), "give one of --values, --csv, --case"),
    ("runout", ("--values", "1 2 3"), "values: List should have at least 4 items"),
    ("runout", ("--values", "1 2 x x x"), "2 different places were read; at least 4 are needed"),
    ("runout", ("--values", "1 2 three 4"), "--values: 'three' is no number"),
    ("runout", ("--values", "1 2 nan 4"), "no number that can be measured"),
    ("runout", ("--values", TREAD, "--on", "door"), "--on: 'door' is not known"),
    ("runout", ("--values", TREAD, "--unit", "N"), "'N' is no unit of 'tread-radial'; it can be mm, thou"),
    ("runout", ("--values", TREAD, "--angles", "0 90"), "there are 12 values at 2 angles"),
    ("runout", ("--csv", "nowhere.csv"), "nowhere.csv: cannot be read"),
    ("index", ("--round", f"0={TREAD}"), "two rounds of one place are needed"),
    ("index", ("--round", TREAD), "write MOVED=VALUES"),
    ("index", ("--studs", "2"), "3 to 10 studs"),
    ("match", ("--tread", TREAD), "at least one bead seat"),
    ("match", ("--tread", "1 2 3 4", "--rim-inner", RIM), "cannot carry eccentricity"),
    ("pair", ("--amounts", "1 2 3"), "--amounts: '1 2 3' is not 4 numbers"),
    ("pair", ("--tread", TREAD, "--tread", RIM, "--rim", RIM), "give as many"),
    ("balance", (), "give --inner and --outer"),
    ("balance", ("--inner", "30"), "has no angle; write AMOUNT@ANGLE"),
    ("balance", ("--inner=-3@0",), "below zero"),
    ("balance", ("--inner", "3@0", "--at-inner", "7"), "POSITION/RADIUS"),
    ("balance", ("--inner", "3@0", "--step", "5"), "--tyre and --speed are needed"),
    ("balance", ("--inner", "3@0", "--unit", "stone"), "'stone' is not known"),
    ("split", ("--weight", "30@10"), "give --over with two angles"),
    ("split", ("--weight", "30@100", "--over", "-26 46"), "does not lie between"),
    ("split", ("--weight", "30@10", "--equal", "5"), "cannot make 30 g"),
    ("mountings", (), "give --mounting several times"),
    ("mountings", ("--mounting", "0=24@90", "--mounting", "2=24@90"), "same index angle"),
    ("mountings", ("--bore", "56", "--pilot", "57", "--mass", "20"), "does not go into"),
    ("mountings", ("--bore", "57"), "--pilot is needed"),
    ("trim", ("--trial", "20@0", "--run", "4@0=4@0", "--scatter", "0.1"), "use a larger one"),
    ("trim", ("--trial", "0", "--run", "4@0=2@0", "--scatter", "0.1"), "must be above zero"),
    ("trim", ("--trial", "20@0", "--run", "4@0", "--scatter", "0.1"), "write BEFORE=WITH"),
    ("forces", ("--tyre", "round", "--imbalance", "1", "--runout", "1"), "--tyre: "),
    ("forces", ("--tyre", "225/45R17", "--imbalance", "1", "--runout", "-1"), "zero or more"),
    ("disc", ("--thickness", "0 1 2 3 4"), "a thickness must be above zero"),
    ("rolling", ("--at", "front-left=2.3/7"), "--tyre and --speed are needed"),
    ("rolling", ("--at", "roof=2.3/7", "--tyre", "225/45R17", "--speed", "100"), "'roof' is not known"),
    ("rolling", ("--at", "front-left=2.3", "--tyre", "225/45R17", "--speed", "100"), "has no tread depth"),
    ("rolling", ("--at", "front-left=23/7", "--tyre", "225/45R17", "--speed", "100"), "50 to 1000 kPa"),
    ("torque", ("--studs", "11"), "3 to 10 studs"),
    ("torque", ("--found", "100 100"), "3 to 10"),
]


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80"})
    told = f"{result.exit_code}: {result.output} {result.exception!r}"
    assert result.exit_code == code, told
    assert result.exception is None or isinstance(result.exception, SystemExit), told
    return result


def data_of(*arguments: str) -> Any:
    return json.loads(ran(*arguments, "--json").stdout)


def test_every_command_is_tried_here() -> None:
    assert set(GOOD) == set(COMMANDS) == {command for command, _, _ in WRONG}


@pytest.mark.parametrize("command", GOOD)
def test_text_fits_80_columns_and_says_who_decides(command: str) -> None:
    text = ran(command, *GOOD[command]).stdout
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert "a qualified person decides" in " ".join(text.split())
    if command not in ("split", "forces"):  # at the bench and on paper nothing moves
        assert "Caution: " in text


@pytest.mark.parametrize("command", GOOD)
def test_json_has_the_keys_that_readme_promises_and_no_other(command: str) -> None:
    row = next(line for line in README.splitlines() if line.startswith(f"| `{command}` |"))
    promised = set(re.findall(r"`([a-z_0-9]+)`", row.split("|")[2]))
    data = data_of(command, *GOOD[command])
    assert set(data) <= promised
    for part in ("rounds", "found", "pairs", "rows"):
        for each in data.get(part) or []:
            if command == "disc" and part == "rounds":
                continue
            assert set(each) <= promised
    assert "NaN" not in ran(command, *GOOD[command], "--json").stdout


@pytest.mark.parametrize(("command", "arguments", "says"), WRONG)
def test_wrong_input_is_one_sentence(command: str, arguments: tuple[str, ...], says: str) -> None:
    result = ran(command, *arguments, code=1)
    assert result.stdout == ""
    assert result.stderr.startswith("vibdiag: ")
    assert result.stderr.count("\n") == 1
    assert says in result.stderr


@pytest.mark.parametrize("command", COMMANDS)
def test_a_wrong_command_line_ends_with_2_and_help_shows_the_options(command: str) -> None:
    assert ran(command, "--nonsense", code=2).stdout == ""
    assert "--json" in ran(command, "--help").stdout


def test_help_reads_no_file_of_the_bay() -> None:
    code = (
        "import sys\nfrom vibdiag.commands.main import run\nsys.argv = ['vibdiag', '--help']\n"
        "try:\n    run()\nexcept SystemExit as end:\n    assert not end.code\n"
        "print('LOADED', *sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.rsplit("LOADED", 1)[1].split())
    assert {name for name in loaded if name.startswith("vibdiag.commands.bay.")} == set()
    assert loaded.isdisjoint({"numpy", "pydantic", "vibdiag.measure"})
    assert all(f"  {name} " in done.stdout for name in COMMANDS)


# --- what they say


def test_runout_reads_values_and_files_alike(tmp_path: Path) -> None:
    said = data_of("runout", *GOOD["runout"])["rounds"][0]
    assert said["verdict"] == "over"
    assert said["total"]["low"] <= 2.0 <= said["total"]["high"]
    alone, both, german = (tmp_path / name for name in ("alone.csv", "both.csv", "german.csv"))
    values = wave(2.0)
    alone.write_text("\n".join(map(str, values)))
    both.write_text("angle,value\n" + "\n".join(f"{30 * place},{value}" for place, value in enumerate(values)))
    german.write_text(
        "Winkel;Wert\n" + "\n".join(f"{30 * place};{value}".replace(".", ",") for place, value in enumerate(values))
    )
    for path in (alone, both, german):
        assert data_of("runout", "--csv", str(path))["rounds"][0] == said, path.name
    bad = tmp_path / "bad.csv"
    bad.write_text("1,2,3\n")
    assert "needs one column (value) or two" in ran("runout", "--csv", str(bad), code=1).stderr
    bad.write_text("0,1\n90,much\n")
    assert "reading 2: 'much' is no number" in ran("runout", "--csv", str(bad), code=1).stderr


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("0 0.1 -0.2", [0.0, 0.1, -0.2]),
        ("0,1 0,2 -0,3", [0.1, 0.2, -0.3]),
        ("1;2,5;;-3", [1.0, 2.5, None, -3.0]),
        ("0.1, 0.2, x", [0.1, 0.2, None]),
        ("1,2,3", [1.0, 2.0, 3.0]),
    ],
)
def test_numbers_are_read_as_people_write_them(text: str, read: list[float | None]) -> None:
    assert numbers(text, "--values") == read


def test_thousandths_of_an_inch_give_the_same_verdict() -> None:
    thou = typed([value / 0.0254 for value in wave(2.0)])
    fine = ("--resolution", str(0.01 / 0.0254))
    said = data_of("runout", "--values", thou, "--unit", "thou", *fine)["rounds"][0]
    metric = data_of("runout", *GOOD["runout"])["rounds"][0]
    assert said["verdict"] == metric["verdict"]
    assert said["total"]["best"] == pytest.approx(metric["total"]["best"], abs=1e-3)


def test_match_predicts_the_difference_of_the_two_amounts() -> None:
    """Rim and tyre of 0.5 mm each, 120 degrees apart as drawn: turned against each other nothing is left."""
    rim = wave(1.0, 0.0)
    tread = [a + b for a, b in zip(rim, wave(1.0, 60.0), strict=True)]
    said = data_of("match", "--tread", typed(tread), "--rim-inner", typed(rim))
    assert said["advice"] == "turn"
    assert said["turn_deg"] == pytest.approx(120.0, abs=1.5)  # from 60 to 180, the rim's low point
    assert said["left_mm"]["best"] == pytest.approx(0.0, abs=0.02)


def test_balance_gives_the_textbook_static_part() -> None:
    """30 g and 20 g at right angles on 200 mm: 200 * sqrt(30^2 + 20^2) = 7211.1 g.mm at 33.69 degrees (geometry)."""
    said = data_of("balance", "--inner", "30@0", "--outer", "20@90")
    assert said["static_gmm"] == {"amount": 7211.1, "deg": 33.69}


def test_a_missing_fastener_is_a_danger_before_anything_else() -> None:
    assert ran("torque", *GOOD["torque"]).stdout.startswith("DANGER: Fastener 3 is missing or loose")
    assert data_of("torque", "--studs", "5")["sequence"] == [1, 3, 5, 2, 4]


def test_off_centre_both_ways() -> None:
    """20 kg lying 0.1 mm off is 2000 g.mm, 10 g at 200 mm (m * e)."""
    said = data_of("mountings", "--bore", "57.1", "--pilot", "56.9", "--mass", "20")
    assert said["off_centre"]["unbalance_gmm"]["high"] == pytest.approx(2000.0)
    assert said["off_centre"]["weight_g"]["high"] == pytest.approx(10.0)
    shown = [arg for turned in (0, 90, 180, 270) for arg in ("--mounting", f"{turned}=10@{360 - turned}")]
    found = data_of("mountings", *shown, "--step", "0.5", "--mass", "20")
    assert found["gap_that_explains_mm"] == pytest.approx(0.2, abs=0.001)


# --- from a case


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> str:
    front = {"wheel": "front-left"}
    rounds = [
        {"what": "tread-radial", "values": wave(2.0), **front},
        {"what": "tread-radial", "values": wave(2.0), "moved_deg": 180.0, **front},
        {"what": "rim-inner-radial", "values": wave(1.0, 60.0), **front},
        {"what": "disc-thickness", "values": wave(0.08, middle=22.0), **front},
    ]
    rounds += [{"what": "tread-radial", "values": wave(0.4), "wheel": wheel} for wheel in ("front-right", "rear-left")]
    shown = {"plane_distance_mm": 150.0, "inner_radius_mm": 200.0, "outer_radius_mm": 200.0, **front}
    mounted = [
        {"inner_amount": 20.0, "inner_deg": 10.0, "outer_amount": 0.0, "shaft_deg": turned, **shown}
        for turned in (0.0, 120.0, 240.0)
    ]
    read = [
        {"quantity": quantity, "value": value, "unit": unit, "wheel": wheel}
        for wheel, depth in (("front-left", 7.0), ("front-right", 3.0))
        for quantity, value, unit in (("tyre-pressure", 2.3, "bar"), ("tread-depth", depth, "mm"))
    ]
    told = {
        "vibdiag_case": 1,
        "id": "bay",
        "invented": True,
        "vehicle": {"tyres": {"front": "225/45R17"}},
        "complaint": {"speed": {"worst": 110}},
        "readings": rounds,
        "balance_readings": mounted,
        "measurements": read,
    }
    path = tmp_path_factory.mktemp("case") / "bay.yaml"
    save_case(Case.model_validate(told), path)
    return str(path)


@pytest.mark.parametrize("command", ["runout", "index", "match", "pair", "balance", "mountings", "disc", "rolling"])
def test_a_case_gives_what_the_command_needs(case: str, command: str) -> None:
    wheel = () if command in ("pair", "rolling") else ("--wheel", "front-left")
    text = ran(command, "--case", case, *wheel).stdout
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert data_of(command, "--case", case, *wheel)


def test_a_case_says_the_same_as_the_values(case: str) -> None:
    found = data_of("index", "--case", case)["found"][0]
    assert (found["follows"], found["belongs_to"]) == ("with-wheel", "wheel")
    assert data_of("balance", "--case", case)["static_gmm"] == {"amount": 4000.0, "deg": 10.0}
    typed_in = data_of("match", "--tread", TREAD, "--rim-inner", RIM)
    assert data_of("match", "--case", case, "--wheel", "front-left") == typed_in


def test_what_a_case_lacks_is_said(case: str) -> None:
    assert "no round of readings at rear-right" in ran("runout", "--case", case, "--wheel", "rear-right", code=1).stderr
    assert "'roof' is not known" in ran("runout", "--case", case, "--wheel", "roof", code=1).stderr
    assert "say which with --wheel" in ran("match", "--case", case, code=1).stderr
    assert "no 'balance_readings'" in ran("balance", "--case", case, "--wheel", "rear-left", code=1).stderr
