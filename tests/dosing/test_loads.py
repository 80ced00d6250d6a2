"""Loads and fill sheets, against worked rows."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_products import granular, product, seed

from vrx.dosing.loads import loads_of
from vrx.errors import PlanError, UnitError
from vrx.model.loads import Loads
from vrx.model.machine import Machine
from vrx.model.product import Product
from vrx.units import ACRE_M2, Dialect

ACRE = float(ACRE_M2)
LIQUID = product()


def box(size: str, **keys: Any) -> dict[str, Any]:
    return {"product": "Liquid A", "size": size} | keys


def drives(*edges_ft: float) -> list[dict[str, Any]]:
    """Drives named a, b ... that lie between edges in feet."""
    return [
        {"name": chr(97 + at), "span": [f"{left} ft", f"{right} ft"], "product": "Liquid A"}
        for at, (left, right) in enumerate(pairwise(edges_ft))
    ]


def loads(
    needed: str | Fraction, *boxes: dict[str, Any], of: Product = LIQUID, acres: float = 100, **keys: Any
) -> Loads:
    machine = Machine.model_validate({"tank": list(boxes)} | keys, context={"dialect": Dialect("us")})
    made = loads_of(Fraction(needed), acres * ACRE, machine.boxes_of("Liquid A"), machine.drive, of)
    assert made is not None
    return made


@pytest.mark.parametrize(
    ("rate", "acres"),
    [
        # E16: acres per tank, 1200 gal at 15 and 10 gal/ac, and at a variable mean of 11.4 (algebra).
        pytest.param("15", 80.0, id="E16: 15 gal/ac"),
        pytest.param("10", 120.0, id="E16: 10 gal/ac"),
        pytest.param("11.4", 105.2632, id="E16: a mean of 11.4 gal/ac"),
    ],
)
@pytest.mark.source("algebra: ac = tank gal / mean gal/ac, weighted by area", "E16, computed apart")
def test_the_ground_that_a_tank_covers(rate: str, acres: float) -> None:
    """E16: the acres of a load of 1200 gal at the mean rate of a field of 500 ac."""
    made = loads(Fraction(rate) * 500, box("1200 gal"), acres=500)
    assert made.area_m2(made.each) / ACRE == pytest.approx(acres, abs=5e-5)
    covered = sum(made.area_m2(fill.amount) * (fill.last - fill.first + 1) for fill in made.fills)
    assert covered / ACRE == pytest.approx(500, rel=1e-12)


@pytest.mark.parametrize(
    ("needed", "whole", "last", "numbers"),
    [
        pytest.param("2880", 3, "0", ["1 to 3"], id="whole loads are exactly that many"),
        pytest.param("2880.000001", 3, "0", ["1 to 3"], id="the rounding of areas is no load"),
        pytest.param("3000", 3, "120", ["1 to 3", "4"], id="three and a part"),
        pytest.param("960", 1, "0", ["1"], id="one"),
        pytest.param("100", 0, "100", ["1"], id="less than one"),
        pytest.param("0", 0, "0", [], id="none"),
    ],
)
def test_whole_loads_and_a_last_one(needed: str, whole: int, last: str, numbers: list[str]) -> None:
    """1,000 gal of which 40 stay in: 960 gal a load. Common practice, no source."""
    made = loads(needed, box("1000 gal", keep_back="40 gal"))
    assert (made.each, made.whole, made.last) == (960, whole, Fraction(last))
    assert [fill.numbers for fill in made.fills] == numbers
    assert made.count == whole + (Fraction(last) > 0)
    (tank,) = made.boxes
    assert [tank.fill_to(fill.amount) for fill in made.fills] == [1000] * (whole > 0) + [40 + Fraction(last)] * (
        Fraction(last) > 0
    )
    assert made.stays == (40 if numbers else 0)


def test_weight_limits_the_fill() -> None:
    """F05: 11.06 lb/gal (UNL CropWatch 2016); 8 848 lb are 800 gal, of a tank of 1,000 gal; 760 gal without 40."""
    heavy = product(density="11.06 lb/gal")
    made = loads("1520", box("1000 gal", keep_back="40 gal", most_weight="8848 lb"), of=heavy)
    assert (made.boxes[0].full, made.boxes[0].by_weight, made.each, made.whole, made.last) == (800, True, 760, 2, 0)
    light = loads("1520", box("1000 gal", most_weight="9 short_ton"), of=heavy)
    assert (light.boxes[0].full, light.boxes[0].by_weight) == (1000, False)


@pytest.mark.parametrize(
    ("of", "keys", "full"),
    [
        pytest.param(product(), {"size": "4000 qt"}, "1000", id="quarts"),
        pytest.param(product(density="11.06 lb/gal"), {"size": "5.53 short_ton"}, "1000", id="a size by weight"),
        pytest.param(granular(density="0.95 kg/L"), {"size": "2000 L"}, "1900", id="a bin by volume"),
        pytest.param(granular(), {"size": "2 tonne", "most_weight": "1800 kg"}, "1800", id="weight of what is weighed"),
        pytest.param(seed(seeds_per="2800 /lb"), {"size": "50 lb"}, "140000", id="S12: 50 lb hold 140 000 seeds"),
    ],
)
def test_sizes_in_any_unit_that_converts(of: Product, keys: dict[str, Any], full: str) -> None:
    """What a box holds, in the unit in which the product is counted."""
    assert loads("1", box("1 L") | keys, of=of).boxes[0].full == Fraction(full)


def test_the_box_that_is_empty_first_ends_a_load() -> None:
    """Drives of 20, 20 and 40 ft: shares of 1/4, 1/4 and 1/2. 300, 400 and 500 gal last for 1200, 1600 and 1000 gal,
    so a load puts out 1,000 gal and the third box is empty first; the others are filled to what they give for it."""
    made = loads(
        "2500",
        box("300 gal", drives=["a"]),
        box("420 gal", keep_back="20 gal", drives=["b"]),
        box("500 gal", drives=["c"]),
        drive=drives(-40, -20, 0, 40),
    )
    assert [each.share for each in made.boxes] == [Fraction(1, 4), Fraction(1, 4), Fraction(1, 2)]
    assert (made.by_width, made.each, made.first_empty, made.whole, made.last) == (True, 1000, (2,), 2, 500)
    assert [each.fill_to(made.each) for each in made.boxes] == [250, 270, 500]
    assert [each.fill_to(made.last) for each in made.boxes] == [125, 145, 250]


def test_thirds_of_a_width_in_feet_are_exact() -> None:
    """Three drives of 13 ft 4 in each are a third each to the micrometre: three equal boxes are empty at once."""
    edges = drives(-20, -20 / 3, 20 / 3, 20)
    made = loads("900", *(box("100 gal", drives=[name]) for name in "abc"), drive=edges)
    assert [each.share for each in made.boxes] == [Fraction(1, 3)] * 3
    assert (made.each, made.whole, made.last, made.first_empty) == (300, 3, 0, (0, 1, 2))


@pytest.mark.parametrize("keys", [{}, {"drive": drives(-20, 5, 20)}])
def test_without_drives_shares_are_equal(keys: dict[str, Any]) -> None:
    """Where no box says which drives it feeds, each is taken to put out the same, whatever the drives' widths."""
    made = loads("1000", box("100 gal"), box("150 gal"), **keys)
    assert (made.by_width, [each.share for each in made.boxes]) == (False, [Fraction(1, 2)] * 2)
    assert (made.each, made.first_empty, made.whole) == (200, (0,), 5)


