"""The polar picture of a round: dots where the readings lie, the curve through them, the high point named."""

from __future__ import annotations

import math
import re
from typing import Any
from xml.etree import ElementTree

import pytest

from vibdiag.advice.assess import Adviser
from vibdiag.case.model import Case
from vibdiag.commands.report import report_html
from vibdiag.measure import Turning
from vibdiag.report.content import gather
from vibdiag.report.plots import polar_plot

SVG = "{http://www.w3.org/2000/svg}"
ANGLES = [30.0 * place for place in range(12)]


def eccentric(amount: float, high_deg: float) -> list[float]:
    return [amount * math.cos(math.radians(angle - high_deg)) for angle in ANGLES]


def drawn(amount: float = 0.3, high_deg: float = 90.0, *, turning: Turning = "clockwise", curve: bool = True) -> str:
    turn = math.radians(high_deg)
    fit = [0.0, amount * math.cos(turn), amount * math.sin(turn)] if curve else []
    values = eccentric(amount, high_deg)
    return polar_plot(ANGLES, values, coefficients=fit, unit="mm", turning=turning, title="tread <radial> & more")


def dots(svg: str) -> list[tuple[float, float]]:
    found = ElementTree.fromstring(svg).iter(f"{SVG}circle")
    return [(float(e.attrib["cx"]), float(e.attrib["cy"])) for e in found if e.attrib.get("class") == "reading"]


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_it_is_well_formed_reproducible_and_escaped() -> None:
    assert drawn() == drawn()
    title = ElementTree.fromstring(drawn()).find(f"{SVG}title")
    assert title is not None
    assert title.text == "tread <radial> & more"


@pytest.mark.parametrize(("turning", "side"), [("clockwise", 1), ("counter-clockwise", -1)])
def test_every_reading_is_a_dot_at_its_angle_as_the_part_turns(turning: Turning, side: int) -> None:
    svg = drawn(turning=turning)
    ring = next(e for e in ElementTree.fromstring(svg).iter(f"{SVG}circle") if "class" not in e.attrib)
    cx, cy, mean = (float(ring.attrib[name]) for name in ("cx", "cy", "r"))
    for angle, value, (x, y) in zip(ANGLES, eccentric(0.3, 90.0), dots(svg), strict=True):
        assert (
            math.degrees(math.atan2(side * (x - cx), cy - y)) % 360.0 == pytest.approx(angle, abs=0.2) or angle == 0.0
        )
        # The stretch is one and the same all round: the distance from the ring is in proportion to the reading.
        assert math.hypot(x - cx, y - cy) - mean == pytest.approx(value / 0.3 * 34.0, abs=0.2)


@pytest.mark.parametrize(
    ("turning", "high", "named"),
    [("clockwise", 90.0, "3 o'clock"), ("counter-clockwise", 90.0, "9 o'clock"), ("clockwise", 240.0, "8 o'clock")],
)
def test_the_high_point_is_marked_and_named(turning: Turning, high: float, named: str) -> None:
    svg = drawn(high_deg=high, turning=turning)
    assert f"triangle: high point, {named}" in texts(svg)
    assert f"({high:.0f} degrees)" in texts(svg)
    assert "farthest from it: 0.3 mm" in texts(svg)
    mark = re.search(r'class="high" d="M([\d.]+) ([\d.]+)', svg)
    assert mark is not None
    outermost = max(dots(svg), key=lambda dot: math.hypot(dot[0] - 130, dot[1] - 130))
    assert math.dist((float(mark[1]), float(mark[2])), outermost) < 20.0


def test_the_curve_goes_through_the_readings_of_a_round_part() -> None:
    polygon = ElementTree.fromstring(drawn()).find(f"{SVG}polygon")
    assert polygon is not None
    points = [tuple(map(float, pair.split(","))) for pair in polygon.attrib["points"].split()]
    for dot in dots(drawn()):
        assert min(math.dist(dot, point) for point in points) < 1.0


def test_no_curve_and_no_high_point_where_nothing_may_rest_on_it() -> None:
    svg = drawn(curve=False)
    assert "polygon" not in svg
    assert "high point" not in svg
    assert "no curve: nothing may rest on it" in texts(svg)
    assert len(dots(svg)) == 12


def test_a_part_that_is_perfectly_round_can_be_drawn() -> None:
    svg = polar_plot(ANGLES, [0.0] * 12, coefficients=[0.0, 0.0, 0.0], unit="N", title="round")
    assert len(dots(svg)) == 12
    assert "triangle" not in svg


def test_numbers_that_do_not_agree_are_refused() -> None:
    with pytest.raises(ValueError, match="2 readings at 1 angles"):
        polar_plot([0.0], [1.0, 2.0], unit="mm", title="t")


def test_the_record_has_every_round_with_its_numbers_and_its_picture(adviser: Adviser) -> None:
    values = [round(each, 2) for each in eccentric(1.2, 60.0)]
    rounds: list[dict[str, Any]] = [
        {"what": "tread-radial", "wheel": "front-right", "values": values, "note": "cold <tyre>", "by": "A. Tester"},
        {"what": "hub-face", "wheel": "front-right", "values": [0.0, 0.01, 0.0, 0.01], "taken": "after"},
    ]
    case = Case.model_validate({"vibdiag_case": 1, "id": "case", "readings": rounds})
    page = report_html(gather(case, adviser), "file", adviser)
    assert "Rounds of readings" in page
    assert page.count('class="reading"') == 16
    assert "<b>over</b>" in page
    assert "<b>cannot tell</b>" in page
    assert "high point near 2 o&#39;clock" in page
    assert "common practice" in page
    assert "cold &lt;tyre&gt;" in page
    for value in values:
        assert f">{value:.3f}<" in page
    assert "Rounds of readings" not in report_html(gather(case, adviser), "customer", adviser)
