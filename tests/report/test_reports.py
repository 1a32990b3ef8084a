"""Reports: what the case says is in them, escaped; the pictures are reproducible. How they print: test_printed.py."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.case.storage import load_case, load_folder
from vibdiag.commands.report import KINDS, report_html
from vibdiag.files.shipped import shipped_folder
from vibdiag.report.content import gather
from vibdiag.report.order_pairs import order_pairs
from vibdiag.report.plots import Line, bars_before_after, lines_over_stages

from .recorded import order, recorded

CASES = [case for _, case in load_folder(shipped_folder("cases"))]


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


def test_orders_before_and_after_stand_beside_each_other_with_their_intervals(demo: Case, adviser: Adviser) -> None:
    case = recorded(demo)
    first, second = order_pairs(case)
    assert (first.order, first.verdict, first.remark) == ("1x wheel", "less: 14% of what it was", "")
    assert (second.order, second.verdict) == ("2x wheel", "not found any more")
    for kind in ("customer", "file"):
        page = report_html(gather(case, adviser), kind, adviser)
        for number in ("0.145", "0.141 to 0.149", "0.02", "less: 14% of what it was", "not found any more"):
            assert number in page, number
        assert "1x wheel over speed" in page
    assert "over speed" not in report_html(gather(demo, adviser), "customer", adviser)


@pytest.mark.parametrize(
    ("amplitude", "low", "high", "verdict"),
    [
        (0.08, 0.07, 0.095, "no clear change"),
        (0.2, 0.19, 0.21, "more"),
        (0.05, 0.04, 0.06, "less: 50% of what it was"),
    ],
)
def test_only_intervals_that_part_show_a_change(
    demo: Case, amplitude: float, low: float, high: float, verdict: str
) -> None:
    before, after = order(0.1, low=0.09, high=0.11), order(amplitude, low=low, high=high)
    (pair,) = order_pairs(with_orders(demo, [before], [after]))
    assert pair.verdict == verdict


def test_what_must_not_be_compared_is_said(demo: Case) -> None:
    (pair,) = order_pairs(with_orders(demo, [order(0.1)], [order(0.02, kmh=80.0)]))
    assert "driven at 100 and 80 km/h" in pair.remark
    assert pair.verdict == "cannot be compared"
    (pair,) = order_pairs(with_orders(demo, [order(0.1)], [order(0.02)], sensor_place="floor"))
    assert pair.remark == "the sensor sat in another place: not comparable"
    (pair,) = order_pairs(with_orders(demo, [order(0.1)], None))
    assert (pair.after, pair.verdict) == (None, "not recorded again")
    (pair,) = order_pairs(with_orders(demo, [], [order(0.1)]))
    assert (pair.before, pair.verdict) == (None, "not found before")
    (pair,) = order_pairs(with_orders(demo, [order(0.1)], [order(0.09, axis="CH3")]))
    assert pair.verdict == "still found, on CH3: not compared"
    (pair,) = order_pairs(with_orders(demo, [order(0.09, axis="CH3")], [order(0.1)]))
    assert pair.verdict == "before found on CH3 only"
    assert order_pairs(demo) == ()


def test_an_order_in_a_unit_in_doubt_is_no_proof(demo: Case, adviser: Adviser) -> None:
    doubt = {"unit_doubt": "ax: neither a unit nor gravity shows what it is in; if it is g, say accel=g"}
    for after in ([order(0.02)], []):
        case = with_orders(demo, [order(0.145)], after, **doubt)
        (pair,) = order_pairs(case)
        assert (pair.verdict, pair.remark) == ("cannot be compared", "the unit of the recording after is in doubt")
        page = report_html(gather(case, adviser), "customer", adviser)
        assert "cannot be compared" in page
        assert "less: " not in page
        assert "over speed" not in page
    turned = order(0.145, unit="rad/s")
    (pair,) = order_pairs(with_orders(demo, [turned], [turned], **doubt))
    assert (pair.verdict, pair.remark) == ("no clear change", "")
    (pair,) = order_pairs(with_orders(demo, [turned], [turned], rotation_doubt="gx: if it is deg/s, say gyro=deg/s"))
    assert pair.verdict == "cannot be compared"


def with_orders(case: Case, before: list[Any], after: list[Any] | None, **more: Any) -> Case:
    sign = {"sign": "follows", "word": "wheel-1x", "trust": 0.9}
    sides = [("before", before, {}), *([] if after is None else [("after", after, more)])]
    attachments = [
        {"path": f"{side}.csv", "sensor_place": "seat-rail", "taken": side, "signs": [sign], "orders": orders} | extra
        for side, orders, extra in sides
    ]
    data = case.model_dump(mode="json", exclude_defaults=True)
    return Case.model_validate(data | {"attachments": attachments})
