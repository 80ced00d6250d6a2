"""Orders and their cost, against worked rows.

Rows named E, F, S and U are those of the tables of published and recomputed values that the project keeps; sources
stand beside each. The arithmetic of prices is definitional: the numbers were worked out apart, by hand.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from support_products import granular, product, seed

from vrx.dosing.conversion import amount_in_product
from vrx.dosing.cost import order_of, price_of_one
from vrx.errors import UnitError
from vrx.model.product import Product
from vrx.units import Dialect, parse_unit

US = Dialect("us")


@pytest.mark.parametrize(
    ("of", "each"),
    [
        # F05: 11.06 lb/gal (UNL CropWatch 2016); U12: a short ton is 2000 lb. 412 / 2000 x 11.06 = 2.27836.
        pytest.param(product(density="11.06 lb/gal", price="412 USD/short_ton"), "2.27836", id="a ton of a liquid"),
        pytest.param(product(price="2.40 USD/gal"), "2.4", id="its own unit"),
        pytest.param(product(price="0.60 USD/qt"), "2.4", id="4 qt are a gallon"),
        pytest.param(product(price="0 USD/gal"), "0", id="free"),
        pytest.param(granular(price="410 EUR/tonne"), "0.41", id="1000 kg are a tonne"),
        pytest.param(granular(price="11 EUR/bag(25 kg)"), "0.44", id="by the bag"),
        # S10: a unit of corn is 80 000 kernels (trade convention).
        pytest.param(seed(price="300 USD/unit(80000 seeds)"), "0.00375", id="by the unit of seed"),
        # S12: 140 000 seeds at 2800 seeds/lb are 50 lb (article on soybean units).
        pytest.param(seed(price="0.7 USD/lb", seeds_per="2800 /lb"), "0.00025", id="seed by the pound"),
        # F03: 10.65 lb/gal x 28 % is 2.982 lb N/gal (UNL CropWatch 2016). 2.982 x 0.5 = 1.491.
        pytest.param(
            product(density="10.65 lb/gal", analysis={"N": "28 %"}, price="0.5 USD/lb N"), "1.491", id="by its nitrogen"
        ),
    ],
)
def test_the_price_of_one(of: Product, each: str) -> None:
    """A price in any unit that converts, exactly, in the unit in which the product is counted."""
    assert price_of_one(of) == Fraction(each)


@pytest.mark.parametrize(
    ("of", "words"),
    [
        pytest.param(product(price="412 USD/short_ton"), "no density", id="a ton of a liquid without density"),
        pytest.param(granular(price="3 USD/gal"), "no density", id="a gallon of a dry product"),
        pytest.param(product(price="3 USD/bag(80000 seeds)"), "no seed weight", id="a count of a liquid"),
        pytest.param(seed(price="3 USD/lb"), "no seed weight", id="a pound of seed"),
        pytest.param(granular(price="3 USD/lb N"), "no analysis", id="nitrogen of what has no analysis"),
    ],
)
def test_a_price_that_does_not_convert(of: Product, words: str) -> None:
    """What is missing is said as an amount, without an area."""
    with pytest.raises(UnitError, match=words) as caught:
        price_of_one(of)
    assert "/ac" not in caught.value.problem
    assert "/ha" not in caught.value.problem


@pytest.mark.parametrize(
    ("prescribed", "keys", "overlap", "packages", "to_order", "cost"),
    [
        pytest.param("1000", {}, "0", 0, "1000", None, id="nothing said"),
        pytest.param("1000", {"overlap": "4 %"}, "40", 0, "1040", None, id="overlap"),
        pytest.param("1000", {"price": "2 USD/gal"}, "0", 0, "1000", "2000", id="a price"),
        pytest.param("1001", {"package": "2.5 gal"}, "0", 401, "1002.5", None, id="packages, rounded up"),
        pytest.param("1000", {"package": "2.5 gal"}, "0", 400, "1000", None, id="whole packages are not one more"),
        # 1 040 gal are 4.16 totes of 250 gal: 5, 1 250 gal, at 2 USD/gal 2 500 USD; 4 would do for the map alone.
        pytest.param(
            "1000",
            {"package": "250 gal", "overlap": "4 %", "price": "2 USD/gal"},
            "40",
            5,
            "1250",
            "2500",
            id="all of it: what is ordered is paid",
        ),
        pytest.param(
            "0", {"package": "220 gal", "overlap": "4 %", "price": "2 USD/gal"}, "0", 0, "0", "0", id="nothing"
        ),
        pytest.param("1000", {"package": "1 gal", "price": "0 USD/gal"}, "0", 1000, "1000", "0", id="free"),
    ],
)
def test_an_order(
    prescribed: str, keys: dict[str, Any], overlap: str, packages: int, to_order: str, cost: str | None
) -> None:
    """Prescribed, overlap and whole packages add up to what is ordered, and the prescribed stays what it was."""
    order = order_of(Fraction(prescribed), product(**keys))
    assert order.prescribed == Fraction(prescribed)
    assert (order.overlap, order.packages, order.to_order) == (Fraction(overlap), packages, Fraction(to_order))
    assert order.prescribed + order.overlap + order.rounding == order.to_order
    assert order.cost(order.to_order) == (None if cost is None else Fraction(cost))


@pytest.mark.source("trade convention for seed units", "S10: 80 000 kernels; 160 ac at 34 000/ac need 68.00 units")
def test_units_of_seed() -> None:
    """S10: exactly 68 units, in no way 69; one seed more needs another unit."""
    corn = seed(package="unit(80000 seeds)", price="300 USD/unit(80000 seeds)")
    order = order_of(Fraction(160 * 34000), corn)
    assert (order.packages, order.to_order, order.cost(order.to_order)) == (68, 5_440_000, 20_400)
    assert order_of(Fraction(160 * 34000 + 1), corn).packages == 69


@pytest.mark.source("general article on soybean units", "S11: 140 000 seeds; 80 ac at 125 000/ac need 71.429 units")
def test_units_of_another_seed() -> None:
    """S11: 71.429 units are ordered as 72."""
    beans = seed(package="unit(140000 seeds)")
    order = order_of(Fraction(80 * 125000), beans)
    assert float(order.needed / 140000) == pytest.approx(71.429, abs=5e-4)
    assert (order.packages, order.to_order) == (72, 72 * 140000)


def test_packages_by_weight_of_seed_counted() -> None:
    """S12: 140 000 seeds at 2800 seeds/lb are one bag of 50 lb."""
    beans = seed(package="bag(50 lb)", seeds_per="2800 /lb")
    assert order_of(Fraction(140000), beans).packages == 1
    assert order_of(Fraction(140001), beans).packages == 2


def test_an_amount_turns_like_a_rate() -> None:
    """A pound of a product of 10.65 lb/gal is 1/10.65 gal, whichever area its rates are for."""
    for step, low, high in (("1 gal/ac", "8 gal/ac", "26 gal/ac"), ("1 us_gal/ha", "8 us_gal/ha", "60 us_gal/ha")):
        of = product(density="10.65 lb/gal", step=step, min=low, max=high)
        assert amount_in_product(parse_unit("lb", US), of) == 1 / Fraction("10.65")
