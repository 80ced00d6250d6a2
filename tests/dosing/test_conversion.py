"""From wanted units to the product's own; the printed numbers are in tests/published."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support_products import granular, product, seed, unit

from vrx.dosing.conversion import conversion_to_product
from vrx.errors import UnitError
from vrx.model.product import Product
from vrx.units import convert

FULL = product(analysis={"N": "28 %"}, density="10.66 lb/gal")


def test_the_sum_is_shown_in_the_figures_of_the_plan() -> None:
    """1 lb N/ac of 28 % at 10.66 lb/gal is 0.335031 gal/ac, and the sum says how."""
    conversion = conversion_to_product(unit("lb N/ac"), FULL)
    assert conversion.factor == 1 / (Fraction("0.28") * Fraction("10.66"))
    assert conversion.steps == ("lb N/ac / (28 % N x 10.66 lb/gal) = gal/ac", "1 lb N/ac is 0.335031 gal/ac")


SUMS = [
    pytest.param(FULL, "gal/ac", Fraction(1), (), id="the same unit"),
    pytest.param(FULL, "qt/ac", Fraction(1, 4), ("1 qt/ac is 0.25 gal/ac",), id="units alone"),
    pytest.param(
        FULL, "lb/ac", 1 / Fraction("10.66"), ("lb/ac / 10.66 lb/gal = gal/ac", "1 lb/ac is 0.0938086 gal/ac"),
        id="mass to volume",
    ),
    pytest.param(
        product(min="50 lb/ac", max="200 lb/ac", step="1 lb/ac", density="10 lb/gal"), "gal/ac", Fraction(10),
        ("gal/ac x 10 lb/gal = lb/ac", "1 gal/ac is 10 lb/ac"), id="volume to mass",
    ),
    pytest.param(
        seed(seeds_per="2500 /lb"), "lb/ac", Fraction(2500),
        ("lb/ac x 2500 seeds/lb = seeds/ac", "1 lb/ac is 2500 seeds/ac"), id="mass to seeds by count",
    ),
    pytest.param(
        seed(thousand_seed_weight="40 g", min="50 kg/ha", max="200 kg/ha", step="1 kg/ha"), "seeds/m2",
        Fraction("0.4"), ("seeds/m2 x 40 g per 1000 seeds = kg/ha", "1 seeds/m2 is 0.4 kg/ha"),
        id="seeds to mass by weight",
    ),
    pytest.param(
        seed(thousand_seed_weight="40 g", min="100 seeds/m2", max="900 seeds/m2", step="1 seeds/m2"), "kg/ha",
        Fraction("2.5"), ("kg/ha / 40 g per 1000 seeds = seeds/m2", "1 kg/ha is 2.5 seeds/m2"),
        id="mass to seeds by weight",
    ),
    pytest.param(
        seed(min="0.1 unit(80000 seeds)/ac", max="1 unit(80000 seeds)/ac", step="0.01 unit(80000 seeds)/ac"),
        "thousand seeds/ac", Fraction(1, 80), ("1 thousand_seeds/ac is 0.0125 unit(80000 seeds)/ac",),
        id="seeds to units of seed",
    ),
    pytest.param(
        granular(analysis={"P2O5": "46 %", "P_element": "20 %"}), "kg P_element/ha", Fraction(5),
        ("kg P_element/ha / 20 % P_element = kg/ha", "1 kg P_element/ha is 5 kg/ha"), id="its own form first",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("of", "source", "factor", "steps"), SUMS)
def test_each_kind_of_sum(of: Product, source: str, factor: Fraction, steps: tuple[str, ...]) -> None:
    """Each conversion is exact, and shows what was done; the factors can be checked in the head."""
    conversion = conversion_to_product(unit(source), of)
    assert (conversion.factor, conversion.steps) == (factor, steps)


@pytest.mark.parametrize(
    ("wanted", "label", "factor"),
    [
        pytest.param("P_element", "P2O5", 2.29137, id="P by an oxide label"),
        pytest.param("P2O5", "P_element", 0.43642, id="P2O5 by an element label"),
        pytest.param("K_element", "K2O", 1.20460, id="K by an oxide label"),
        pytest.param("K2O", "K_element", 0.83015, id="K2O by an element label"),
    ],
)
def test_a_label_in_the_other_form(wanted: str, label: str, factor: float) -> None:
    """A label in one form serves a rate in the other: the printed factor over a content of 20 %.

    Source: the factors as fertiliser tables print them, see tests/published/test_fertiliser_tables.py.
    """
    conversion = conversion_to_product(unit(f"kg {wanted}/ha"), granular(analysis={label: "20 %"}))
    assert float(conversion.factor) == pytest.approx(factor / 0.20, abs=5e-6 / 0.20)


def test_the_sum_of_the_other_form_is_shown() -> None:
    """A label that names the oxide serves a rate of the element: 2.29137 P2O5 for each P, of which 46 %."""
    conversion = conversion_to_product(unit("kg P_element/ha"), granular(analysis={"P2O5": "46 %"}))
    assert float(conversion.factor) == pytest.approx(2.29137 / 0.46, rel=3e-6)
    assert conversion.steps[0] == "kg P_element/ha x 2.29137 P2O5/P_element / 46 % P2O5 = kg/ha"


REFUSED: list[Any] = [
    pytest.param(product(), "lb N/ac", "'Liquid A' has no analysis", "analysis", id="no analysis"),
    pytest.param(FULL, "lb P2O5/ac", "carries N, not P2O5", "analysis", id="a nutrient it does not carry"),
    pytest.param(FULL, "lb K_element/ac", "carries N, not K_element", "analysis", id="in neither form"),
    pytest.param(product(analysis={"N": "28 %"}), "lb N/ac", "'Liquid A' has no density", "density", id="no density"),
    pytest.param(product(), "lb/ac", "'Liquid A' has no density", "density", id="no density for a mass"),
    pytest.param(granular(), "gal/ac", "'Granular B' has no density", "density", id="no density for a volume"),
    pytest.param(seed(), "lb/ac", "'Seed C' has no seed weight", "seeds_per", id="no seed weight"),
    pytest.param(FULL, "seeds/ac", "'Liquid A' has no seed weight", "seeds_per", id="seeds of a liquid"),
    pytest.param(seed(seeds_per="2800 /lb"), "live_seeds/ac", "germination of 'Seed C'", "seeds/ac", id="live seed"),
    pytest.param(FULL, "gal", "not a rate per area of 'Liquid A'", "gal/ac", id="an amount"),
    pytest.param(FULL, "%", "not a rate per area of 'Liquid A'", "gal/ac", id="a share"),
]


@pytest.mark.parametrize(("of", "source", "problem", "remedy"), REFUSED)
def test_a_missing_figure_is_asked_for(of: Product, source: str, problem: str, remedy: str) -> None:
    """Nothing is assumed: the error names the product, what is missing and the key to give."""
    with pytest.raises(UnitError) as caught:
        conversion_to_product(unit(source), of)
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


@settings(max_examples=100, deadline=None)
@given(
    rate=st.fractions(min_value=0, max_value=1000),
    pair=st.sampled_from([("lb N/ac", "kg N/ha"), ("lb/ac", "kg/ha"), ("gal/ac", "L/ha"), ("short ton/ac", "lb/ac")]),
)
def test_the_unit_of_a_rate_does_not_matter(rate: Fraction, pair: tuple[str, str]) -> None:
    """A rate gives the same rate of product in whichever unit it is written, exactly."""
    one, other = (unit(name) for name in pair)
    by_other = convert(rate, one, other) * conversion_to_product(other, FULL).factor
    assert rate * conversion_to_product(one, FULL).factor == by_other


def test_the_shared_case_of_nutrient_and_product(shared: Path) -> None:
    """90, 120 and 150 lb N/ac come out in gal/ac and L/ha as the case says."""
    folder = shared / "cases" / "S30-nutrient-vs-product"
    values = json.loads((folder / "case.json").read_text(encoding="utf-8"))["expected"]["values"]
    given_product = json.loads((folder / "product.json").read_text(encoding="utf-8"))
    of = product(
        analysis={"N": f"{given_product['analysis_N_pct_by_weight']} %"},
        density=f"{given_product['density_lb_per_US_gal']} lb/us_gal",
    )
    factor = conversion_to_product(unit("lb N/ac"), of).factor
    for zone, wanted in (("A", 90), ("B", 120), ("C", 150)):
        gallons = wanted * factor
        assert float(gallons) == pytest.approx(values["rate_US_gal_ac"][zone], abs=5e-5)
        litres = convert(gallons, of.unit, unit("L/ha"))
        assert float(litres) == pytest.approx(values["rate_L_ha"][zone], abs=5e-5)
