"""Amounts, with numbers that can be checked in the head."""

from __future__ import annotations

from fractions import Fraction

import pytest
from support_products import granular, product, seed, unit

from vrx.dosing.amounts import amount_per_m2, buying_amounts
from vrx.model.product import Product
from vrx.units import Dialect, parse_unit

ACRE_M2 = 4046.8564224


@pytest.mark.parametrize(
    ("rate", "of", "area_m2", "amount"),
    [
        pytest.param(18, "gal/ac", 10 * ACRE_M2, 180, id="gallons"),
        pytest.param(Fraction(37, 2), "gal/ac", 10 * ACRE_M2, 185, id="an exact rate"),
        pytest.param(150, "kg/ha", 25_000, 375, id="kilograms"),
        pytest.param(2, "short_ton/ac", 3 * ACRE_M2, 6, id="short tons"),
        pytest.param(Fraction(17, 40), "unit(80000 seeds)/ac", 160 * ACRE_M2, 68, id="units of seed"),
        pytest.param(10, "seeds/m2", 100, 1000, id="seeds"),
        pytest.param(18, "gal/ac", 0, 0, id="no ground"),
    ],
)
def test_a_total_is_rate_times_area(rate: Fraction | int, of: str, area_m2: float, amount: float) -> None:
    """A rate on so many acres or hectares gives the amount in the rate's own unit."""
    assert float(rate * amount_per_m2(unit(of))) * area_m2 == pytest.approx(amount, rel=1e-12)


def test_a_survey_acre_gives_the_same_gallons_an_acre() -> None:
    """In a plan with survey acres, 10 of those at 18 gal/ac take 180 gal."""
    survey = Dialect("us", "us_survey")
    acre_m2 = float(parse_unit("ac", survey).factor)
    assert float(18 * amount_per_m2(parse_unit("gal/ac", survey))) * 10 * acre_m2 == pytest.approx(180, rel=1e-12)


DENSE = product(density="1 kg/L")
# One cubic metre: 1000 L, 264.172 US gal (by 231 cubic inches), at 1 kg/L a tonne.
BOUGHT = [
    pytest.param(product(), 1.0, "us", {"gal": 264.17205, "L": 1000}, id="a liquid"),
    pytest.param(product(), 1.0, "metric", {"L": 1000, "US gal": 264.17205}, id="a liquid, metric"),
    pytest.param(
        DENSE, 1.0, "us",
        {"gal": 264.17205, "L": 1000, "lb": 2204.6226, "short ton": 1.1023113, "kg": 1000, "tonne": 1},
        id="a liquid with its density",
    ),
    pytest.param(
        product(min="50 lb/ac", max="200 lb/ac", step="1 lb/ac", density="1 kg/L"), 1000.0, "metric",
        {"kg": 1000, "tonne": 1, "lb": 2204.6226, "short ton": 1.1023113, "L": 1000, "US gal": 264.17205},
        id="a liquid by mass",
    ),
    pytest.param(
        granular(density="1 kg/L"), 907.18474, "us", {"lb": 2000, "short ton": 1, "kg": 907.18474, "tonne": 0.90718474},
        id="granular, never by volume",
    ),
    pytest.param(
        granular(min="1 bag(50 lb)/ac", max="9 bag(50 lb)/ac", step="1 bag(50 lb)/ac"), 907.18474, "us",
        {"bag(50 lb)": 40, "lb": 2000, "short ton": 1, "kg": 907.18474, "tonne": 0.90718474}, id="bags come first",
    ),
    pytest.param(seed(), 80000.0, "us", {"seeds": 80000, "thousand seeds": 80}, id="seed"),
    pytest.param(
        seed(thousand_seed_weight="50 g"), 80000.0, "metric",
        {"seeds": 80000, "thousand seeds": 80, "kg": 4, "tonne": 0.004, "lb": 8.8184905, "short ton": 0.0044092452},
        id="seed with its weight",
    ),
    pytest.param(
        seed(min="50 kg/ha", max="200 kg/ha", step="1 kg/ha", thousand_seed_weight="50 g"), 4.0, "metric",
        {"kg": 4, "tonne": 0.004, "lb": 8.8184905, "short ton": 0.0044092452, "seeds": 80000, "thousand seeds": 80},
        id="seed by mass",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("of", "amount_si", "system", "bought"), BOUGHT)
def test_amounts_in_the_units_that_people_buy(
    of: Product, amount_si: float, system: str, bought: dict[str, float]
) -> None:
    """The plan's own system comes first; mass and volume both where the density is known."""
    found = buying_amounts(amount_si, of.unit, of, system="us" if system == "us" else "metric")
    assert [name for name, _ in found] == list(bought)
    assert dict(found) == pytest.approx(bought, rel=1e-6)


def test_a_plan_without_a_system_names_the_gallon_in_full() -> None:
    """Without units = "us" a gallon is never just a gallon."""
    names = [name for name, _ in buying_amounts(1.0, unit("us_gal/ac"), product(), system=None)]
    assert names == ["L", "US gal"]
