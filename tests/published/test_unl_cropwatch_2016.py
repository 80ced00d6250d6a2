"""Nutrient in a gallon, and gallons for a nutrient. Rows without a page are exact arithmetic on its densities."""

from __future__ import annotations

from fractions import Fraction

import pytest
from support_products import product, unit

from vrx.dosing.conversion import conversion_to_product
from vrx.units import convert

pytestmark = pytest.mark.source("CropWatch2016", "densities; Example 2")

N_PER_GALLON = [
    pytest.param("28 %", "10.65 lb/gal", 2.98, 0.02, id="F03 28 % at 10.65 lb/gal, published 2.98"),
    pytest.param("28 %", "10.65 lb/gal", 2.982, 5e-4, id="F03 exact arithmetic"),
    pytest.param("30 %", "10.86 lb/gal", 3.258, 5e-4, id="F04 density from memory"),
    pytest.param("32 %", "11.06 lb/gal", 3.54, 5e-3, id="F06 published 3.54"),
    pytest.param("32 %", "11.06 lb/gal", 3.5392, 5e-5, id="F06 exact arithmetic"),
    pytest.param("10 %", "11.4 lb/gal", 1.140, 5e-4, id="F08 10-34-0"),
]
GALLONS = [
    pytest.param("75", "28 %", "10.65 lb/gal", 25.151, 0.01, "gal/ac", id="F24 Example 2"),
    pytest.param("120", "28 %", "10.65 lb/gal", 40.2414, 5e-5, "gal/ac", id="F25a"),
    pytest.param("120", "28 %", "10.65 lb/gal", 376.417, 5e-4, "L/ha", id="F25a metric"),
    pytest.param("150", "28 %", "10.65 lb/gal", 50.3018, 5e-5, "gal/ac", id="F25b"),
    pytest.param("150", "28 %", "10.65 lb/gal", 470.521, 5e-4, "L/ha", id="F25b metric"),
    pytest.param("120", "32 %", "11.06 lb/gal", 33.9060, 5e-5, "gal/ac", id="F25c"),
    pytest.param("120", "32 %", "11.06 lb/gal", 317.155, 5e-4, "L/ha", id="F25c metric"),
    pytest.param("150", "32 %", "11.06 lb/gal", 42.3825, 5e-5, "gal/ac", id="F25d"),
    pytest.param("150", "32 %", "11.06 lb/gal", 396.444, 5e-4, "L/ha", id="F25d metric"),
    pytest.param("60", "30 %", "10.86 lb/gal", 18.4162, 5e-5, "gal/ac", id="F25e density from memory"),
    pytest.param("60", "30 %", "10.86 lb/gal", 172.264, 5e-4, "L/ha", id="F25e metric, density from memory"),
]


@pytest.mark.parametrize(("share", "density", "lb_per_gal", "tolerance"), N_PER_GALLON)
def test_nitrogen_in_a_gallon(share: str, density: str, lb_per_gal: float, tolerance: float) -> None:
    """The nitrogen for which one gallon is needed is the nitrogen in a gallon."""
    conversion = conversion_to_product(unit("lb N/ac"), product(analysis={"N": share}, density=density))
    assert float(1 / conversion.factor) == pytest.approx(lb_per_gal, abs=tolerance)


@pytest.mark.parametrize(("wanted", "share", "density", "expected", "tolerance", "step_unit"), GALLONS)
def test_gallons_for_nitrogen(
    wanted: str, share: str, density: str, expected: float, tolerance: float, step_unit: str
) -> None:
    """Pounds of nitrogen an acre turn into gallons an acre, and into litres a hectare, as printed."""
    of = product(analysis={"N": share}, density=density)
    in_gallons = Fraction(wanted) * conversion_to_product(unit("lb N/ac"), of).factor
    assert float(convert(in_gallons, unit("gal/ac"), unit(step_unit))) == pytest.approx(expected, abs=tolerance)


def test_phosphate_in_a_gallon() -> None:
    """F08, F10: a gallon of 10-34-0 carries 3.876 lb P2O5 at 11.4 lb/gal, of 12-0-0-26S 2.990 lb S at 11.5."""
    starter = product(analysis={"N": "10 %", "P2O5": "34 %"}, density="11.4 lb/gal")
    sulphur = product(analysis={"N": "12 %", "S": "26 %"}, density="11.5 lb/gal")
    assert 1 / conversion_to_product(unit("lb P2O5/ac"), starter).factor == Fraction("3.876")
    assert 1 / conversion_to_product(unit("lb S/ac"), sulphur).factor == Fraction("2.99")
