"""A Chromium without a window for the reports: looks at a page, photographs parts of it, prints it on real paper."""

from __future__ import annotations

import base64
import importlib
import os
import re
import shutil
import struct
import subprocess
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

__all__ = ["PAPERS", "Chromium", "Pixels", "Printed", "needed", "pixels"]

Pixels = npt.NDArray[np.uint8]

# Width and height in points (1/72 inch): ISO 216 A4 is 210 x 297 mm, ANSI/ASME Y14.1 A (Letter) 8.5 x 11 inch.
PAPERS = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
_FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--force-device-scale-factor=1",
    "--window-size=820,1100",
)


def needed(*programs: str) -> list[str]:
    """Where these programs are; the test is skipped without one, and fails where the environment says CI."""
    found = []
    for program in programs:
        path = shutil.which(program)
        if path is None:
            if os.environ.get("CI"):
                pytest.fail(f"{program} is needed for this test; .ci/run installs it")
            pytest.skip(f"no {program} on this machine")
        found.append(path)
    return found


@dataclass(frozen=True)
class Word:
    """One word on paper: its box in points from the upper left corner."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class Printed:
    """A page as poppler reads it back: sizes of the sheets, and the words on each."""

    sheets: tuple[tuple[float, float], ...]
    words: tuple[tuple[Word, ...], ...]

    @property
    def text(self) -> str:
        return " ".join(word.text for sheet in self.words for word in sheet)


class Chromium:
    """One browser for many pages."""

    def __init__(self, profile: Path) -> None:
        program, driver = needed("chromium", "chromedriver")
        webdriver = importlib.import_module("selenium.webdriver")
        options = webdriver.ChromeOptions()
        options.binary_location = program
        for flag in (*_FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        self.driver: Any = webdriver.Chrome(options=options, service=webdriver.ChromeService(executable_path=driver))

    def close(self) -> None:
        self.driver.quit()

    def open(self, page: str, folder: Path) -> None:
        """Show a page; it is self-contained, so a file of its own is enough."""
        path = folder / "page.html"
        path.write_text(page, encoding="utf-8")
        self.driver.get(path.as_uri())

    def ask(self, script: str) -> Any:
        return self.driver.execute_script(f"return {script}")

    def photograph(self, place: int) -> Pixels:
        """The drawing number `place` of the page as it is painted: rows x columns x red, green, blue."""
        element = self.driver.find_elements("css selector", "svg")[place]
        return pixels(base64.b64decode(element.screenshot_as_base64))

    def print(self, paper: str, folder: Path) -> Printed:
        """On that paper, with the margins the page itself asks for."""
        width, height = PAPERS[paper]
        told = self.driver.execute_cdp_cmd(
            "Page.printToPDF", {"paperWidth": width / 72, "paperHeight": height / 72, "printBackground": True}
        )
        pdf = folder / f"{paper}.pdf"
        pdf.write_bytes(base64.b64decode(told["data"]))
        return read_back(pdf)


def read_back(pdf: Path) -> Printed:
    """What poppler's pdftotext finds on each sheet, and where."""
    (program,) = needed("pdftotext")
    done = subprocess.run([program, "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True)
    sheets, words = [], []
    for sheet in re.findall(r"<page .*?</page>", done.stdout, flags=re.DOTALL):
        size = re.search(r'width="([\d.]+)" height="([\d.]+)"', sheet)
        assert size is not None
        sheets.append((float(size[1]), float(size[2])))
        box = r'<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">(.*?)</word>'
        words.append(
            tuple(
                Word(text, float(left), float(top), float(right), float(bottom))
                for left, top, right, bottom, text in re.findall(box, sheet)
            )
        )
    return Printed(tuple(sheets), tuple(words))


def pixels(png: bytes) -> Pixels:
    """A PNG of 8 bits a channel, not interlaced, as Chromium writes it (W3C, Portable Network Graphics, 3rd ed.)."""
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    place, data, width, height, channels = 8, b"", 0, 0, 0
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        kind, body = png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        if kind == b"IHDR":
            width, height, depth, colours, _, _, interlaced = struct.unpack(">IIBBBBB", body)
            assert (depth, interlaced) == (8, 0)
            channels = {2: 3, 6: 4}[colours]
        elif kind == b"IDAT":
            data += body
        place += 12 + length
    raw = np.frombuffer(zlib.decompress(data), np.uint8).reshape(height, 1 + width * channels)
    rows = np.zeros((height, width * channels), np.uint8)
    above = np.zeros(width * channels, np.uint8)
    for number in range(height):
        above = rows[number] = _unfiltered(int(raw[number, 0]), raw[number, 1:], above, channels)
    return rows.reshape(height, width, channels)[:, :, :3]


def _unfiltered(
    kind: int, line: npt.NDArray[np.uint8], above: npt.NDArray[np.uint8], step: int
) -> npt.NDArray[np.uint8]:
    if kind == 0:
        return line
    if kind == 2:
        return line + above
    found = line.astype(int)
    for place in range(found.size):
        left = int(found[place - step]) if place >= step else 0
        corner = int(above[place - step]) if place >= step else 0
        up = int(above[place])
        if kind == 1:
            guess = left
        elif kind == 3:
            guess = (left + up) // 2
        else:
            near = left + up - corner
            guess = min((abs(near - left), 0, left), (abs(near - up), 1, up), (abs(near - corner), 2, corner))[2]
        found[place] = (found[place] + guess) % 256
    return found.astype(np.uint8)
