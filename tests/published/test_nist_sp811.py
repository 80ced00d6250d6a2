"""Definitions of units: exact, so the tolerance is none.

The values are from memory (SP 811 and Handbook 44 were not at hand); each was seen quoted elsewhere or
follows from the others by exact arithmetic.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from support_products import unit

from vrx.units import ACRE_M2, SURVEY_ACRE_M2, SURVEY_FOOT_M, US_GALLON_M3, Dialect, convert, parse_unit

pytestmark = pytest.mark.source("SP811; HB44", "appendix B; appendix C")

EXACT = [
    pytest.param("1", "ft", "0.3048", "m", id="U01 international foot"),
    pytest.param("1", "in", "0.0254", "m", id="inch"),
    pytest.param("1", "yd", "0.9144", "m", id="yard"),
    pytest.param("1", "mi", "1609.344", "m", id="mile"),
    pytest.param("1", "ac", "4046.8564224", "m2", id="U03 international acre"),
    pytest.param("1", "ac", "43560", "ft2", id="U03 acre in square feet"),
    pytest.param("1", "ac", "0.40468564224", "ha", id="U08 acre in hectares"),
    pytest.param("160", "ac", "647497.027584", "m2", id="U09 quarter section"),
    pytest.param("1", "gal", "3.785411784", "L", id="U10 US liquid gallon"),
    pytest.param("1", "lb", "0.45359237", "kg", id="U11 avoirdupois pound"),
    pytest.param("1", "short_ton", "907.18474", "kg", id="U12 short ton"),
    pytest.param("1", "long_ton", "1016.0469088", "kg", id="long ton"),
    pytest.param("1", "oz_weight", "28.349523125", "g", id="U13 ounce"),
    pytest.param("1", "fl_oz", "29.5735295625", "mL", id="U13 US fluid ounce"),
    pytest.param("128", "fl_oz", "1", "gal", id="U13 fluid ounces of a gallon"),
    pytest.param("8", "pt", "1", "gal", id="pints of a gallon"),
    pytest.param("4", "qt", "1", "gal", id="quarts of a gallon"),
    pytest.param("1", "imp_gal", "4.54609", "L", id="imperial gallon"),
    pytest.param("160", "imp_fl_oz", "1", "imp_gal", id="fluid ounces of an imperial gallon"),
    pytest.param("1", "us_cwt", "100", "lb", id="US hundredweight"),
    pytest.param("1", "imp_cwt", "112", "lb", id="imperial hundredweight"),
    pytest.param("1", "mph", "1.609344", "km/h", id="U33 mile an hour"),
    pytest.param("1", "mph", "0.44704", "m/s", id="U33 mile an hour in metres a second"),
    pytest.param("1", "mph", "88", "ft/min", id="U33 mile an hour in feet a minute"),
    pytest.param("1", "bu(56 lb)", "25.40117272", "kg", id="U15 bushel of 56 lb"),
    pytest.param("1", "bu(60 lb)", "27.2155422", "kg", id="U16 bushel of 60 lb"),
]


@pytest.mark.parametrize(("value", "source", "expected", "target"), EXACT)
def test_definitions_are_exact(value: str, source: str, expected: str, target: str) -> None:
    """A definition converts to the defined value, to the last digit."""
    assert convert(Fraction(value), unit(source), unit(target)) == Fraction(expected)


def test_the_gallon_is_231_cubic_inches() -> None:
    """U10, and U38: a page that gives 231 cubic inches to the bushel is misprinted; they are the gallon's."""
    assert Fraction("0.0254") ** 3 * 231 == US_GALLON_M3


def test_the_survey_foot_and_acre() -> None:
    """U02 (EPSG unit 9003), U04, U05: a plan may ask for the US survey acre, 4 parts in a million larger."""
    assert Fraction(1200, 3937) == SURVEY_FOOT_M == unit("us_survey_ft").factor
    assert float(SURVEY_FOOT_M) == pytest.approx(0.304800609601, abs=1e-12)
    assert Fraction(62726400000, 15499969) == SURVEY_ACRE_M2
    assert float(SURVEY_ACRE_M2) == pytest.approx(4046.872609874, abs=1e-6)
    assert float(SURVEY_ACRE_M2 / ACRE_M2) == pytest.approx(1.000004000012, abs=5e-13)
    assert parse_unit("ac", Dialect("us", "us_survey")).factor == unit("us_survey_acre").factor == SURVEY_ACRE_M2
    assert float(160 * (SURVEY_ACRE_M2 - ACRE_M2)) == pytest.approx(2.590, abs=5e-4)
