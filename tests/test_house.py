"""The house keeps its word: what the documents promise exists, layers stay clean, nothing private is committed."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MODULES = sorted((ROOT / "vibdiag").rglob("*.py"))
LONGEST_MODULE = 400


def vibdiag(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "vibdiag", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=cwd)


def promised_commands() -> list[str]:
    """First column of README's table of commands: `vibdiag rank CASE...`."""
    return re.findall(r"^\| `vibdiag ([^`]+)` \|", README, flags=re.MULTILINE)


def name_of(command: str) -> list[str]:
    """The words before the first argument."""
    found = []
    for word in command.split():
        if not re.fullmatch(r"[a-z]+", word):
            break
        found.append(word)
    return found


def test_readme_has_its_table_of_commands() -> None:
    assert {"rank", "turns", "demo", "schema", "rules"} <= {command.split()[0] for command in promised_commands()}


@pytest.mark.parametrize("command", promised_commands())
def test_a_promised_command_exists_with_its_options(command: str) -> None:
    done = vibdiag(*name_of(command), "--help")
    assert done.returncode == 0, done.stderr
    row = next(line for line in README.splitlines() if line.startswith(f"| `vibdiag {command}`"))
    for option in re.findall(r"--[a-z-]+", row):
        assert option in done.stdout, f"{option} of `vibdiag {command}`"


def test_every_command_is_in_the_table() -> None:
    promised = {" ".join(name_of(command)) for command in promised_commands()}
    listed = vibdiag("--help").stdout.split("Commands:")[1]
    for name in re.findall(r"^  ([a-z]+)  ", listed, flags=re.MULTILINE):
        assert any(command == name or command.startswith(f"{name} ") for command in promised), name


def test_the_example_of_readme_can_be_ranked(tmp_path: Path) -> None:
    example = re.search(r"```yaml\n(.*?)```", README, flags=re.DOTALL)
    assert example is not None
    path = tmp_path / "my-first-case.yaml"
    path.write_text(example[1], encoding="utf-8")
    done = vibdiag("rank", path.name, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "my-first-case" in done.stdout
    assert "Causes, from" in done.stdout
    assert vibdiag("turns", "--case", path.name, cwd=tmp_path).returncode == 0


def test_the_example_with_turns_finds_the_wheel() -> None:
    """README: `vibdiag turns --tyre 225/45R17 --speed 100`, and `--hz 14.4` finds the part it fits."""
    done = vibdiag("turns", "--tyre", "225/45R17", "--speed", "100", "--hz", "14.4")
    assert done.returncode == 0
    assert re.search(r"14\.4 .*Hz fits:\n  1x wheel", done.stdout), done.stdout


def test_what_the_documents_point_at_exists() -> None:
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), target
    for target in re.findall(r"`((?:rules|tests|scripts|cases)/[\w./-]*)`", README + DEVELOPERS):
        assert (ROOT / target).exists(), target
    for name in re.findall(r"`((?:advice|reasoning|knowledge|case|files)/\w+\.py)`", DEVELOPERS):
        assert (ROOT / "vibdiag" / name).exists(), name
    block = re.search(r"## The house\n\n((?: {4}.*\n)+)", DEVELOPERS)
    assert block is not None
    for folder in re.findall(r"^ {6}(\w+)/", block[1], flags=re.MULTILINE):
        assert (ROOT / "vibdiag" / folder).is_dir(), folder


def loaded_by(module: str) -> set[str]:
    code = f"import sys, {module}; print(*sorted({{name.split('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    ("module", "never"),
    [
        ("vibdiag", {"numpy", "pydantic", "yaml", "typer", "textual", "durable_rules_engine"}),
        ("vibdiag.units", {"numpy", "pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.rotation", {"numpy", "scipy", "pydantic", "yaml", "typer", "textual", "durable_rules_engine"}),
        ("vibdiag.reasoning.engine", {"pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.reasoning.belief", {"pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.reasoning.weight", {"pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.reasoning.inquiry", {"pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.reasoning.surprise", {"pydantic", "yaml", "typer", "textual"}),
        ("vibdiag.reasoning.chainer", {"pydantic", "yaml", "typer", "textual", "numpy", "durable_rules_engine"}),
        ("vibdiag.files.strict_yaml", {"pydantic", "typer", "textual", "numpy"}),
        ("vibdiag.case.storage", {"typer", "textual", "numpy", "durable_rules_engine"}),
        ("vibdiag.advice.assess", {"typer", "textual", "scipy"}),
    ],
)
def test_a_bare_import_pulls_in_nothing_from_above(module: str, never: set[str]) -> None:
    assert loaded_by(module).isdisjoint(never)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_module_says_what_it_is_and_what_it_hands_out(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_MODULE
    tree = ast.parse(text)
    assert ast.get_docstring(tree)
    assigned = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }
    defined = any(isinstance(node, ast.FunctionDef | ast.ClassDef) for node in tree.body)
    assert "__all__" in assigned or not defined


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_a_module_hands_out_is_there(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names: set[str] = set()
    listed: list[str] = []
    for node in tree.body:
        if isinstance(node, ast.Assign) and any(getattr(t, "id", "") == "__all__" for t in node.targets):
            listed = ast.literal_eval(node.value)
        if isinstance(node, ast.Assign):
            names |= {t.id for t in node.targets if isinstance(t, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.add(node.target.id)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.ImportFrom | ast.Import):
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.If | ast.Try):
            names |= {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
    assert set(listed) <= names
    assert len(listed) == len(set(listed))


# Put together here so that this file does not find itself.
FORBIDDEN = {
    "a path of one machine": re.compile(r"(?<![\w./:-])/(?:" + "work|tmp|root|home" + r")/"),
    "where the text came from": re.compile("trans" + "cript|seed" + " document", re.IGNORECASE),
    "who wrote it": re.compile(r"\b(?:" + "chat" + "bot|LL" + r"Ms?)\b"),
    "a placeholder": re.compile(r"\b(?:" + "TO" + "DO|FIX" + "ME|XX" + "X|SCORE-" + r"TABLE)\b"),
}


def committed() -> list[Path]:
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("no git checkout")
    done = subprocess.run(["git", "ls-files", "-z"], capture_output=True, text=True, check=True, cwd=ROOT)
    return [ROOT / name for name in done.stdout.split("\0") if name]


@pytest.mark.parametrize("what", FORBIDDEN)
def test_nothing_is_committed_that_does_not_belong(what: str) -> None:
    found = []
    for path in committed():
        try:
            text = path.read_text(encoding="utf-8")
        except (UnicodeDecodeError, FileNotFoundError):
            continue
        found += [
            f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
            for number, line in enumerate(text.splitlines(), 1)
            if FORBIDDEN[what].search(line)
        ]
    assert found == []
