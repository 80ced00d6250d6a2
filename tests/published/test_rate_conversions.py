"""Conversions of rates: half a last printed digit.

Where no publication is named, the value was computed by exact arithmetic from the definitions, apart from
this project: a second path to the same number, not a publication.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from support_products import unit

from vrx.units import ACRE_M2, US_GALLON_M3, convert

COMPUTED = [
    pytest.param("1", "ha", "2.471053814672", "ac", id="U07"),
    pytest.param("160", "ac", "64.74970276", "ha", id="U09"),
    pytest.param("1", "gal/ac", "9.353956229", "L/ha", id="U19"),
    pytest.param("3", "gal/ac", "28.061869", "L/ha", id="U20a"),
    pytest.param("10", "gal/ac", "93.539562", "L/ha", id="U20b"),
    pytest.param("12", "gal/ac", "112.247475", "L/ha", id="U20c"),
    pytest.param("15", "gal/ac", "140.309343", "L/ha", id="U20d"),
    pytest.param("20", "gal/ac", "187.079125", "L/ha", id="U20e"),
    pytest.param("28", "gal/ac", "261.910774", "L/ha", id="U20f"),
    pytest.param("100", "L/ha", "10.690664", "gal/ac", id="U21 100"),
    pytest.param("187", "L/ha", "19.991541", "gal/ac", id="U21 187"),
    pytest.param("1", "lb/ac", "1.120851156", "kg/ha", id="U22"),
    pytest.param("50", "lb/ac", "56.042558", "kg/ha", id="U23a"),
    pytest.param("150", "lb/ac", "168.127673", "kg/ha", id="U23b"),
    pytest.param("200", "lb/ac", "224.170231", "kg/ha", id="U23c"),
    pytest.param("300", "lb/ac", "336.255347", "kg/ha", id="U23d"),
    pytest.param("2000", "lb/ac", "2241.702312", "kg/ha", id="U23e"),
    pytest.param("100", "kg/ha", "89.217912", "lb/ac", id="U24"),
    pytest.param("1", "oz_weight/ac", "70.053197", "g/ha", id="U25"),
    pytest.param("1", "fl_oz/ac", "73.077783", "mL/ha", id="U26 1"),
    pytest.param("32", "fl_oz/ac", "2338.48906", "mL/ha", id="U26 32"),
    pytest.param("1", "pt/ac", "1.169245", "L/ha", id="U27 pint"),
    pytest.param("1", "qt/ac", "2.338489", "L/ha", id="U27 quart"),
    pytest.param("24000", "seeds/ac", "59305.292", "seeds/ha", id="U28a"),
    pytest.param("24000", "seeds/ac", "5.930529", "seeds/m2", id="U28a m2"),
    pytest.param("30000", "seeds/ac", "74131.614", "seeds/ha", id="U28b"),
    pytest.param("30000", "seeds/ac", "7.413161", "seeds/m2", id="U28b m2"),
    pytest.param("34000", "seeds/ac", "84015.830", "seeds/ha", id="U28c"),
    pytest.param("34000", "seeds/ac", "8.401583", "seeds/m2", id="U28c m2"),
    pytest.param("140000", "seeds/ac", "345947.534", "seeds/ha", id="U28d"),
    pytest.param("140000", "seeds/ac", "34.594753", "seeds/m2", id="U28d m2"),
    pytest.param("80000", "seeds/ha", "32374.851", "seeds/ac", id="U29 80000"),
    pytest.param("85", "thousand_seeds/ha", "34398.280", "seeds/ac", id="U29 85000"),
    pytest.param("1", "bu(56 lb)/ac", "62.767665", "kg/ha", id="U30 1"),
    pytest.param("200", "bu(56 lb)/ac", "12553.533", "kg/ha", id="U30 200"),
    pytest.param("1", "bu(60 lb)/ac", "67.251069", "kg/ha", id="U31 1"),
    pytest.param("60", "bu(60 lb)/ac", "4035.064", "kg/ha", id="U31 60"),
    pytest.param("1", "short_ton/ac", "2.241702", "tonne/ha", id="U32 1"),
    pytest.param("2", "short_ton/ac", "4.483405", "tonne/ha", id="U32 2"),
    pytest.param("1", "lb/gal", "0.119826427", "kg/L", id="U34 1"),
    pytest.param("10.65", "lb/gal", "1.276151", "kg/L", id="U34 10.65"),
    pytest.param("1", "tonne", "36.743710", "bu(60 lb)", id="U16"),
]
PUBLISHED = [
    pytest.param("1", "ha", "2.471", "ac", id="U07 Nebraska Wheat Board/UNL, Wheat Production Handbook"),
    pytest.param("1", "short_ton", "0.907", "tonne", id="U12 Nebraska Wheat Board/UNL, Wheat Production Handbook"),
    pytest.param("1", "lb/ac", "1.12", "kg/ha", id="U22 commodity tables"),
    pytest.param("1", "lb/ac", "1.121", "kg/ha", id="U22 commodity tables, four digits"),
    pytest.param("1", "tonne", "39.368", "bu(56 lb)", id="U15 commodity conversion tables"),
    pytest.param("1", "tonne", "36.744", "bu(60 lb)", id="U16 commodity conversion tables"),
    pytest.param("1", "tonne", "45.930", "bu(48 lb)", id="U17 commodity conversion tables"),
    pytest.param("1", "bu(56 lb)/ac", "62.77", "kg/ha", id="U30 trading table, 0.6277 q/ha"),
    pytest.param("1", "bu(60 lb)/ac", "67.25", "kg/ha", id="U31 trading table, 0.6725 q/ha"),
    pytest.param("1", "gal/ac", "9.35", "L/ha", id="U19 published, handbook not named"),
]


def near(value: Fraction, printed: str) -> bool:
    """Tell whether a value is the printed one within half of its last digit."""
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return abs(value - Fraction(printed)) <= Fraction(1, 2) * Fraction(10) ** exponent


@pytest.mark.source("exact arithmetic on the definitions of NIST SP 811 (2008)", "computed apart from the project")
@pytest.mark.parametrize(("value", "source", "printed", "target"), COMPUTED)
def test_rates_convert_as_exact_arithmetic_says(value: str, source: str, printed: str, target: str) -> None:
    """A rate in one unit is the printed rate in the other."""
    assert near(convert(Fraction(value), unit(source), unit(target)), printed)


@pytest.mark.source("handbook and trade tables, named in each row", "as quoted")
@pytest.mark.parametrize(("value", "source", "printed", "target"), PUBLISHED)
def test_rates_convert_as_handbooks_print(value: str, source: str, printed: str, target: str) -> None:
    """A handbook's rounded factor is ours, rounded."""
    assert near(convert(Fraction(value), unit(source), unit(target)), printed)


