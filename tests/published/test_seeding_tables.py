"""Plants and seeds: published stands, units of seed, and the weight of seed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from support_products import seed, unit

from vrx.dosing.amounts import buying_amounts
from vrx.dosing.conversion import conversion_to_product
from vrx.units import convert


def plants_per_acre(row_in: str, spacing_in: str) -> Fraction:
    """Plants an acre at one plant for each row width times spacing."""
    inch = unit("in").factor
    each_m2 = Fraction(row_in) * inch * Fraction(spacing_in) * inch
    return convert(1 / each_m2, unit("seeds/m2"), unit("seeds/ac"))


@pytest.mark.source("Farm and Garden Rule-Book", "plant table: 1 in x 1 in")
def test_square_inches_of_an_acre() -> None:
    """S01: an acre has 6 272 640 square inches."""
    assert plants_per_acre("1", "1") == 6272640


@pytest.mark.source("exact arithmetic on 6 272 640 square inches", "computed apart from the project")
@pytest.mark.parametrize(
    ("row", "spacing", "printed"),
    [
        pytest.param("30", "6.15", 33998.049, id="S02a"),
        pytest.param("30", "5.5", 38016.000, id="S02b"),
        pytest.param("30", "7", 29869.714, id="S02c"),
        pytest.param("20", "9", 34848.000, id="S02d"),
        pytest.param("15", "3", 139392.000, id="S02e"),
        pytest.param("38", "5", 33013.895, id="S02f"),
    ],
)
def test_seeds_an_acre_from_spacing(row: str, spacing: str, printed: float) -> None:
    """Seeds an acre by row width and spacing."""
    assert float(plants_per_acre(row, spacing)) == pytest.approx(printed, abs=5e-4)


@pytest.mark.source("potato plant-population table (grower periodical, March 2021); Commercial Gardening vol. 3; "
                    "Farm and Garden Rule-Book", "plant tables; they may cut off")  # fmt: skip
@pytest.mark.parametrize(
    ("row", "spacing", "printed"),
    [
        pytest.param("34", "6", 30748, id="S03a"),
        pytest.param("34", "14", 13178, id="S03b"),
        pytest.param("36", "8", 21780, id="S03c"),
        pytest.param("38", "10", 16507, id="S03d"),
        pytest.param("30", "12", 17424, id="S03e"),
        pytest.param("30", "24", 8712, id="S03f"),
        pytest.param("30", "42", 4978, id="S03g"),
        pytest.param("3", "6", 348480, id="S03h"),
        pytest.param("3", "7", 298697, id="S03i"),
    ],
)
def test_published_stands(row: str, spacing: str, printed: int) -> None:
    """Plants an acre as printed; the tables may cut the fraction off."""
    assert float(plants_per_acre(row, spacing)) == pytest.approx(printed, abs=1)


@pytest.mark.source("trade convention: 80 000 kernels a unit of corn, 140 000 seeds a unit of soybean", "S10, S11")
@pytest.mark.parametrize(
    ("rate", "size", "acres", "units"),
    [
        pytest.param(34000, 80000, 160, 68.00, id="S10"),
        pytest.param(125000, 140000, 80, 71.429, id="S11"),
    ],
)
def test_units_of_seed(rate: int, size: int, acres: int, units: float) -> None:
    """A field takes the printed number of units."""
    of_unit = f"unit({size} seeds)"
    of = seed(min=f"0.1 {of_unit}/ac", max=f"9 {of_unit}/ac", step=f"0.001 {of_unit}/ac")
    amounts = dict(buying_amounts(float(rate * acres), of.unit, of, system="us"))
    assert amounts[of_unit] == pytest.approx(units, abs=5e-4)
    assert amounts["thousand seeds"] == pytest.approx(rate * acres / 1000)


@pytest.mark.source("general article on soybean units", "140 000 seeds at 2800 seeds/lb are 50 lb")
def test_weight_of_seed() -> None:
    """S12: 140 000 seeds an acre at 2800 seeds a pound are 50 lb an acre."""
    by_weight = seed(min="20 lb/ac", max="200 lb/ac", step="1 lb/ac", seeds_per="2800 /lb")
    assert 140000 * conversion_to_product(unit("seeds/ac"), by_weight).factor == 50
    by_count = seed(seeds_per="2800 seeds/lb")
    assert dict(buying_amounts(140000.0, by_count.unit, by_count, system="us"))["lb"] == pytest.approx(50)


@pytest.mark.source("regional agronomy note (2013)", "an 80 000-kernel unit of corn weighs 37.5 to 60 lb")
@pytest.mark.parametrize(("per_lb", "weight_lb"), [("1333", 60.0), ("2133", 37.5)])
def test_weight_of_a_unit(per_lb: str, weight_lb: float) -> None:
    """S13: 1333 to 2133 kernels a pound; the note rounds to half a pound."""
    of = seed(seeds_per=f"{per_lb} /lb")
    assert dict(buying_amounts(80000.0, of.unit, of, system="us"))["lb"] == pytest.approx(weight_lb, abs=0.05)
