"""The arithmetic stands on the standard library alone, and hands on every public name."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import subprocess
import sys

import vibdiag.rotation


def test_importing_it_brings_nothing_heavy() -> None:
    script = "import sys, vibdiag.rotation; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    assert "vibdiag" in loaded
    assert not {"numpy", "scipy", "pydantic", "yaml", "textual"} & set(loaded)


def test_every_public_name_is_handed_on_and_documented() -> None:
    package = vibdiag.rotation
    handed_on = set(package.__all__)
    for module in pkgutil.iter_modules(package.__path__):
        names = importlib.import_module(f"{package.__name__}.{module.name}").__all__
        assert set(names) <= handed_on, module.name
    for name in handed_on:
        thing = getattr(package, name)
        if inspect.isfunction(thing) or inspect.isclass(thing):
            assert inspect.getdoc(thing), name