@pytest.mark.source("Wheat Production Handbook (Nebraska Wheat Board/UNL)", "Calculations and Conversions")
def test_the_acre_in_other_units() -> None:
    """U06: an acre is 4840 square yards, 160 square rods, 10 square chains, or a square of 208.71 ft."""
    acre, yard = unit("ac").factor, unit("yd").factor
    assert acre == 4840 * yard**2
    assert acre == 160 * (Fraction(11, 2) * yard) ** 2
    assert acre == 10 * (22 * yard) ** 2
    assert near(Fraction(float(acre) ** 0.5) / unit("ft").factor, "208.71")


@pytest.mark.source("Ranchers Reference Guide (Texas A&M), Common Conversions", "acre-inch")
def test_an_acre_inch_of_water() -> None:
    """U36: an inch of water on an acre is 27154 gallons."""
    gallons = ACRE_M2 * unit("in").factor / US_GALLON_M3
    assert near(gallons, "27154")
    assert near(gallons, "27154.3")


@pytest.mark.source("fertiliser industry conversion tables (misprinted)", "two copies of one table")
@pytest.mark.parametrize(
    ("value", "source", "misprint", "right", "target"),
    [
        pytest.param("1", "kg/ha", "0.9822", "0.892179", "lb/ac", id="U37 digits swapped"),
        pytest.param("1", "ha", "2.471", "11959.9", "yd2", id="U37 yards for acres"),
        pytest.param("1", "ac", "4480", "4840", "yd2", id="U37 square yards"),
    ],
)
def test_misprints_are_not_followed(value: str, source: str, misprint: str, right: str, target: str) -> None:
    """U37: a table that was copied with its misprints is wrong, and the value by definition is ours."""
    size = unit("yd").factor ** 2 if target == "yd2" else unit(target).factor
    found = Fraction(value) * unit(source).factor / size
    assert near(found, right)
    assert not near(found, misprint)


@pytest.mark.source("fertiliser industry conversion tables", "1 lb/ac = 1.1208 kg/ha, cut off rather than rounded")
def test_a_factor_that_a_table_cuts_off() -> None:
    """U22: the table's 1.1208 is ours without the digits that follow, 1.12085."""
    found = convert(Fraction(1), unit("lb/ac"), unit("kg/ha"))
    assert Fraction("1.1208") <= found < Fraction("1.1209")


@pytest.mark.source("exact arithmetic on 56 lb = 25.401 172 72 kg", "a circulating 39.368 254 chains a rounded factor")
def test_bushels_of_a_tonne() -> None:
    """U15: a tonne is 39.368261 bushels of 56 lb: 1000 / 25.40117272, by long division."""
    found = convert(Fraction(1), unit("tonne"), unit("bu(56 lb)"))
    assert near(found, "39.368261")
    assert found * Fraction("25.40117272") == 1000
    assert not near(found, "39.368254")
