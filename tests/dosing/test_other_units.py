"""Numbers that fit a product in another unit than the one they are read in."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from support_products import US, granular, product, seed, unit

from vrx.dosing.conversion import conversion_to_product
from vrx.dosing.other_units import Written, better_readings, readings
from vrx.model.product import Product
from vrx.units import Dialect, parse_unit

# NIST SP 811, appendix B: 1 gal/ac is 9.353956 L/ha, 1 lb/ac is 1.120851 kg/ha, an imperial gallon 1.200950 US ones.


def written(
    numbers: Any, of: Product, read_as: str, *, decimals: int, area: Any = None, dialect: Dialect = US
) -> Written:
    """Numbers as a map has them; what the product allows of them is worked out in the test, in plain fractions."""
    values = np.array(numbers, dtype=np.float64)
    area = np.ones(len(values)) if area is None else np.array(area, dtype=np.float64)
    unit_read = parse_unit(read_as, dialect)
    per = conversion_to_product(unit_read, of).factor
    rates = [Fraction(repr(float(one))) * per for one in values]
    allowed = np.array([of.number_of(rate) is not None for rate in rates])
    return Written(
        numbers=values,
        area_m2=area,
        decimals=decimals,
        unit=unit_read,
        per_step_unit=per,
        allowed=float(area[allowed].sum() / area.sum()),
    )


SPRAYER = product()  # 8 to 26 gal/ac in steps of 1
IMPERIAL = product(min="10 imp_gal/ac", max="16 imp_gal/ac", step="0.5 imp_gal/ac")
SPREADER = product(form="granular", min="60 lb/ac", max="180 lb/ac", step="10 lb/ac")
UREA = product(form="granular", min="100 lb/ac", max="300 lb/ac", step="5 lb/ac", analysis={"N": "50 %"})
SOLUTION = product(density="10.66 lb/gal", analysis={"N": "28 %"}, max="40 gal/ac")
SEED = seed()  # 20000 to 40000 seeds/ac in steps of 500


@pytest.mark.parametrize(
    ("numbers", "of", "read_as", "decimals", "first"),
    [
        pytest.param((112.2, 131, 149.7), SPRAYER, "gal/ac", 1, "L/ha", id="litres a hectare"),
        pytest.param((112.2,), SPRAYER, "gal/ac", 1, "L/ha", id="one rate, and a factor of 9"),
        pytest.param((112.2474, 130.9554), SPRAYER, "gal/ac", 4, "L/ha", id="with many digits"),
        pytest.param((14.41, 16.81), IMPERIAL, "imp_gal/ac", 2, "gal/ac", id="US gallons for imperial ones"),
        pytest.param((112.1, 168.1, 190.5), SPREADER, "lb/ac", 1, "kg/ha", id="kilograms a hectare"),
        pytest.param((60, 90, 110), UREA, "lb/ac", 0, "lb N/ac", id="nitrogen as product"),
        pytest.param((65, 70, 90), SOLUTION, "gal/ac", 0, "lb N/ac", id="nitrogen as solution, by limits"),
        pytest.param((30, 32.5, 28), SEED, "seeds/ac", 1, "thousand_seeds/ac", id="thousands of seeds"),
        pytest.param((12000, 14000), SPRAYER, "gal/ac", 0, "thousandths of gal/ac", id="thousandths"),
        pytest.param((112, 140), SPRAYER, "L/ha", 0, None, id="said to be in litres, and they are"),
    ],
)  # fmt: skip
def test_the_unit_that_numbers_fit(
    numbers: tuple[float, ...], of: Product, read_as: str, decimals: int, first: str | None
) -> None:
    """The plainest reading in which the product allows nearly all of the ground comes first."""
    map_numbers = written(numbers, of, read_as, decimals=decimals)
    if first is None:
        # As the map's own unit they are within half of its last digit of 12 and 15 gal/ac: the check knows that.
        map_numbers = Written(
            numbers=map_numbers.numbers,
            area_m2=map_numbers.area_m2,
            decimals=decimals,
            unit=map_numbers.unit,
            per_step_unit=map_numbers.per_step_unit,
            allowed=1.0,
        )
        assert better_readings(map_numbers, of, US) == ()
        return
    found = better_readings(map_numbers, of, US)
    assert found[0].name == first
    assert len(found) <= 3


def test_the_factor_is_the_one_of_the_tables() -> None:
    """Litres a hectare are gallons an acre over 9.353956 (NIST SP 811)."""
    (found,) = better_readings(written((112.2, 131), SPRAYER, "gal/ac", decimals=1), SPRAYER, US)
    assert 1 / float(found.factor) == pytest.approx(9.353956, rel=1e-6)


@pytest.mark.parametrize(
    ("numbers", "of", "read_as", "decimals"),
    [
        pytest.param((12, 14, 16), granular(min="20 kg/ha", analysis={"N": "27 %"}), "kg/ha", 0, id="honestly low"),
        pytest.param((10, 10, 15), granular(min="20 kg/ha", analysis={"N": "32 %"}), "kg/ha", 0, id="low, on steps"),
        pytest.param((14.4114,), IMPERIAL, "imp_gal/ac", 4, id="flat, and a factor of 1.2"),
        pytest.param((112.2, 131), product(max="200 gal/ac", min="1 gal/ac", step="0.1 gal/ac"), "gal/ac", 1,
                     id="limits so wide that all is allowed"),
        pytest.param((100, 140), product(min="1 gal/ac", max="300 gal/ac"), "gal/ac", 0,
                     id="allowed, as they would be as quarts"),
        pytest.param((12.3, 14.7, 13.1), SPRAYER, "gal/ac", 1, id="within limits, off steps"),
        pytest.param((30, 31), SPRAYER, "gal/ac", 0, id="a little above the limit"),
        pytest.param((100, 150, 200), SPREADER, "lb/ac", 0, id="above the limit, and no other unit fits"),
    ],
)  # fmt: skip
def test_near_misses(numbers: tuple[float, ...], of: Product, read_as: str, decimals: int) -> None:
    """What another unit does not explain, or explains by chance, is not suspected."""
    assert better_readings(written(numbers, of, read_as, decimals=decimals), of, US) == ()


def test_ground_counts_and_not_records() -> None:
    """One record of nearly all the ground is allowed as it is read: the rest is no reason to doubt the unit."""
    doubtful = written((112.2, 131, 12), SPRAYER, "gal/ac", decimals=1, area=(1, 1, 20))
    assert better_readings(doubtful, SPRAYER, US) == ()
    assert better_readings(written((112.2, 131, 12), SPRAYER, "gal/ac", decimals=1, area=(15, 15, 1)), SPRAYER, US)


def test_readings_are_named_as_people_do() -> None:
    """A US plan says gal/ac; elsewhere it says which gallon. Nutrients are those of the analysis alone."""
    assert readings(SPRAYER, US)[0].name == "gal/ac"
    assert readings(product(dialect=US), Dialect("metric"))[0].name == "us_gal/ac"
    names = {one.name for one in readings(UREA, US)}
    assert "lb N/ac" in names
    assert not any("P2O5" in name for name in names)
    assert unit("gal/ac") == SPRAYER.unit
