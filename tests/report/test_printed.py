"""The reports in a real browser: every picture is painted whole, and on A4 and Letter nothing is cut off."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.advice.script import write_script
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case
from vibdiag.commands.report import KINDS, report_html
from vibdiag.files.shipped import shipped_folder
from vibdiag.report.content import gather
from vibdiag.report.pages import render

from .chromium import PAPERS, Chromium, Pixels, pixels
from .recorded import recorded

# Millimetres that the page asks for beside, above and below (base.html), in points.
_BESIDE, _POINTS = 14 * 72 / 25.4, 72 / 25.4


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    chromium = Chromium(tmp_path_factory.mktemp("chromium"))
    yield chromium
    chromium.close()


@pytest.fixture(scope="module")
def case() -> Case:
    """An invented case with everything a report can show: readings, rounds, repairs, recordings on both sides."""
    return recorded(load_case(shipped_folder("cases") / "motorway-tremor.yaml"))


@pytest.fixture(scope="module")
def pages(case: Case, adviser: Adviser) -> dict[str, str]:
    found = {kind: report_html(gather(case, adviser), kind, adviser) for kind in KINDS}
    found["script"] = render("script", title="The car shakes: what to ask", script=write_script(adviser))
    return found


def ink(picture: Pixels) -> npt.NDArray[np.bool_]:
    """Where something is painted: clearly darker than paper."""
    return np.asarray(picture.max(axis=2) < 235)


@pytest.mark.parametrize("kind", ["customer", "file"])
def test_every_picture_is_painted_whole(browser: Chromium, pages: dict[str, str], kind: str, tmp_path: Path) -> None:
    """Neither blank nor cut off: something stands in every part of it, and nothing runs over its edge."""
    browser.open(pages[kind], tmp_path)
    drawings = browser.ask(
        "[...document.querySelectorAll('svg')].map(svg => {"
        " const box = svg.viewBox.baseVal; const all = svg.getBBox();"
        " return {title: svg.querySelector('title').textContent, width: box.width, height: box.height,"
        "  left: all.x, top: all.y, right: all.x + all.width, bottom: all.y + all.height} })"
    )
    assert len(drawings) >= (3 if kind == "customer" else 5)
    for place, drawing in enumerate(drawings):
        told = f"{drawing['title']}: {drawing}"
        assert drawing["left"] >= -1, told
        assert drawing["top"] >= -1, told
        assert drawing["right"] <= drawing["width"] + 1, told
        assert drawing["bottom"] <= drawing["height"] + 1, told
        painted = ink(browser.photograph(place))
        assert painted.shape[1] > 200, told
        assert 0.003 < painted.mean() < 0.6, told
        thirds = np.array_split(painted, 3, axis=1)
        assert all(third.any() for third in thirds[:2]), f"a part is blank: {told}"
        # What is painted at the very edge goes on behind it.
        assert not painted[:, -1].any(), told
        assert painted[0].mean() < 0.9, told


def test_a_picture_that_is_blank_or_cut_off_would_be_seen(browser: Chromium, tmp_path: Path) -> None:
    """The test above can fail: on an empty drawing, and on one whose text runs over the edge."""
    frame = '<svg viewBox="0 0 300 60" width="300" height="60"><title>t</title>{}</svg>'
    long = f'<text x="200" y="30" font-size="20">{"runs over the edge" * 3}</text>'
    browser.open(frame.format("") + frame.format(long), tmp_path)
    assert not ink(browser.photograph(0)).any()
    assert browser.ask("document.querySelectorAll('svg')[1].getBBox().width") > 300
    assert ink(browser.photograph(1))[:, -1].any()


def test_the_bars_of_the_orders_are_as_long_as_their_numbers(
    browser: Chromium, pages: dict[str, str], case: Case, tmp_path: Path
) -> None:
    browser.open(pages["customer"], tmp_path)
    lengths = {
        side: browser.ask(f"document.querySelector('svg rect.{side}').getBoundingClientRect().width")
        for side in ("before", "after")
    }
    before, after = (next(one for one in case.attachments if one.taken == side).orders[0] for side in lengths)
    assert lengths["after"] / lengths["before"] == pytest.approx(after.amplitude / before.amplitude, rel=0.03)


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("kind", [*KINDS, "script"])
def test_nothing_is_cut_off_on_paper(
    browser: Chromium, pages: dict[str, str], kind: str, paper: str, tmp_path: Path
) -> None:
    browser.open(pages[kind], tmp_path)
    on_screen = browser.ask("document.body.innerText")
    printed = browser.print(paper, tmp_path)
    most = {"customer": 4, "technician": 5, "file": 9, "script": 2}[kind]
    assert 1 <= len(printed.sheets) <= most, f"{len(printed.sheets)} sheets"
    for (width, height), words in zip(printed.sheets, printed.words, strict=True):
        assert (width, height) == pytest.approx(PAPERS[paper], abs=1.0)
        assert words, "an empty sheet"
        for word in words:
            assert word.left >= _BESIDE - 1, word
            assert word.right <= width - _BESIDE + 1, word
            assert word.top >= 10 * _POINTS, word
            assert word.bottom <= height - 10 * _POINTS, word
    # Every word of the page is on the paper; how lines are broken does not matter.
    there = squeezed(html.unescape(printed.text))
    lost = [word for word in set(on_screen.split()) if squeezed(word) not in there]
    assert lost == []


def squeezed(text: str) -> str:
    """Letters and digits alone: hyphens, ligatures and tick boxes come back from a PDF in many ways."""
    return re.sub(r"[\W_]+", "", text.replace("ﬁ", "fi").replace("ﬂ", "fl"))


@pytest.mark.parametrize("paper", list(PAPERS))
def test_a_picture_and_its_heading_stay_on_one_sheet(
    browser: Chromium, pages: dict[str, str], paper: str, tmp_path: Path
) -> None:
    """The legend of a drawing and the table below it are on the sheet of their heading."""
    browser.open(pages["file"], tmp_path)
    printed = browser.print(paper, tmp_path)
    sheets_of = {
        text: {number for number, words in enumerate(printed.words) if any(word.text == text for word in words)}
        for text in ("dots:", "triangle:", "zero", "km/h")
    }
    assert sheets_of["dots:"] & sheets_of["triangle:"]
    assert sheets_of["zero"] & sheets_of["km/h"]


@pytest.mark.parametrize("paper", list(PAPERS))
def test_what_is_cut_off_on_paper_would_be_seen(browser: Chromium, paper: str, tmp_path: Path) -> None:
    """The test above can fail: on words that hang over the edge of the sheet, and on words that are hidden."""
    browser.open('<p style="position: absolute; left: -20mm">over the edge</p>', tmp_path)
    words = browser.print(paper, tmp_path).words[0]
    assert not words or any(word.left < _BESIDE - 1 for word in words)
    browser.open('<p style="height: 1em; overflow: hidden">seen<br>hidden</p>', tmp_path)
    assert "hidden" in browser.ask("document.body.innerText")
    assert "hidden" not in browser.print(paper, tmp_path).text


def test_the_reader_of_photographs_reads_every_kind_of_line() -> None:
    """A picture of 2 x 5 pixels whose lines use each of the five filters (PNG, clause 9.2)."""
    import struct
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    # Every pixel is to be (10, 20, 30), then (40, 50, 60).
    lines = [
        bytes([0, 10, 20, 30, 40, 50, 60]),
        bytes([1, 10, 20, 30, 30, 30, 30]),
        bytes([2, 0, 0, 0, 0, 0, 0]),
        bytes([3, 5, 10, 15, 15, 15, 15]),
        bytes([4, 0, 0, 0, 0, 0, 0]),
    ]
    head = struct.pack(">IIBBBBB", 2, 5, 8, 2, 0, 0, 0)
    png = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"".join(lines)))
        + chunk(b"IEND", b"")
    )
    assert pixels(png).tolist() == [[[10, 20, 30], [40, 50, 60]]] * 5
