"""Reports: what the case says is in them, escaped; the pictures are reproducible; Chromium prints them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, load_folder
from vibdiag.commands.report import KINDS, report_html
from vibdiag.files.shipped import shipped_folder
from vibdiag.report.content import gather
from vibdiag.report.plots import Line, bars_before_after, lines_over_stages

CASES = [case for _, case in load_folder(shipped_folder("cases"))]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="module")
def demo() -> Case:
    return load_case(shipped_folder("cases") / "motorway-tremor.yaml")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_every_report_of_every_demo_says_that_it_is_invented(case: Case, kind: str, adviser: Adviser) -> None:
    page = report_html(gather(case, adviser), kind, adviser)
    assert "nvented" in page
    assert "a qualified person decides" in page
    assert not re.search(r"(?:src|href)=", page)


def test_what_a_customer_writes_is_escaped(demo: Case, adviser: Adviser) -> None:
    words = "It shakes <script>alert(1)</script> & hums"
    case = demo.model_copy(update={"complaint": demo.complaint.model_copy(update={"words": words})})
    for kind in KINDS:
        page = report_html(gather(case, adviser), kind, adviser)
        assert "<script>" not in page
        assert "&lt;script&gt;" in page


def test_an_open_danger_stands_on_top_for_the_customer(demo: Case, adviser: Adviser) -> None:
    loose = load_case(shipped_folder("cases") / "school-run.yaml")
    opened = loose.model_copy(update={"steps": [], "outcome": None})
    page = report_html(gather(opened, adviser), "customer", adviser)
    assert page.index('class="danger"') < page.index("What you told us")
    closed = report_html(gather(demo, adviser), "customer", adviser)
    assert 'class="danger"' not in closed


def test_before_and_after_are_side_by_side_with_their_numbers(demo: Case, adviser: Adviser) -> None:
    page = report_html(gather(demo, adviser), "customer", adviser)
    for number in ("0.42", "0.09", "1.3", "0.5"):
        assert number in page


def test_the_worksheet_shows_a_caution_with_every_check(demo: Case, adviser: Adviser) -> None:
    told = demo.model_copy(update={"steps": [], "measurements": [], "outcome": None})
    content = gather(told, adviser)
    assert content.checks
    page = report_html(content, "technician", adviser)
    assert page.count('class="caution"') >= len(content.checks)


def test_the_record_tells_every_answer_with_who_and_source(demo: Case, adviser: Adviser) -> None:
    page = report_html(gather(demo, adviser), "file", adviser)
    for result in demo.steps:
        assert result.step in page
    assert "common practice" in page
    assert "road tester" in page


def test_pictures_are_well_formed_reproducible_and_name_every_line() -> None:
    lines = [Line(f"cause <{number}>", (0.1 * number, 0.5, 1.0 - 0.2 * number)) for number in range(4)]
    svg = lines_over_stages(lines, ["a", "b", "c"], title="over & time")
    assert svg == lines_over_stages(lines, ["a", "b", "c"], title="over & time")
    root = ElementTree.fromstring(svg)
    texts = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {line.name for line in lines} <= set(texts)
    heights = [
        float(element.attrib["y"])
        for element in root.iter("{http://www.w3.org/2000/svg}text")
        if element.text in {line.name for line in lines}
    ]
    assert min(heights) >= 0
    assert all(abs(a - b) >= 13 for a in heights for b in heights if a is not b and a != b)
    dashes = [element.attrib["stroke-dasharray"] for element in root.iter("{http://www.w3.org/2000/svg}polyline")]
    assert len(set(dashes)) == len(lines)


def test_bars_are_in_proportion() -> None:
    root = ElementTree.fromstring(bars_before_after([("level", 0.4, 0.1, "m/s2")], title="t"))
    widths = [float(element.attrib["width"]) for element in root.iter("{http://www.w3.org/2000/svg}rect")]
    assert widths[1] / widths[0] == pytest.approx(0.25, rel=0.01)


@pytest.mark.parametrize("kind", KINDS)
def test_chromium_prints_it(kind: str, demo: Case, adviser: Adviser, tmp_path: Path) -> None:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is needed for this test: apt-get install chromium")
        pytest.skip("no Chromium on this machine")
    page, pdf = tmp_path / "report.html", tmp_path / "report.pdf"
    page.write_text(report_html(gather(demo, adviser), kind, adviser), encoding="utf-8")
    flags = "--headless=new --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    flags += "--disable-component-update --disable-sync --no-pdf-header-footer"
    command = [CHROMIUM, *flags.split(), f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={pdf}"]
    subprocess.run([*command, page.as_uri()], check=True, capture_output=True, timeout=60)
    content = pdf.read_bytes()
    assert content.startswith(b"%PDF")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", content)) <= 8
