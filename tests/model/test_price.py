"""Prices and packages, as a plan writes them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from vrx.errors import UnitError
from vrx.model.price import package_text, parse_package, parse_price
from vrx.units import Dialect

US = Dialect("us")


@pytest.mark.parametrize(
    ("text", "value", "currency", "unit", "si"),
    [
        pytest.param("412 USD/short_ton", 412, "USD", "short_ton", Fraction("907.18474"), id="by the short ton"),
        pytest.param("0.31 EUR / kg", Fraction("0.31"), "EUR", "kg", 1, id="spaces"),
        pytest.param("2.98USD/gal", Fraction("2.98"), "USD", "gal", Fraction("0.003785411784"), id="no space"),
        pytest.param("310 ZAR/bag(80000 seeds)", 310, "ZAR", "bag(80000 seeds)", 80000, id="by the bag of seed"),
        pytest.param("0 USD/lb", 0, "USD", "lb", Fraction("0.45359237"), id="free"),
    ],
)
def test_a_price_is_read(text: str, value: Fraction, currency: str, unit: str, si: Fraction) -> None:
    """Number, currency and unit, exactly. NIST SP 811 (2008), appendix B: short ton 907.184 74 kg, lb, gallon."""
    price = parse_price(text, US)
    assert (price.value, price.currency, price.unit.name, price.unit.factor) == (value, currency, unit, si)
    assert parse_price(str(price), US) == price


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param(412, "no currency and no unit", id="a number"),
        pytest.param(True, "no currency and no unit", id="a truth"),
        pytest.param("412", "no currency", id="a number as text"),
        pytest.param("412 USD", "for how much", id="no unit"),
        pytest.param("412 USD/", "for how much", id="an empty unit"),
        pytest.param("412/lb", "no currency", id="no currency"),
        pytest.param("412 usd/lb", "no currency", id="small letters"),
        pytest.param("412 DOLLAR/lb", "no currency", id="a word"),
        pytest.param("412 €/lb", "no currency", id="a sign"),
        pytest.param("$412/lb", "does not start with a number", id="a sign in front"),
        pytest.param("USD 412/lb", "does not start with a number", id="the currency in front"),
        pytest.param("412 USD/ton", "several things", id="a ton"),
        pytest.param("412 USD/ac", "is a price by area", id="by area"),
        pytest.param("412 USD/lb/ac", "is a price by mass/area", id="of a rate"),
        pytest.param("4,12 USD/lb", "comma", id="a comma"),
        pytest.param("1 000 USD/lb", "several parts", id="a number in parts"),
        pytest.param("1e99 USD/lb", "beyond any price", id="beyond numbers"),
        pytest.param("nan USD/lb", "does not start with a number", id="no number"),
    ],
)
def test_what_is_no_price_is_refused(text: object, words: str) -> None:
    """The message says what is missing."""
    with pytest.raises(UnitError, match=words):
        parse_price(text, US)


def test_gallons_of_a_metric_plan_say_which() -> None:
    """A word that is a US measure needs a US plan, in a price too."""
    with pytest.raises(UnitError, match="US or an imperial"):
        parse_price("3 EUR/gal", Dialect("metric"))


@pytest.mark.parametrize(
    ("text", "si", "shown"),
    [
        pytest.param("2.5 gal", Fraction("2.5") * Fraction("0.003785411784"), "2.5 gal", id="an amount"),
        pytest.param("bag(50 lb)", 50 * Fraction("0.45359237"), "bag(50 lb)", id="a bag"),
        pytest.param("1 bag(50 lb)", 50 * Fraction("0.45359237"), "bag(50 lb)", id="one bag"),
        pytest.param("40 bag(50 lb)", 2000 * Fraction("0.45359237"), "40 bag(50 lb)", id="a pallet"),
        pytest.param("unit(80000 seeds)", Fraction(80000), "unit(80000 seeds)", id="a unit of seed"),
    ],
)
def test_a_package_is_read(text: str, si: Fraction, shown: str) -> None:
    """An amount, or a word for one package with its size."""
    package = parse_package(text, US)
    assert package.si == si
    assert package_text(package) == shown


@pytest.mark.parametrize("text", ["bag", "50", "50 lb/ac", "", "x", 50, None])
def test_what_is_no_package_is_refused(text: object) -> None:
    """A bag without a size, a bare number, a rate."""
    with pytest.raises(UnitError):
        parse_package(text, US)
