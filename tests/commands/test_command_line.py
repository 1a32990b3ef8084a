"""The commands as they are typed: exit codes, one sentence on error, JSON keys as README says, 80 columns."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from vibdiag.commands.main import app
from vibdiag.files.shipped import shipped_folder

DEMOS = sorted(shipped_folder("cases").glob("*.yaml"))
CASE = str(shipped_folder("cases") / "motorway-tremor.yaml")
REAL = Path(__file__).parents[1] / "real_cases"
TYRE = ("--tyre", "225/45R17")

each_demo = pytest.mark.parametrize("path", DEMOS, ids=[path.stem for path in DEMOS])


def ran(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(app, list(arguments), env={"COLUMNS": "80"})
    told = f"{result.exit_code}: {result.output} {result.exception!r}"
    assert result.exit_code == code, told
    assert result.exception is None or isinstance(result.exception, SystemExit), told
    return result


def data_of(*arguments: str, code: int = 0) -> Any:
    return json.loads(ran(*arguments, "--json", code=code).stdout)


def refused(*arguments: str) -> str:
    """The one sentence on standard error; nothing else is printed."""
    result = ran(*arguments, code=1)
    assert result.stdout == ""
    assert result.stderr.startswith("vibdiag: ")
    assert result.stderr.count("\n") == 1
    return result.stderr.removeprefix("vibdiag: ").strip()


def fits(text: str) -> bool:
    return all(len(line) <= 80 for line in text.splitlines())


@pytest.fixture(scope="module")
def broken_rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("broken") / "rules"
    shutil.copytree(shipped_folder("rules"), folder)
    path = folder / "causes" / "loose-wheel.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("base_rate: ", "base_rate: -", 1), encoding="utf-8")
    return folder


# --- rank


def test_rank_fits_80_columns_and_says_each_time_who_decides() -> None:
    text = ran("rank", *map(str, DEMOS)).stdout
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert " ".join(text.split()).count("a qualified person decides. The vehicle maker's figures") == len(DEMOS)


def test_rank_has_the_keys_that_readme_promises() -> None:
    data = data_of("rank", CASE)
    assert list(data) == [
        *("case", "invented", "undecided", "stands_still", "causes", "dangers", "contradictions", "next", "repair"),
        *("surprise", "signs", "excluded"),
    ]
    shape = {"id", "name", "axle", "probability", "at_work", "together", "axles", "wheel", "wheels", "for", "against"}
    assert all(set(cause) == shape for cause in data["causes"])
    assert all(cause["probability"] <= cause["at_work"] + 1e-5 for cause in data["causes"])
    assert set(data["causes"][0]["for"][0]) == {"sign", "value", "decibans", "because", "trust"}
    probabilities = [cause["probability"] for cause in data["causes"]]
    assert probabilities == sorted(probabilities, reverse=True)
    assert sum(probabilities) == pytest.approx(1.0, abs=1e-4)
    assert set(data["dangers"][0]) == {"cause", "says", "because", "probability", "clear_with", "status"}
    assert set(data["surprise"]) == {"bits", "expected_bits", "score", "verdict"}
    assert data["surprise"]["verdict"] in ("nothing known", "as expected", "odd", "nothing fits")


def test_rank_of_a_bare_complaint_has_next_steps_with_the_promised_keys(tmp_path: Path) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text("vibdiag_case: 1\nid: bare\n")
    data = data_of("rank", str(path), "--steps", "2")
    assert data["repair"] is None
    assert data["surprise"]["verdict"] == "nothing known"
    assert len(data["next"]) == 2
    assert list(data["next"][0]) == [
        *("id", "kind", "title", "minutes", "gain_bits", "worth_bits", "clears", "ask", "why", "who", "tools"),
        *("caution", "outcomes"),
    ]
    outcomes = data["next"][0]["outcomes"]
    assert list(outcomes[0]) == ["value", "says", "probability", "leaves"]
    assert sum(outcome["probability"] for outcome in outcomes) == pytest.approx(1.0, abs=1e-4)
    assert data_of("rank", str(path), "--steps", "0")["next"] == []
    assert "Next" in ran("rank", str(path)).stdout


def test_rank_of_several_cases_is_a_list_in_their_order() -> None:
    paths = [str(path) for path in DEMOS[:3]]
    assert [one["case"] for one in data_of("rank", *paths)] == [f"demo-{path.stem}" for path in DEMOS[:3]]
    assert ran("rank", *paths).stdout.count("-" * 40) == 2


def test_who_and_without_narrow_the_steps(tmp_path: Path) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text("vibdiag_case: 1\nid: bare\n")
    desk = data_of("rank", str(path), "--who", "desk", "--steps", "20")["next"]
    assert desk
    assert all("desk" in step["who"] for step in desk)
    bay = data_of("rank", str(path), "--who", "bay", "--without", "dial indicator", "--steps", "20")["next"]
    assert bay
    assert all("dial indicator" not in step["tools"] and "bay" in step["who"] for step in bay)


def test_rank_says_what_is_wrong_and_where(tmp_path: Path, broken_rules: Path) -> None:
    path = tmp_path / "wrong.yaml"
    path.write_text("vibdiag_case: 1\nid: a\nvehicel: {driven: front}\n")
    said = refused("rank", CASE, str(path))
    assert said == f"{path}:3:1: vehicel: 'vehicel' is not known here; did you mean 'vehicle'?"
    assert refused("rank", str(tmp_path / "none.yaml")).endswith("none.yaml: cannot be read: No such file or directory")
    path.write_text("vibdiag_case: 1\nid: a\nsteps: [{step: ask-nix, outcome: yes}]\n")
    assert refused("rank", str(path)) == f"{path}:3:10: steps.0.step: there is no step 'ask-nix' in the rule base"
    path.write_text("vibdiag_case: 1\nid: a\nsteps: [{step: bay-fasteners, outcome: perhaps}]\n")
    assert f"{path}:3:31: steps.0.outcome: 'perhaps' is no outcome of 'bay-fasteners'" in refused("rank", str(path))
    assert "'boss' is nobody here; --who takes desk, road or bay" in refused("rank", CASE, "--who", "boss")
    assert "no step uses 'wand'; --without takes one of: " in refused("rank", CASE, "--without", "wand")
    assert "loose-wheel.yaml:" in refused("rank", CASE, "--rules", str(broken_rules))
    assert "is not a folder" in refused("rank", CASE, "--rules", str(tmp_path / "nowhere"))


@pytest.mark.parametrize(
    "arguments",
    [
        ("rank",),
        ("rank", CASE, "--steps", "21"),
        ("rank", CASE, "--steps", "many"),
        ("rank", CASE, "--unknown"),
        ("turns", *TYRE, "--speed", "0"),
        ("turns", *TYRE, "--speed", "fast"),
        ("turns", *TYRE, "--speed", "nan"),
        ("demo", "a", "b"),
        ("schema", "x"),
        ("rules", "score"),
        ("rules", "nonsense"),
        ("nonsense",),
    ],
)
def test_a_wrong_command_line_ends_with_2(arguments: tuple[str, ...]) -> None:
    assert ran(*arguments, code=2).stdout == ""


# --- turns


def test_turns_has_the_keys_that_readme_promises() -> None:
    data = data_of("turns", *TYRE, "--speed", "100")
    assert list(data) == [
        *("speed_kmh", "circumference_m", "revolutions_per_km", "revolutions_per_mile", "rates", "felt"),
        *("measured_hz", "matches", "alike", "from_speeds", "beat"),
    ]
    assert list(data["rates"][0]) == [
        *("id", "label", "hz", "per_wheel_turn", "follows", "certain", "assumed", "how"),
    ]
    assert data["beat"] is None
    assert data["measured_hz"] is None


def test_turns_computes_what_a_pocket_calculator_does() -> None:
    """225/45R17: 17 in of rim and two sidewalls of 0.45 x 225 mm make 634.3 mm across. A radial tyre rolls about
    3.05 diameters a turn (ETRTO, 60 km/h): 1.935 m, so 100 km/h are 27.78 m/s / 1.935 m = 14.36 turns a second.
    """
    data = data_of("turns", *TYRE, "--speed", "100", "--from", "gps")
    assert data["circumference_m"]["front"]["best"] == pytest.approx(1.935, abs=0.002)
    wheel = next(rate for rate in data["rates"] if rate["label"] == "1x wheel")
    assert wheel["hz"]["best"] == pytest.approx(14.36, abs=0.05)
    assert wheel["hz"]["low"] < 14.36 < wheel["hz"]["high"]
    miles = data_of("turns", *TYRE, "--speed", "62.137", "--unit", "mph", "--from", "gps")
    assert miles["speed_kmh"]["best"] == pytest.approx(100.0, abs=0.01)


def test_turns_takes_the_driveline() -> None:
    data = data_of(
        *("turns", *TYRE, "--speed", "100", "--from", "gps", "--driven", "rear", "--placement", "longitudinal"),
        *("--axle-ratio", "3.5", "--gear-ratio", "0.8", "--cylinders", "6", "--accessory", "alternator=2.5"),
    )
    rates = {rate["label"]: rate["hz"]["best"] for rate in data["rates"]}
    one = rates["1x wheel"]
    assert rates["1x propshaft"] == pytest.approx(3.5 * one, rel=1e-3)
    assert rates["2x propshaft"] == pytest.approx(7.0 * one, rel=1e-3)
    assert rates["1x engine"] == pytest.approx(2.8 * one, rel=1e-3)
    assert any("alternator" in label and hz == pytest.approx(7.0 * one, rel=1e-3) for label, hz in rates.items())


def test_turns_keeps_two_sizes_apart() -> None:
    arguments = ("turns", *TYRE, "--rear-tyre", "255/40R18", "--speed", "100", "--from", "gps")
    data = data_of(*arguments)
    circumference = data["circumference_m"]
    assert circumference["front"]["best"] < circumference["rear"]["best"]
    labels = [rate["label"] for rate in data["rates"]]
    assert "1x front wheel" in labels
    assert "1x rear wheel" in labels
    assert re.search(r"one turn of the wheel.*front\n +[0-9.]+ .*rear\n", ran(*arguments).stdout)


def test_turns_matches_a_frequency_however_it_was_taken() -> None:
    read = data_of("turns", *TYRE, "--speed", "100", "--from", "gps", "--hz", "14.4")
    assert read["matches"][0]["label"] == "1x wheel"
    counted = data_of("turns", *TYRE, "--speed", "100", "--from", "gps", "--count", "144", "--seconds", "10")
    assert counted["measured_hz"]["best"] == pytest.approx(14.4)
    assert counted["matches"][0]["label"] == "1x wheel"
    nothing = ("turns", *TYRE, "--speed", "100", "--from", "gps", "--hz", "0.02")
    assert data_of(*nothing)["matches"] == []
    assert "fits nothing that turns here" in ran(*nothing).stdout


def test_turns_reads_a_beat() -> None:
    """Two wheels that beat every 10 s at 100 km/h (27.78 m/s) differ by 1.935 / 277.8 = 0.70 per cent."""
    data = data_of("turns", *TYRE, "--speed", "100", "--from", "gps", "--beat", "10")
    assert data["beat"]["fraction"]["best"] == pytest.approx(0.00697, abs=0.0001)


def test_turns_takes_everything_from_a_case_and_the_command_line_rules() -> None:
    data = data_of("turns", "--case", CASE)
    assert data["speed_kmh"]["best"] == pytest.approx(110, abs=1)
    assert data["from_speeds"]
    assert data_of("turns", "--case", CASE, "--speed", "90")["speed_kmh"]["best"] == pytest.approx(90, abs=1)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "no tyre is known; give --tyre 225/45R17"),
        (TYRE, "no speed is known; give --speed"),
        (("--tyre", "round", "--speed", "100"), "--tyre: "),
        ((*TYRE, "--rear-tyre", "round", "--speed", "100"), "--rear-tyre: "),
        ((*TYRE, "--speed", "100", "--unit", "knots"), "--unit takes km/h or mph"),
        ((*TYRE, "--speed", "100", "--from", "guess"), "--from takes dashboard"),
        ((*TYRE, "--speed", "100", "--driven", "both"), "driven: 'both' is not known"),
        ((*TYRE, "--speed", "100", "--power", "steam"), "power: 'steam' is not known"),
        ((*TYRE, "--speed", "100", "--cylinders", "0"), "cylinders is 0"),
        ((*TYRE, "--speed", "100", "--axle-ratio", "-1"), "axle_ratio is -1"),
        ((*TYRE, "--speed", "100", "--accessory", "fan"), "write NAME=RATIO"),
        ((*TYRE, "--speed", "100", "--accessory", "fan=nan"), "accessory_ratios"),
        ((*TYRE, "--speed", "100", "--count", "5"), "--count and --seconds belong together"),
        ((*TYRE, "--speed", "100", "--seconds", "5"), "--count and --seconds belong together"),
        ((*TYRE, "--speed", "100", "--hz", "inf"), "--hz: inf is not a number"),
        ((*TYRE, "--speed", "100", "--beat", "inf"), "--beat: "),
        ((*TYRE, "--starts", "100", "--fades", "90"), "--fades (90) must be above --starts (100)"),
        (("--case", "none.yaml"), "none.yaml: cannot be read"),
    ],
)
def test_turns_says_what_is_missing_or_wrong(arguments: tuple[str, ...], says: str) -> None:
    assert says in refused("turns", *arguments)


@each_demo
def test_turns_fits_80_columns(path: Path) -> None:
    result = CliRunner().invoke(app, ["turns", "--case", str(path), "--hz", "14.4"], env={"COLUMNS": "80"})
    assert result.exit_code in (0, 1)
    assert fits(result.stdout)
    if result.exit_code == 1:
        assert "no speed is known" in result.stderr or "no tyre is known" in result.stderr


# --- demo


@each_demo
def test_demo_plays_every_case_in_80_columns(path: Path) -> None:
    text = ran("demo", path.stem).stdout
    assert fits(text)
    assert "(invented for practice)" in text
    assert "As the customer tells it" in text
    assert "Repair and proof" in text
    assert "a qualified person decides" in text


def test_demo_lists_every_case() -> None:
    text = ran("demo", "--list").stdout
    assert fits(text)
    assert all(path.stem in text for path in DEMOS)
    assert [one["name"] for one in data_of("demo", "--list")] == [*(path.stem for path in DEMOS), "road-test"]


def test_demo_without_a_name_plays_one() -> None:
    data = data_of("demo")
    assert list(data) == ["case", "invented", "stages", "outcome"]
    assert data["invented"] is True
    assert len(data["stages"]) >= 3


@pytest.mark.parametrize("name", ["nonsense", "../README", "", "motorway-tremor.yaml", "../cases/motorway-tremor"])
def test_an_unknown_demo_is_told_with_those_there_are(name: str) -> None:
    said = refused("demo", name)
    assert said.startswith(f"there is no invented case '{name}'")
    assert all(path.stem in said for path in DEMOS)


# --- rules


def test_rules_check_of_the_shipped_rules() -> None:
    data = data_of("rules", "check")
    assert list(data) == ["sound", "counts", "faults", "changes"]
    assert data["sound"] is True
    assert data["faults"] == []
    text = ran("rules", "check").stdout
    assert "Sound: ids, references, sums, examples and reachability hold." in text


def test_rules_check_of_broken_rules_names_each_fault(broken_rules: Path) -> None:
    text = ran("rules", "check", str(broken_rules), code=1).stdout
    path = broken_rules / "causes" / "loose-wheel.yaml"
    assert text.startswith(f"{path}:")
    assert f"1 fault in {broken_rules}" in text
    data = data_of("rules", "check", str(broken_rules), code=1)
    assert data["sound"] is False
    assert data["counts"] is None
    (fault,) = data["faults"]
    assert list(fault) == ["file", "line", "field", "message"]
    assert (fault["file"], fault["field"]) == (str(path), "base_rate")
    assert path.read_text(encoding="utf-8").splitlines()[fault["line"] - 1].startswith("base_rate: -")


def test_rules_check_accepts_and_then_names_what_changed(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(shipped_folder("rules"), folder)
    ran("rules", "check", str(folder), "--accept")
    assert "Nothing has changed since it was accepted." in ran("rules", "check", str(folder)).stdout
    path = folder / "steps" / "bay-wheels.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("minutes: 4", "minutes: 44", 1), encoding="utf-8")
    (change,) = data_of("rules", "check", str(folder))["changes"]
    assert list(change) == ["entry", "before", "after"]
    assert "44 min" in change["after"]
    assert "44 min" in ran("rules", "check", str(folder)).stdout


def test_rules_that_the_engine_cannot_carry_are_a_fault_and_no_crash(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(shipped_folder("rules"), folder)
    path = folder / "derive" / "place.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("when: [felt-strongest is steering-wheel]", "when: [places-felt is above 99999999999]", 1)
    )
    assert "too large" in ran("rules", "check", str(folder), code=1).stdout
    assert "too large" in refused("rank", CASE, "--rules", str(folder))


def test_rules_check_of_no_folder() -> None:
    assert "is not a folder" in refused("rules", "check", "nowhere")


def test_rules_score_has_the_keys_that_readme_promises() -> None:
    folder = str(shipped_folder("cases"))
    data = data_of("rules", "score", folder)
    figures = {
        *("count", "first", "first_three", "mean_reciprocal_rank", "brier", "calibration_error", "undecided"),
        *("calibration_error_by_chance", "right_decided", "right_undecided", "first_interval"),
        *("first_three_interval", "brier_interval", "calibration_error_interval"),
    }
    rest = {
        *("folder", "cases", "whole", "halves", "baseline_first", "baseline_first_three", "baseline_brier"),
        *("baseline_cause", "reliability", "by_cause"),
    }
    assert set(data) == figures | rest
    assert set(data["whole"]) == figures
    assert data["count"] == len(DEMOS)
    assert 0.0 <= data["first"] <= data["first_three"] <= 1.0
    assert "baseline" in ran("rules", "score", folder).stdout


def test_rules_score_sensitivity_names_the_numbers() -> None:
    folder = str(REAL)
    numbers = data_of("rules", "score", folder, "--sensitivity")["sensitivity"]
    keys = [*("cause", "sign", "word", "cases", "halved_changes", "halved_gains", "doubled_changes", "doubled_gains")]
    assert numbers
    assert all(list(one) == keys for one in numbers)
    text = ran("rules", "score", folder, "--sensitivity").stdout
    assert f"{numbers[0]['sign']} = {numbers[0]['word']} | {numbers[0]['cause']}" in text


def test_rules_score_tells_the_halves_of_the_real_cases_apart() -> None:
    data = data_of("rules", "score", str(REAL))
    assert data["count"] >= 200
    assert data["halves"]["study"]["count"] + data["halves"]["score"]["count"] == data["count"]
    text = ran("rules", "score", str(REAL)).stdout
    assert "half to study" in text
    assert "half only scored" in text
    assert "cannot tell yet" in text


def test_rules_shops_compares_the_shops() -> None:
    found = data_of("rules", "shops", "--cars", "12")
    assert len(found) == 2
    for trial in found.values():
        assert [one["shop"] for one in trial["shops"]] == [
            "this tool",
            "the usual order",
            "a good checklist",
            "by chance",
        ]
        assert all(one["cars"] == 12 for one in trial["shops"])
        assert trial["interview"]["interviews"] == 12
    text = ran("rules", "shops", "--cars", "12").stdout
    assert "not observed" in text
    assert refused("rules", "shops", "/nowhere/at/all", "--cars", "12")


def test_rules_score_needs_confirmed_cases(tmp_path: Path) -> None:
    assert "holds no case file" in refused("rules", "score", str(tmp_path))
    (tmp_path / "a.yaml").write_text("vibdiag_case: 1\nid: a\n")
    assert "no case has a confirmed cause" in refused("rules", "score", str(tmp_path))


# --- schema, help, version


def test_schema_is_a_schema() -> None:
    schema = json.loads(ran("schema").stdout)
    assert schema["title"] == "Case"
    assert schema["additionalProperties"] is False


def test_without_a_command_there_is_help() -> None:
    assert "Usage:" in ran().stdout
    assert ran("--version").stdout.startswith("vibdiag ")


def test_no_summary_of_a_command_is_cut() -> None:
    for arguments in (["--help"], ["store", "--help"], ["rules", "--help"]):
        assert "..." not in ran(*arguments).stdout.split("Commands:")[1]
        assert "…" not in ran(*arguments).stdout


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["rank", "--help"], ["rules", "check", "--help"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import sys\nfrom vibdiag.commands.main import run\n"
        f"sys.argv = ['vibdiag', *{arguments!r}]\n"
        "try:\n    run()\nexcept SystemExit as end:\n    assert not end.code\n"
        "print('LOADED', *sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.rsplit("LOADED", 1)[1].split())
    assert loaded & {"numpy", "yaml", "scipy", "textual", "durable_rules_engine"} == set()
    if arguments == ["--help"]:
        # Once a command or option is read, typer itself imports pydantic where it is installed.
        assert "pydantic" not in loaded


def test_the_installed_command_gives_the_same_exit_codes() -> None:
    for arguments, code in ((["--version"], 0), (["rank", "none.yaml"], 1), (["rank"], 2)):
        done = subprocess.run([sys.executable, "-m", "vibdiag", *arguments], capture_output=True, check=False)
        assert done.returncode == code, done.stderr
