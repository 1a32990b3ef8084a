"""The pictures as PNG, drawn from the SVG so that there is one drawing and not two.

resvg (optional, `vibdiag[png]`) draws it: one wheel for every system, without a graphics library to install beside it.
"""

from __future__ import annotations

import importlib

from vibdiag.files.errors import InputError

__all__ = ["as_png"]

_ZOOM = 2.0


def as_png(svg: str) -> bytes:
    """The bytes of a PNG at twice the SVG's size, on white. Raises InputError when the drawing library is missing."""
    try:
        library = importlib.import_module("resvg_py")
    except ImportError as error:
        raise InputError(
            "PNG needs one more part: pip install 'vibdiag[png]', or write --svg", field="--png"
        ) from error
    return bytes(library.svg_to_bytes(svg_string=svg, background="white", zoom=_ZOOM))
