"""Templates made ready once: everything is escaped, nothing is loaded from outside."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

__all__ = ["render"]


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("vibdiag.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(template: str, **values: Any) -> str:
    """The template `<template>.html` with `values`; raises jinja2.UndefinedError for a value that is missing."""
    return _environment().get_template(f"{template}.html").render(**values)