def test_one_box_feeds_all_drives() -> None:
    """Named or not, a single box puts out all there is."""
    named = loads("1000", box("100 gal", drives=["a", "b"]), drive=drives(-20, 5, 20))
    unnamed = loads("1000", box("100 gal"), drive=drives(-20, 5, 20))
    assert named.boxes[0].share == unnamed.boxes[0].share == 1
    assert named.whole == unnamed.whole == 10


def test_no_box_no_loads() -> None:
    """A machine without a box of the product has no loads of it."""
    assert loads_of(Fraction(100), ACRE, (), (), product()) is None


@pytest.mark.parametrize(
    ("of", "keys", "error", "words"),
    [
        pytest.param(product(), {"most_weight": "900 lb"}, UnitError, "no density", id="a weight without density"),
        pytest.param(granular(), {"size": "900 gal"}, UnitError, "no density", id="a dry product by volume"),
        pytest.param(product(), {"keep_back": "5 lb"}, UnitError, "no density", id="kept back by weight"),
        pytest.param(
            product(density="10 lb/gal"),
            {"keep_back": "40 gal", "most_weight": "400 lb"},
            PlanError,
            "leaves nothing to put out",
            id="its weight lets no more in than stays in",
        ),
        pytest.param(
            product(density="10 lb/gal"),
            {"keep_back": "1200 lb"},
            PlanError,
            "leaves nothing",
            id="kept back in pounds",
        ),
    ],
)
def test_a_box_that_can_not_be_used(of: Product, keys: dict[str, Any], error: type[Exception], words: str) -> None:
    """What does not convert, and what leaves nothing to put out."""
    with pytest.raises(error, match=words):
        loads("1", box("100 gal") | keys, of=of)


@given(
    needed=st.fractions(min_value=0, max_value=10**6, max_denominator=1000),
    sizes=st.lists(st.tuples(st.integers(10, 3000), st.integers(0, 9)), min_size=1, max_size=12),
)
def test_boxes_put_out_what_is_needed(needed: Fraction, sizes: list[tuple[int, int]]) -> None:
    """All fills of all boxes, less what stays, are what is needed; no box is ever filled over what it holds."""
    made = loads(needed, *(box(f"{size} gal", keep_back=f"{kept} gal") for size, kept in sizes))
    out = sum(
        (each.fill_to(fill.amount) - each.keep_back) * (fill.last - fill.first + 1)
        for fill in made.fills
        for each in made.boxes
    )
    assert abs(out - needed) <= needed / 10**9
    assert all(each.fill_to(fill.amount) <= each.full for fill in made.fills for each in made.boxes)
    assert any(each.fill_to(made.each) == each.full for each in made.boxes)
