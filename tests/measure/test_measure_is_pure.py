"""The arithmetic brings in numpy, rotation and units only; scipy not before tyres are paired."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import subprocess
import sys

import vibdiag.measure


def test_importing_it_brings_nothing_heavy() -> None:
    script = "import sys, vibdiag.measure; print(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    roots = {name.split(".")[0] for name in loaded}
    assert "numpy" in roots
    assert not {"scipy", "pydantic", "yaml", "textual", "typer"} & roots
    own = {".".join(name.split(".")[:2]) for name in loaded if name.startswith("vibdiag")}
    assert own == {"vibdiag", "vibdiag.measure", "vibdiag.rotation", "vibdiag.units"}


def test_every_public_name_is_handed_on_and_documented() -> None:
    package = vibdiag.measure
    handed_on = set(package.__all__)
    for module in pkgutil.iter_modules(package.__path__):
        names = importlib.import_module(f"{package.__name__}.{module.name}").__all__
        assert set(names) <= handed_on, module.name
    for name in handed_on:
        thing = getattr(package, name)
        if inspect.isfunction(thing) or inspect.isclass(thing):
            assert inspect.getdoc(thing), name
