"""Markings as people write them, and what is said about those that cannot be."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from vibdiag.rotation import Tyre, TyreMarkingError, load_capacity_kg, parse_tyre, speed_limit_kmh
from vibdiag.rotation.tyre.ratings import HIGHEST_LOAD_INDEX, LOWEST_LOAD_INDEX
from vibdiag.units import to_grams

# marking, width mm, aspect %, rim in, construction, service, load index, dual, speed symbol, extra load
AS_WRITTEN = [
    ("225/45R17", 225, 45, 17, "radial", "", None, None, None, False),
    ("225/45R17 91W", 225, 45, 17, "radial", "", 91, None, "W", False),
    ("225/45 r 17 91 w", 225, 45, 17, "radial", "", 91, None, "W", False),
    ("225/45R17W", 225, 45, 17, "radial", "", None, None, "W", False),
    ("225/45 ZR 17", 225, 45, 17, "radial", "", None, None, None, False),
    ("255/40ZR20 (101Y) XL", 255, 40, 20, "radial", "", 101, None, "Y", True),
    ("225/45R17 94V EXTRA LOAD", 225, 45, 17, "radial", "", 94, None, "V", True),
    ("205/55RF16 91V", 205, 55, 16, "radial", "", 91, None, "V", False),
    ("195/65R15 RF", 195, 65, 15, "radial", "", None, None, None, True),
    ("P215/65R15 95T", 215, 65, 15, "radial", "P", 95, None, "T", False),
    ("p 215 / 65 r 15", 215, 65, 15, "radial", "P", None, None, None, False),
    ("LT265/75R16 121/118S", 265, 75, 16, "radial", "LT", 121, 118, "S", False),
    ("LT265/75R16E", 265, 75, 16, "radial", "LT", None, None, None, False),
    ("265/75R16 LOAD RANGE E M+S", 265, 75, 16, "radial", "", None, None, None, False),
    ("205/65R16C 107/105T 8PR", 205, 65, 16, "radial", "C", 107, 105, "T", False),
    ("225/75R16CP 118R", 225, 75, 16, "radial", "CP", 118, None, "R", False),
    ("ST205/75R15", 205, 75, 15, "radial", "ST", None, None, None, False),
    ("T125/80D15 95M", 125, 80, 15, "diagonal", "T", 95, None, "M", False),
    ("205/55-16", 205, 55, 16, "unstated", "", None, None, None, False),
    ("205/60HR15", 205, 60, 15, "radial", "", None, None, "H", False),
    ("225 45 17", 225, 45, 17, "radial", "", None, None, None, False),
    ("225-45-17", 225, 45, 17, "unstated", "", None, None, None, False),
    ("225/45/17", 225, 45, 17, "radial", "", None, None, None, False),
    ("2254517", 225, 45, 17, "radial", "", None, None, None, False),
    ("215/60B14", 215, 60, 14, "bias-belted", "", None, None, None, False),
    ("180/65R390", 180, 65, 390 / 25.4, "radial", "", None, None, None, False),
    ("185R14C 102/100Q", 185, 80, 14, "radial", "C", 102, 100, "Q", False),
    ("185-14 82S", 185, 80, 14, "diagonal", "", 82, None, "S", False),
    ("11R22.5 148/145L", 279.4, 86, 22.5, "radial", "", 148, 145, "L", False),
    ("7.00-15", 177.8, 100, 15, "diagonal", "", None, None, None, False),
    ("315/80R22.5 156/150L", 315, 80, 22.5, "radial", "", 156, 150, "L", False),
    ("315/80R22.5 154/150M (156/150L)", 315, 80, 22.5, "radial", "", 154, 150, "M", False),
]


@pytest.mark.parametrize("row", AS_WRITTEN, ids=lambda row: row[0])
def test_markings_as_people_write_them(row: tuple[object, ...]) -> None:
    tyre = parse_tyre(str(row[0]))
    found = (
        pytest.approx(tyre.width_mm),
        pytest.approx(tyre.aspect_percent),
        pytest.approx(tyre.rim_in),
        tyre.construction,
        tyre.service,
        tyre.load_index,
        tyre.dual_load_index,
        tyre.speed_symbol,
        tyre.extra_load,
    )
    assert found == row[1:]


@pytest.mark.parametrize(
    "marking",
    ["31x10.50R15LT", "31X10,50 R15 LT", "31×10.50R15LT", "31/10.50R15LT", "lt31x10.50r15", "31x10.50-15"],
)
def test_flotation_sizes_name_their_diameter(marking: str) -> None:
    tyre = parse_tyre(marking)
    assert tyre.free_diameter_mm == pytest.approx(31 * 25.4)
    assert tyre.width_mm == pytest.approx(10.5 * 25.4)
    assert tyre.rim_in == 15


@pytest.mark.parametrize(
    ("marking", "diameter_mm"),
    # UN R30 and R54 Annex 5, from memory; the assumed aspect ratio must reach them within its own spread.
    [
        ("185R14", 650),
        ("175R14", 634),
        ("11R22.5", 1050),
        ("12R22.5", 1084),
        ("9.5R17.5", 842),
        ("7.50R16", 802),
        ("7.00R16", 784),
        ("5.60-15", 656),
        ("6.40-15", 690),
    ],
)
def test_an_assumed_aspect_ratio_reaches_the_tabled_diameter(marking: str, diameter_mm: float) -> None:
    tyre = parse_tyre(marking)
    assert tyre.aspect_is_assumed
    spread = 2 * tyre.width_mm * tyre.aspect_spread_percent / 100
    assert abs(tyre.free_diameter_mm - diameter_mm) <= spread


@pytest.mark.parametrize(
    ("marking", "says"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("summer tyres", "no number"),
        ("2250/45R17", "width of 2250 mm.*80 to 455"),
        ("22/45R17", "width of 22 mm"),
        ("2.25/45R17", "width of 2.25 .*7.00-15"),
        ("225/450R17", "aspect ratio of 450 %.*20 to 105"),
        ("225/4R17", "aspect ratio of 4 %"),
        ("225/45R71", "rim diameter of 71.*8 to 30 inches"),
        ("225/45R170", "rim diameter of 170"),
        ("225/45R17.3", "rim diameter of 17.3"),
        ("225/45K17", "'K' before the rim.*R or ZR is radial"),
        ("225/45QQ17", "'QQ' before the rim"),
        ("31x30.5R15", "width of 31 mm"),
        ("31x10.50R30", "does not fit a rim of 30"),
        ("225/45R17 910W", "load index of 910.*50 to 170"),
        ("225/45R17 91O", "letter O or I"),
        ("225/45R17 91X", "'X' in '91X' is not a speed symbol"),
        ("225/45R17 blue", "'BLUE' behind the rim"),
        ("2O5/55R16", "letter O or I"),
        ("225/45", "cannot be read"),
        ("17", "cannot be read"),
        ("225/45R17 " * 20, "one short line"),
    ],
)
def test_an_impossible_marking_gets_one_sentence_naming_the_part(marking: str, says: str) -> None:
    with pytest.raises(TyreMarkingError) as caught:
        parse_tyre(marking)
    message = str(caught.value)
    assert re.search(says, message)
    assert message.endswith(".")
    assert "\n" not in message


@given(st.text(max_size=100) | st.text("0123456789/xXRrZDB-., LTPCST×", max_size=24))
@example("0/0R0")
@example("00/00-00")
@example("31x0R15")
@example("7/00R15")
@example("²²⁵/45R17")
@example("٢٢٥/45R17")
@example("9" * 79)
@example("R")
def test_any_text_is_a_tyre_or_a_marking_error(text: str) -> None:
    try:
        tyre = parse_tyre(text)
    except TyreMarkingError:
        return
    assert 200 < tyre.free_diameter_mm < 1700
    assert parse_tyre(tyre.marking) == tyre


@st.composite
def written(draw: st.DrawFn) -> str:
    """A possible marking."""
    size = draw(
        st.sampled_from(["{w}/{a}{c}{r}", "P{w}/{a}{c}{r}", "LT{w}/{a}{c}{r}", "T{w}/{a}D{r}", "{w}R{r}C", "{i}-{r}"])
        | st.sampled_from(["{w}/{a}R{r}C", "{d}x{f}R15LT", "{d}x{f}-15", "{h}R22.5", "{w}/{a}R{r}LT"])
    ).format(
        w=draw(st.integers(25, 80)) * 5,
        a=draw(st.integers(25, 90)),
        c=draw(st.sampled_from(["R", "ZR", "-", "B", "HR", " R ", "/"])),
        r=draw(st.sampled_from([13, 14, 15, 16, 16.5, 17, 17.5, 18, 19, 20, 21, 22, 22.5, 390])),
        i=draw(st.sampled_from(["5.60", "6.00", "7.00", "7,50"])),
        d=draw(st.integers(28, 35)),
        f=draw(st.sampled_from(["9.50", "10.50", "11,5", "12.5"])),
        h=draw(st.integers(9, 13)),
    )
    index = draw(st.none() | st.integers(LOWEST_LOAD_INDEX, HIGHEST_LOAD_INDEX))
    dual = draw(st.none() | st.integers(LOWEST_LOAD_INDEX, HIGHEST_LOAD_INDEX))
    symbol = draw(st.sampled_from(["", "A8", "J", "M", "Q", "S", "T", "H", "V", "W", "Y"]))
    description = "" if index is None else f" {index}" + ("" if dual is None else f"/{dual}") + symbol
    return size + description + draw(st.sampled_from(["", " XL", " extra load", " M+S TL", " 8PR"]))


@given(written())
def test_the_formatted_marking_parses_back(text: str) -> None:
    tyre = parse_tyre(text)
    assert parse_tyre(tyre.marking) == tyre
    assert parse_tyre(tyre.marking).marking == tyre.marking
    assert parse_tyre(text.lower()) == parse_tyre(f"  {text} ") == tyre


def test_ratings_follow_the_marking() -> None:
    tyre = parse_tyre("225/45R17 91W")
    assert (tyre.load_capacity_kg, tyre.speed_limit_kmh) == (615, 270)
    bare = parse_tyre("225/45R17")
    assert (bare.load_capacity_kg, bare.speed_limit_kmh) == (None, None)


def test_the_load_table_keeps_its_law() -> None:
    """The loads are preferred numbers, eighty to a factor of ten (series R80 of ISO 3, from memory).

    Preferred numbers are rounded by at most 1.3 %. Load index 80, 450 kg (seen), fixes the start.
    """
    table = {index: load_capacity_kg(index) for index in range(LOWEST_LOAD_INDEX, HIGHEST_LOAD_INDEX + 1)}
    for index, load in table.items():
        assert -0.013 <= load / 10 ** (1.65 + index / 80) - 1 <= 0.013
        if index + 80 in table:
            assert load == int(table[index + 80] / 10)
    assert list(table.values()) == sorted(set(table.values()))


# Load index and maximum load printed side by side in a tyre maker's public size sheets for light-truck tyres.
@pytest.mark.parametrize(
    ("index", "pounds"),
    [(108, 2205), (111, 2405), (121, 3195), (123, 3415), (124, 3525), (126, 3750), (127, 3860), (130, 4190)],
)
def test_load_indices_of_light_trucks(index: int, pounds: float) -> None:
    assert load_capacity_kg(index) == pytest.approx(to_grams(pounds, "lb") / 1000, rel=0.001)


def test_ratings_refuse_what_is_not_in_their_tables() -> None:
    with pytest.raises(ValueError, match="50 to 170"):
        load_capacity_kg(171)
    with pytest.raises(ValueError, match="speed symbol"):
        speed_limit_kmh("I")


def test_geometry_is_proportional() -> None:
    """Half the aspect ratio at twice the width is the same diameter."""

    def tyre(width: float, aspect: float) -> Tyre:
        return Tyre(size="", width_mm=width, aspect_percent=aspect, rim_in=17, construction="radial")

    assert tyre(300, 35).free_diameter_mm == pytest.approx(tyre(150, 70).free_diameter_mm)
